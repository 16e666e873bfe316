package listing_test

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
)

func demoLog(t *testing.T, change func(*control.LogSpec)) *listing.Control {
	t.Helper()
	log, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	developer, dilution := log.Developer()
	aim, _ := log.Aim()
	spec := control.LogSpec{Title: log.Title(), Film: log.Film(), Developer: developer, Dilution: dilution, Minutes: log.Minutes(),
		Aim: aim, AimStrips: log.AimStrips(), Tolerances: log.Tolerances(), Strips: log.Strips()}
	if change != nil {
		change(&spec)
	}
	log, err = control.NewLog(spec)
	require.NoError(t, err)
	return listing.NewControl(log)
}

// told returns kind and sentence of each task.
func told(tasks []listing.Task) [][2]string {
	out := [][2]string{}
	for _, t := range tasks {
		out = append(out, [2]string{string(t.Kind), answers.Task(t)})
	}
	return out
}

// The tasks of a notebook come the most urgent first, those of one kind by the newest file,
// whatever the order in which the files were read.
func TestToDo(t *testing.T) {
	main, _ := surveyed(t, "larkfield-brinewater", nil)
	few, _ := surveyed(t, "larkfield-ashlar", func(s *sensito.TrialSpec) {
		s.Title, s.Strips = "", s.Strips[:2]
		s.Strips[0].NextStep = 9
		copy(s.Strips[0].Density[8:], unread(13))
		s.Strips[1].BaseFog = nil
	})
	paper, _ := surveyed(t, "slate", func(s *sensito.TrialSpec) {
		s.Strips[2].Density = unread(31)
		s.Strips[3].Density[4] = sensito.Density(math.NaN())
		s.Strips[3].Density[6], s.Strips[3].Density[5] = s.Strips[3].Density[4], s.Strips[3].Density[4]
	})
	n := listing.NewNotebook([]listing.Entry{
		{File: "torn.toml", Err: errors.New("torn.toml: no bytes")},
		{File: "main.toml", Trial: main}, {File: "few.toml", Trial: few}, {File: "slate.toml", Trial: paper},
		{File: "tank.toml", Control: demoLog(t, nil)}, {File: "notes.txt"},
	})
	assert.Equal(t, [][2]string{
		{"process", "The tank of Brinewater has been out of control since 16 April (first signal 30 April): develop 23 % longer, or mix afresh."},
		{"questioned", "Larkfield 125 in Brinewater 1+19, strip of 8:00: read step 9 again: it reads 1.18 where the curve has 1.08."},
		{"unread", "Slate under filters 00 to 5, strip of grade 1: no step is read yet."},
		{"unread", "Slate under filters 00 to 5, strip of grade 2: steps 5 to 7 are not read."},
		{"unread", "few.toml, strip of 4:00: keying in stopped at step 9 of 21: go on there."},
		{"unread", "few.toml, strip of 5:15: base plus fog is not read."},
		{"unread", "Larkfield 125 in Brinewater 1+19, strip of 5:00: step 13 is not read (pinhole in step 13, not read)."},
		{"unreadable", "torn.toml cannot be read: torn.toml: no bytes."},
		{"strips", "few.toml: one more strip, for another time, checks its times."},
	}, told(n.ToDo()))
	var files []string
	for _, e := range n.Entries {
		files = append(files, e.File)
	}
	assert.Equal(t, []string{"tank.toml", "slate.toml", "few.toml", "main.toml", "torn.toml", "notes.txt"}, files, "undated ones last")
	assert.Equal(t, "main.toml", n.Entries[0].Control.By)
	assert.Equal(t, [][2]string{}, told(listing.NewNotebook(nil).ToDo()))
}

// What a change means is told by a trial of the same film and developer only.
func TestToDoProcess(t *testing.T) {
	main, _ := surveyed(t, "larkfield-brinewater", nil)
	const check = ": check the densitometer and develop a second control strip before any film."
	for _, c := range []struct {
		name   string
		change func(*control.LogSpec)
		want   string // "" for nothing to do
	}{
		{"another film", func(s *control.LogSpec) { s.Film = "Tern 400" }, "The tank of Brinewater has been out of control since 16 April (first signal 30 April)" + check},
		{"another dilution", func(s *control.LogSpec) { s.Dilution = "1+31" }, "The tank of Brinewater has been out of control since 16 April (first signal 30 April)" + check},
		{"the same in other letters", func(s *control.LogSpec) { s.Film, s.Developer, s.Dilution = "larkfield 125", "BRINEWATER", "2+38" },
			"The tank of BRINEWATER has been out of control since 16 April (first signal 30 April): develop 23 % longer, or mix afresh."},
		{"nothing said", func(s *control.LogSpec) { s.Film, s.Developer, s.Dilution = "", "", "" }, "The process of tank.toml has been out of control since 16 April (first signal 30 April)" + check},
		{"no time", func(s *control.LogSpec) { s.Minutes = 0 }, "The tank of Brinewater has been out of control since 16 April (first signal 30 April)" + check},
		{"in control", func(s *control.LogSpec) { s.Strips = s.Strips[:12] }, ""},
		{"denser", func(s *control.LogSpec) {
			for i := range s.Strips {
				if i > 15 {
					s.Strips[i].Low, s.Strips[i].High = 0.43, 1.33
				} else {
					s.Strips[i].Low, s.Strips[i].High = 0.39, 1.21
				}
			}
		}, "The tank of Brinewater has been out of control since 27 April (signalled the same day): develop 12 % shorter, or find what makes it quicker."},
		{"two strips that do not agree", func(s *control.LogSpec) {
			s.Strips = s.Strips[:12]
			s.Strips[5].High, s.Strips[6].High = 1.13, 1.29
		}, "The tank of Brinewater signalled on 19 March, and no lasting change is proven" + check},
	} {
		t.Run(c.name, func(t *testing.T) {
			tasks := listing.NewNotebook([]listing.Entry{{File: "main.toml", Trial: main}, {File: "tank.toml", Control: demoLog(t, c.change)}}).ToDo()
			if c.want == "" {
				assert.NotEqual(t, listing.TaskProcess, tasks[0].Kind)
				return
			}
			assert.Equal(t, c.want, answers.Task(tasks[0]))
		})
	}
}

// A trial is as old as its newest strip, whatever its log says; without dated strips it is
// as old as the newest development in the log.
func TestDates(t *testing.T) {
	log := []sensito.Done{{Date: "2026-05-02", Minutes: 6}, {Date: "2026-02-01", Minutes: 6}}
	s, _ := surveyed(t, "larkfield-brinewater", func(s *sensito.TrialSpec) { s.Done = log })
	assert.Equal(t, []string{"2026-03-03", "2026-02-01", "2026-05-02"}, []string{s.Newest, s.First, s.Last})
	assert.Equal(t, [2]string{"2026-03-02", "2026-03-03"}, s.Developed, "of strips alone")
	undate := func(s *sensito.TrialSpec) {
		for i := range s.Strips {
			s.Strips[i].Date = ""
		}
	}
	s, _ = surveyed(t, "larkfield-brinewater", func(s *sensito.TrialSpec) { undate(s); s.Done = log })
	assert.Equal(t, []string{"2026-05-02", "2026-02-01", "2026-05-02"}, []string{s.Newest, s.First, s.Last})
	assert.Equal(t, [2]string{}, s.Developed, "films of the log are no strips")
	s, _ = surveyed(t, "larkfield-brinewater", undate)
	assert.Equal(t, []string{"", "", ""}, []string{s.Newest, s.First, s.Last})
}

// Each strip names the steps that are not read, set aside and questioned.
func TestStrips(t *testing.T) {
	s, _ := surveyed(t, "larkfield-brinewater", func(s *sensito.TrialSpec) { s.Strips[0].Ignore = []int{2} })
	assert.Equal(t, []int{2}, s.Strips[0].Ignored)
	assert.Equal(t, []int{13}, s.Strips[1].Unread)
	assert.Empty(t, s.Strips[0].Unread)
	require.Len(t, s.Strips[3].Questioned, 1)
	assert.Equal(t, 9, s.Strips[3].Questioned[0].Step)
	s, _ = surveyed(t, "tern-ashlar", nil)
	assert.Equal(t, []int{31}, s.Strips[3].Ignored, "as the file says")
	assert.Empty(t, s.Strips[3].Unread)
}
