package logbook_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/logbook"
	"sensito/sensito/notebook"
)

// demo returns a trial of the demo with developments logged.
func demo(t *testing.T, name string, done ...sensito.Done) logbook.Entry {
	t.Helper()
	trial, err := notebook.ReadFile("../../cmd/sensito/demo/" + name + ".toml")
	require.NoError(t, err)
	spec := trial.Spec()
	spec.Done = done
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	return logbook.Entry{File: name + ".toml", Trial: trial}
}

// undated returns a trial whose strips do not say when they were developed.
func undated(t *testing.T, e logbook.Entry) logbook.Entry {
	t.Helper()
	spec := e.Trial.Spec()
	for i := range spec.Strips {
		spec.Strips[i].Date = ""
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return logbook.Entry{File: e.File, Trial: trial}
}

func books(t *testing.T) *logbook.Log {
	control, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	return logbook.New([]logbook.Entry{
		demo(t, "larkfield-ashlar"),
		demo(t, "larkfield-brinewater",
			sensito.Done{Date: "2026-02-01", Minutes: 6, TemperatureC: 20.5, EndedC: 21.1, Index: 80, For: "a scene of 7 stops (N)"},
			sensito.Done{Date: "2026-05-21", Minutes: 6.5, Planned: 6, PlannedC: 22},
			sensito.Done{Date: "2026-05-21", Minutes: 7, EndedC: 19, Note: "second\ndrum"},
			sensito.Done{Date: "2026-01-02", Minutes: 14, Dilution: "1+39", Agitation: sensito.AgitationNone}),
		undated(t, demo(t, "tern-ashlar")),
	}, []logbook.Control{{File: "control.toml", Log: control}})
}

// dates tells developments by date and time.
func dates(ds []logbook.Development) (out []string) {
	for _, d := range ds {
		out = append(out, d.Date+" "+d.Minutes.Clock(1))
	}
	return out
}

func TestNewestFirst(t *testing.T) {
	l := books(t)
	assert.Equal(t, []string{"2026-05-21 7:00", "2026-05-21 6:30", "2026-03-16 12:00", "2026-03-16 9:15", "2026-03-16 7:00", "2026-03-16 5:15", "2026-03-16 4:00",
		"2026-03-03 10:00", "2026-03-03 8:00", "2026-03-02 6:20", "2026-03-02 5:00", "2026-03-02 4:00", "2026-02-01 6:00", "2026-01-02 14:00"}, dates(l.Developments))
	assert.Len(t, l.Undated, 4)
	assert.Equal(t, "Tern 400 in Ashlar 1+31", l.Undated[0].String())
	groups := l.Groups()
	require.Len(t, groups, 3)
	assert.Equal(t, "Larkfield 125 in Brinewater 1+19", groups[0].String())
	assert.Equal(t, "Larkfield 125 in Ashlar 1+9", groups[1].String())
	assert.Equal(t, []string{"2026-01-02 14:00"}, dates(groups[2].Developments))
	assert.Equal(t, "Larkfield 125 in Brinewater 1+39", groups[2].String())
	assert.Equal(t, 22.0, l.Developments[1].Process.TemperatureC, "as planned")
	assert.Equal(t, 20.0, l.Developments[0].Process.TemperatureC, "as in the trial")
}

// Films come before test strips that are newer, and strips of a day are told together.
func TestLatest(t *testing.T) {
	var said []string
	for _, d := range books(t).Latest() {
		said = append(said, d.Pair().String()+": "+d.String())
	}
	assert.Equal(t, []string{
		"Larkfield 125 in Brinewater 1+19: 2026-05-21, 7:00, 19 °C at the end",
		"Larkfield 125 in Ashlar 1+9: 2026-03-16, 5 test strips, 4:00 to 12:00 at 20 °C",
		"Larkfield 125 in Brinewater 1+39: 2026-01-02, 14:00, 20 °C meant",
	}, said)
	old := logbook.New([]logbook.Entry{demo(t, "larkfield-brinewater", sensito.Done{Date: "2026-02-01", Minutes: 6, Planned: 5, TemperatureC: 20.5, EndedC: 21.1, Index: 80})}, nil)
	require.Len(t, old.Latest(), 1)
	assert.Equal(t, "2026-02-01, 6:00 (planned 5:00) at 20.5 to 21.1 °C, EI 80", old.Latest()[0].String())
	strips := logbook.New([]logbook.Entry{demo(t, "larkfield-brinewater")}, nil)
	assert.Equal(t, "2026-03-03, 2 test strips, 8:00 to 10:00 at 20 °C", strips.Latest()[0].String())
	assert.Empty(t, logbook.New(nil, nil).Latest())
}

// The last time beside an answer is that of films in the same developer and dilution.
func TestLastTime(t *testing.T) {
	e := demo(t, "larkfield-brinewater",
		sensito.Done{Date: "2026-02-01", Minutes: 6, TemperatureC: 20.5, For: "a scene of 7 stops (N)"},
		sensito.Done{Date: "2026-01-02", Minutes: 14, Dilution: "1+39"})
	p := e.Trial.Process()
	p.TemperatureC, p.Agitation = 24, sensito.AgitationNone
	require.NotNil(t, logbook.LastTime(e.Trial, p))
	assert.Equal(t, "Last time with this film and developer: 2026-02-01, 6:00 at 20.5 °C, for a scene of 7 stops (N).", logbook.LastTime(e.Trial, p).Sentence())
	p.Dilution = "1+39"
	assert.Equal(t, "2026-01-02", logbook.LastTime(e.Trial, p).Date)
	p.Dilution = "1+9"
	assert.Nil(t, logbook.LastTime(e.Trial, p))
	assert.Nil(t, logbook.LastTime(demo(t, "larkfield-ashlar").Trial, demo(t, "larkfield-ashlar").Trial.Process()), "of strips alone")
}

func TestSelect(t *testing.T) {
	l := books(t)
	for _, c := range []struct {
		query logbook.Query
		want  []string
	}{
		{logbook.Query{Developer: "ASHLAR"}, []string{"2026-03-16 12:00", "2026-03-16 9:15", "2026-03-16 7:00", "2026-03-16 5:15", "2026-03-16 4:00"}},
		{logbook.Query{Film: "larkfield", Developer: "brinewater 1+19", Last: 3}, []string{"2026-05-21 7:00", "2026-05-21 6:30", "2026-03-03 10:00"}},
		{logbook.Query{Last: 1}, []string{"2026-05-21 7:00", "2026-03-16 12:00", "2026-01-02 14:00"}},
	} {
		got, err := l.Select(c.query)
		require.NoError(t, err)
		assert.Equal(t, c.want, dates(got.Developments))
		assert.Equal(t, c.query.Film == "" && c.query.Developer == "", len(got.Controls) == 1, "control strips name no film")
	}
	tern, err := l.Select(logbook.Query{Developer: "ashlar"})
	require.NoError(t, err)
	assert.Len(t, tern.Undated, 4)
	lark, err := l.Select(logbook.Query{Film: "larkfield"})
	require.NoError(t, err)
	assert.Empty(t, lark.Undated)

	for query, want := range map[logbook.Query]string{
		{Film: "Tern"}:                      "no development of Tern is in the log",
		{Developer: "Slate"}:                "no development of any film in Slate is in the log",
		{Film: "Larkfield", Developer: "x"}: "no development of Larkfield in x is in the log",
	} {
		got, err := l.Select(query)
		assert.Nil(t, got)
		assert.EqualError(t, err, want)
		var u *sensito.Unanswerable
		require.ErrorAs(t, err, &u)
		assert.Equal(t, "it has Larkfield 125 in Brinewater 1+19; Larkfield 125 in Ashlar 1+9; Larkfield 125 in Brinewater 1+39", u.Hint)
	}
	empty, err := logbook.New(nil, nil).Select(logbook.Query{Film: "Tern"})
	require.NoError(t, err, "nothing is recorded, which is another thing to say")
	assert.Empty(t, empty.Developments)
}

func TestWhat(t *testing.T) {
	l := books(t)
	films, err := sensito.ParseFilms("6x 4x5in")
	require.NoError(t, err)
	d := l.Developments[12]
	d.Films = films
	assert.Equal(t, "6x 4x5in; batch 0417; EI 80; for a scene of 7 stops (N)", d.What(true))
	assert.Equal(t, "second drum", l.Developments[0].What(false))
	assert.Equal(t, "strip 5 of larkfield-ashlar.toml", l.Developments[2].What(false))
	assert.Equal(t, "no agitation", l.Developments[13].What(false))
	d.Process.TemperatureC, d.TemperatureC, d.EndedC = 0, 0, 0
	assert.Empty(t, d.Temperature())
}

// A strip that was written down twice was developed once.
func TestCopiesCountOnce(t *testing.T) {
	e := demo(t, "larkfield-brinewater")
	spec := e.Trial.Spec()
	spec.Strips = append(spec.Strips, spec.Strips[0])
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	require.Len(t, trial.Strips(), 6)
	assert.Len(t, logbook.New([]logbook.Entry{{File: e.File, Trial: trial}}, nil).Developments, 5)
}
