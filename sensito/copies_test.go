package sensito_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// The strips of a trial written down twice say what they said once, to the last
// digit: no interval becomes narrower, and every copy is told.
func TestCopiesCountOnce(t *testing.T) {
	once := simulated.ModelTrial(t, 4, 5.5, 7, 9, 12).Spec()
	twice := once
	twice.Strips = append(append([]sensito.StripSpec{}, once.Strips...), once.Strips...)
	scene := func(spec sensito.TrialSpec) (*development.Family, *scene.Answer) {
		f := blind.FamilyOf(t, spec)
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		return f, p
	}
	want, planned := scene(once)
	got, again := scene(twice)
	lo, hi := planned.Minutes.Interval(0.95)
	low, high := again.Minutes.Interval(0.95)
	assert.Equal(t, []sensito.Minutes{planned.Minutes.Value, lo, hi}, []sensito.Minutes{again.Minutes.Value, low, high})
	assert.Equal(t, planned.ExposureIndex.StdErr, again.ExposureIndex.StdErr)
	assert.Equal(t, want.Rate, got.Rate)
	require.Len(t, got.Strips, 5)
	assert.Contains(t, blind.MessageOf(got.Warnings, "strip_copied"), "strip 6 is left out: it has the readings, exposure and development of strip 1")
	assert.Empty(t, blind.MessageOf(want.Warnings, "strip_copied"))
}

// A strip that measures what another dilution does measures it once.
func TestCopiesOfOtherConditionsCountOnce(t *testing.T) {
	spec := simulated.ModelTrial(t, 4, 5.5, 7, 9, 12).Spec()
	spec.Process.Dilution = "1+4"
	other := simulated.ModelTrial(t, 6, 8).Spec().Strips[1]
	other.Process.Dilution = "1+9"
	factor := func(n int) sensito.Estimate[float64] {
		spec := spec
		for range n {
			spec.Strips = append(append([]sensito.StripSpec{}, spec.Strips...), other)
		}
		all := blind.FamilyOf(t, spec).Factors()
		require.Len(t, all, 1)
		return all[0].Factor
	}
	once, twice := factor(1), factor(2)
	assert.Equal(t, once.StdErr, twice.StdErr)
	assert.Equal(t, once.Value, twice.Value)
}

// Repeated readings of a copy do not make the densitometer look surer.
func TestCopiesOfRepeatsCountOnce(t *testing.T) {
	spec := simulated.ModelTrial(t, 5, 8).Spec()
	spec.Strips[0].Repeats = map[int][]sensito.Density{3: {1.10, 1.13}, 9: {0.80, 0.84}}
	once, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	spec.Strips = append(spec.Strips, spec.Strips[0])
	twice, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	assert.Equal(t, once.Repeatability(), twice.Repeatability())
	assert.Equal(t, 1, twice.Strips()[2].CopyOf())
}

// What tells one piece of film from another.
func TestCopyOf(t *testing.T) {
	first := simulated.ModelTrial(t, 5).Spec()
	first.Strips[0].Density[7] = sensito.Density(math.NaN())
	unread := make([]sensito.Density, len(first.Strips[0].Density))
	for i := range unread {
		unread[i] = sensito.Density(math.NaN())
	}
	for i, c := range []struct {
		change func(*sensito.StripSpec)
		copied bool
	}{
		{func(*sensito.StripSpec) {}, true},
		{func(s *sensito.StripSpec) { s.Note = "the second import" }, true},
		{func(s *sensito.StripSpec) { s.Date = "2026-03-01" }, true},
		{func(s *sensito.StripSpec) { s.Ignore = []int{2} }, true},
		{func(s *sensito.StripSpec) { s.Seconds = first.Exposures.Seconds() }, true}, // as the trial says
		{func(s *sensito.StripSpec) { s.Density[3] += 1e-12 }, true},
		{func(s *sensito.StripSpec) { s.Density[3] += 0.01 }, false},
		{func(s *sensito.StripSpec) { s.Density[7] = 0.5 }, false},
		{func(s *sensito.StripSpec) { s.BaseFog = nil }, false},
		{func(s *sensito.StripSpec) { s.Minutes = 5.1 }, false},
		{func(s *sensito.StripSpec) { s.Seconds = 8 }, false},
		{func(s *sensito.StripSpec) { s.IlluminanceLx = 0.1 }, false},
		{func(s *sensito.StripSpec) { s.Process.TemperatureC = 24 }, false},
		{func(s *sensito.StripSpec) { s.Process.Dilution = "1+9" }, false},
	} {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			spec := first
			second := first.Strips[0]
			second.Density = append([]sensito.Density{}, second.Density...)
			c.change(&second)
			spec.Strips = []sensito.StripSpec{first.Strips[0], second, {Minutes: 5, Density: unread}, {Minutes: 5, Density: unread}}
			trial, err := sensito.NewTrial(spec)
			require.NoError(t, err)
			want := 0
			if c.copied {
				want = 1
			}
			for i, want := range []int{0, want, 0, 0} { // strips of which nothing was read are no copies
				assert.Equal(t, want, trial.Strips()[i].CopyOf())
			}
		})
	}

	// Two pieces that read alike to the last digit are told apart by their notes
	// or dates.
	for _, told := range [][2]sensito.StripSpec{{{Note: "a"}, {Note: "b"}}, {{Date: "2026-03-01"}, {Date: "2026-03-02"}}} {
		spec := first
		spec.Strips = nil
		for _, s := range told {
			s.Minutes, s.Density, s.BaseFog = 5, first.Strips[0].Density, first.Strips[0].BaseFog
			spec.Strips = append(spec.Strips, s)
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		assert.Zero(t, trial.Strips()[1].CopyOf())
	}
}
