package answers_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/curve"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
)

const demo = "../../cmd/sensito/demo"

func entry(t *testing.T, name string, change func(*sensito.TrialSpec)) string {
	t.Helper()
	trial, err := notebook.ReadFile(filepath.Join(demo, name))
	require.NoError(t, err)
	spec := trial.Spec()
	if change != nil {
		change(&spec)
	}
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	return answers.Entry(listing.Entry{File: name, Trial: listing.New(trial, curve.MeasureOptions{})})
}

// What a file comes to is one sentence a matter.
func TestEntry(t *testing.T) {
	const main = "larkfield-brinewater.toml"
	assert.Equal(t, "Seven stops: 5:55 at 80. ISO 125/22° at 7:00. Five strips, 4:00 to 10:00; one reading questioned, one step not read.", entry(t, main, nil))
	assert.Equal(t, "Speed 128 at 5:00. One strip, 5:00; one step not read.", entry(t, main, func(s *sensito.TrialSpec) { s.Strips = s.Strips[1:2] }))
	assert.Equal(t, "Seven stops: 5:55. Five strips, 4:00 to 10:00; one reading questioned, one step not read.", entry(t, main, func(s *sensito.TrialSpec) {
		e, err := sensito.NewRelative(s.Exposures.LogH())
		require.NoError(t, err)
		s.Exposures = e
	}))
	assert.Equal(t, "ISO range R 170. One strip.", entry(t, "foxglove.toml", nil))
	assert.Equal(t, "Range 1.67 log H. One strip.", entry(t, "foxglove.toml", func(s *sensito.TrialSpec) {
		s.Calibrations = []sensito.Calibration{{Name: "grey scale", Repeatability: 0.01}}
		s.Strips[0].Calibration = "grey scale"
	}))
	assert.Equal(t, "ISO range 00: R 180, 5: R 40. Two strips.", entry(t, "slate.toml", func(s *sensito.TrialSpec) { s.Strips = append(s.Strips[:1:1], s.Strips[6]) }))

	log, err := notebook.ReadControlFile(filepath.Join(demo, "control.toml"))
	require.NoError(t, err)
	assert.Equal(t, "28 control strips since 2 March 2026. Out of control since 16 April (first signal 30 April): contrast began to fall.",
		answers.Entry(listing.Entry{Control: listing.NewControl(log)}))
	frames, err := notebook.ReadRollFile(filepath.Join(demo, "harbour.csv"))
	require.NoError(t, err)
	assert.Equal(t, "A roll of six scenes, 5.5 to 8.5 stops.", answers.Entry(listing.Entry{Roll: frames}))
	steps, err := notebook.ReadProcedureFile(filepath.Join(demo, "stand.toml"))
	require.NoError(t, err)
	assert.Equal(t, "Film by hand, standing. A procedure of six steps.", answers.Entry(listing.Entry{Procedure: steps}))
	assert.Equal(t, "Bed 2026-11. A calibration of pictures, which reads to a density of 2.60.", answers.Entry(listing.Entry{Tablet: &listing.Tablet{Name: "Bed 2026-11", Steps: 21, ReadsTo: 2.6}}))
	assert.Equal(t, "A tablet of 21 steps.", answers.Entry(listing.Entry{Tablet: &listing.Tablet{Steps: 21}}))
	assert.Empty(t, answers.Entry(listing.Entry{File: "notes.txt"}))

	assert.Equal(t, "4 June 2026", answers.DateOf("2026-06-04"))
	assert.Equal(t, "undated", answers.DateOf(""))
}

// Strips of one time give a time already, which more make sure.
func TestTaskOfFewStrips(t *testing.T) {
	for more, want := range map[int]string{
		1: "few.toml: one more strip, for another time, checks its times.",
		2: "few.toml: two more strips, each for another time, make its times sure.",
		3: "few.toml: three more strips, each for another time, give times.",
	} {
		e := listing.Entry{File: "few.toml", Trial: &listing.Trial{Trial: &sensito.Trial{}}}
		assert.Equal(t, want, answers.Task(listing.Task{Kind: listing.TaskStrips, Entry: e, More: more}))
	}
}
