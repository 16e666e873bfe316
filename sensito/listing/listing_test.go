package listing_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// surveyed returns the survey of a trial of the demo as change leaves it, and the
// codes of what is missing.
func surveyed(t *testing.T, name string, change func(*sensito.TrialSpec)) (*listing.Trial, []string) {
	t.Helper()
	trial, err := notebook.ReadFile("../../cmd/sensito/demo/" + name + ".toml")
	require.NoError(t, err)
	spec := trial.Spec()
	if change != nil {
		change(&spec)
	}
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	s := listing.New(trial, curve.MeasureOptions{})
	codes := []string{}
	for _, m := range s.Missing {
		codes = append(codes, m.Code)
		assert.NotEmpty(t, m.Message())
	}
	return s, codes
}

func unread(n int) []sensito.Density {
	return slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, n)
}

// The headline numbers are those of the family and of its answer.
func TestListingNumbers(t *testing.T) {
	s, missing := surveyed(t, "larkfield-brinewater", nil)
	assert.Empty(t, missing)
	f, err := development.NewFamily(s.Trial, curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.True(t, s.ISO)
	assert.Equal(t, f.ISOSpeed.Value, s.Speed.Value)
	assert.Equal(t, f.ISOMinutes.Value, s.SpeedMinutes)
	assert.Equal(t, p.Minutes.Value, s.Normal.Value)
	assert.Equal(t, p.Minutes.StdErr, s.Normal.StdErr)
	assert.Equal(t, development.QuantityContrastIndex, s.Quantity)
	assert.Equal(t, f.Strips[0].ContrastIndex.Value, s.LeastContrast.Value)
	assert.Equal(t, f.Strips[len(f.Strips)-1].ContrastIndex.Value, s.MostContrast.Value)
	assert.Nil(t, s.Paper)

	s, missing = surveyed(t, "slate", nil)
	assert.Empty(t, missing)
	assert.Len(t, s.Paper, 7)
	assert.Nil(t, s.Normal)
}

func TestListingMissing(t *testing.T) {
	for _, c := range []struct {
		name    string
		change  func(*sensito.TrialSpec)
		want    []string
		message string // of the first
	}{
		{"interrupted", func(s *sensito.TrialSpec) {
			s.Strips[2].NextStep = 9
			copy(s.Strips[2].Density[8:], unread(13))
		}, []string{"strip_unfinished"}, "strip 3 stops at step 9 of 21"},
		{"interrupted before the first", func(s *sensito.TrialSpec) {
			s.Strips[4].NextStep, s.Strips[4].Density, s.Strips[4].BaseFog = 1, unread(21), nil
		}, []string{"strip_unfinished"}, "strip 5 stops at step 1 of 21"},
		{"not begun", func(s *sensito.TrialSpec) { s.Strips[0].Density, s.Strips[3].Density = unread(21), unread(21) },
			[]string{"strip_unread"}, "no step read yet: strips 1, 4"},
		{"nothing read", func(s *sensito.TrialSpec) {
			for i := range s.Strips {
				s.Strips[i].Density = unread(21)
			}
		}, []string{"strip_unread"}, "no step read yet: all strips"},
		{"without base", func(s *sensito.TrialSpec) { s.Strips[1].BaseFog = nil },
			[]string{"base_fog_unread"}, "base plus fog not read: strip 2"},
		{"one strip", func(s *sensito.TrialSpec) { s.Strips = s.Strips[:1] },
			[]string{"one_time"}, "one development time only, so no rate: develop a strip for another"},
		{"one time", func(s *sensito.TrialSpec) { s.Strips[1].Minutes, s.Strips = s.Strips[0].Minutes, s.Strips[:2] },
			[]string{"one_time"}, "one development time only, so no rate: develop a strip for another"},
		{"few readings", func(s *sensito.TrialSpec) { s.Strips[1].Density = append(s.Strips[1].Density[:4], unread(17)...) },
			[]string{"no_curve"}, "strip 2 has 4 usable readings; a curve needs 6"},
		{"relative", func(s *sensito.TrialSpec) {
			e, err := sensito.NewRelative(s.Exposures.LogH())
			require.NoError(t, err)
			s.Exposures = e
		}, []string{"relative_exposure"}, "exposures are relative, so no speed"},
		{"process", func(s *sensito.TrialSpec) { s.Process = sensito.Process{} },
			[]string{"process_unstated"}, "not stated: developer and temperature"},
		{"short", func(s *sensito.TrialSpec) {
			e, err := sensito.NewContact(s.Exposures.IlluminanceLx(), float64(s.Exposures.Seconds()), s.Exposures.Wedge()[:7])
			require.NoError(t, err)
			s.Exposures = e
			for i := range s.Strips {
				s.Strips[i].Density = s.Strips[i].Density[:7]
				s.Strips[i].Ignore = nil
			}
		}, []string{"wedge_too_short", "wedge_too_short"}, "exposures too short for a speed point: all strips"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, missing := surveyed(t, "larkfield-brinewater", c.change)
			assert.Equal(t, c.want, missing)
			assert.Equal(t, c.message, s.Missing[0].Message())
		})
	}

	s, missing := surveyed(t, "larkfield-brinewater", func(s *sensito.TrialSpec) { s.Strips = s.Strips[1:2] })
	assert.Equal(t, []string{"one_time"}, missing)
	assert.False(t, s.ISO)
	assert.Equal(t, sensito.Minutes(5), s.SpeedMinutes, "of the only strip")
	assert.NotNil(t, s.Speed)
	assert.Nil(t, s.Normal)

	s, missing = surveyed(t, "slate", func(s *sensito.TrialSpec) {
		unread := func(strip, from, to int) { // steps, the densest first
			for i := from; i < to; i++ {
				s.Strips[strip].Density[i] = sensito.Density(math.NaN())
			}
		}
		unread(0, 12, 31)
		s.Strips[1].NextStep = 4
		unread(2, 0, 11)
		unread(3, 0, 12)
		unread(3, 20, 31)
	})
	assert.ElementsMatch(t, []string{"strip_unfinished", "white_not_reached", "black_not_reached", "wedge_too_short"}, missing)
	assert.Less(t, len(s.Paper), 8)
}

func TestControl(t *testing.T) {
	log, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	s := listing.NewControl(log)
	require.NotNil(t, s.Control)
	assert.Empty(t, s.Missing)
	assert.NotNil(t, s.Control.First)
	log, err = control.NewLog(control.LogSpec{Strips: log.Strips()[:3]})
	require.NoError(t, err)
	s = listing.NewControl(log)
	assert.Nil(t, s.Control)
	require.Len(t, s.Missing, 1)
	assert.Equal(t, "baseline_too_short", s.Missing[0].Code)
	assert.Contains(t, s.Missing[0].Message(), "develop 5 more")
}
