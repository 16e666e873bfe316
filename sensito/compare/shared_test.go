package compare_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// grown is a family in a developer, whose film grows at a rate.
func grown(t *testing.T, title string, p sensito.Process, rate float64) *development.Family {
	e, at := simulated.WedgeOf(t, 0, 0), simulated.Growing(-2, rate, 0.10)
	spec := sensito.TrialSpec{Title: title, Film: sensito.Film{Name: "Larkfield 125"}, Process: p, Exposures: e}
	for _, m := range simulated.FiveTimes {
		s := sensito.StripSpec{Minutes: sensito.Minutes(m), Process: p, BaseFog: []sensito.Density{0.10}}
		for _, h := range e.LogH() {
			s.Density = append(s.Density, sensito.Density(at(m).Density(float64(h))))
		}
		spec.Strips = append(spec.Strips, s)
	}
	return blind.FamilyOf(t, spec)
}

// What today's conditions do to the times of one developer, where no strip
// measured it, is an error of both alike: the ratio of the times is known as well
// as without. That of two developers is not.
func TestTimesOfOneDeveloperShareWhatIsAssumed(t *testing.T) {
	p := sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20, Agitation: sensito.AgitationIntermittent}
	other := p
	other.Developer = "Ashlar"
	one, two, three := grown(t, "one", p, 0.12), grown(t, "two", p, 0.115), grown(t, "three", other, 0.115)
	compared := func(f *development.Family, c development.Conditions) (*compare.Comparison, compare.Difference) {
		got, err := compare.Compare([]*development.Family{one, f}, compare.Options{Scene: scene.Scene{Today: scene.Today{Conditions: c}}})
		require.NoError(t, err)
		return got, differenceOf(t, got, compare.DiffMinutes)
	}
	_, tested := compared(two, development.Conditions{})
	require.Greater(t, tested.P, 0.001)
	require.Less(t, tested.P, 0.9)
	for name, c := range map[string]development.Conditions{
		"temperature": {TemperatureC: new(24.0)},
		"drift":       {TemperatureC: new(23.0), EndC: new(21.0)},
		"your own":    {TemperatureC: new(24.0), Q10: new(1.8), Q10SD: new(0.3)},
		"agitation":   {Agitation: sensito.AgitationContinuous},
		"dilution":    {Dilution: "1+31"},
		"all of them": {TemperatureC: new(22.0), Agitation: sensito.AgitationContinuous, Dilution: "1+31"},
	} {
		got, today := compared(two, c)
		assert.InEpsilon(t, tested.P, today.P, 0.01, name) // by the degrees of freedom, which are joined
		a, b := got.Trials[0].Answer, got.Trials[1].Answer
		factor := float64(a.Minutes.Value / a.AsTested.Minutes.Value)
		assert.InEpsilon(t, factor*tested.Value.Value, today.Value.Value, 1e-6, name)
		assert.InEpsilon(t, factor*tested.Value.StdErr, today.Value.StdErr, 0.1, name)
		assert.Less(t, today.Value.StdErr, 0.99*math.Hypot(float64(a.Minutes.StdErr), float64(b.Minutes.StdErr)), name)
		assert.Contains(t, blind.Codes(got.Warnings), "shared_change", name)

		got, today = compared(three, c)
		assert.Greater(t, today.P, 1.01*tested.P, name)
		assert.NotContains(t, blind.Codes(got.Warnings), "shared_change", name)
	}

	// The same done to trials at different temperatures is of one error too, but
	// does not cancel.
	warm := p
	warm.TemperatureC = 22
	_, today := compared(grown(t, "warm", warm, 0.12), development.Conditions{TemperatureC: new(24.0)})
	again, _ := compared(two, development.Conditions{TemperatureC: new(24.0)})
	assert.Greater(t, today.Value.StdErr, 0.3*float64(again.Trials[0].Minutes.StdErr))
}

// What strips of a trial measured is that trial's own error.
func TestMeasuredChangesAreNotShared(t *testing.T) {
	p := sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20, Agitation: sensito.AgitationIntermittent}
	one, two := grown(t, "one", p, 0.12), grown(t, "two", p, 0.115)
	c := development.Conditions{TemperatureC: new(24.0), Agitation: sensito.AgitationContinuous}
	under := func(f *development.Family) *development.Change {
		ch, err := f.Under(c)
		require.NoError(t, err)
		return ch
	}
	a, b := under(one), under(two)
	require.Len(t, a.Shared(b), 2)
	assert.Empty(t, a.Shared(nil))
	b.Coefficient.Measured = true
	assert.Len(t, a.Shared(b), 1)
	b.Agitation.Measured = true
	assert.Empty(t, a.Shared(b))
	stated := under(two)
	stated.Coefficient.Q10.Value = 1.9
	assert.Len(t, stated.Shared(a), 1, "another coefficient is of another error")
}

// That a time is short, and what would take longer, is told where the times are
// those of today, both or neither; a comparison under the conditions of the trials
// is of the films.
func TestShortTimesAreToldOfToday(t *testing.T) {
	p := sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20, Agitation: sensito.AgitationIntermittent}
	quick, slow := grown(t, "quick", p, 0.24), grown(t, "slow", p, 0.08)
	for today, want := range map[development.Conditions][]string{{}: nil, {TemperatureC: new(24.0)}: {"short_time", "longer_time"}} {
		c, err := compare.Compare([]*development.Family{quick, slow}, compare.Options{Scene: scene.Scene{Today: scene.Today{Conditions: today}}})
		require.NoError(t, err)
		require.Less(t, c.Trials[0].Minutes.Value, sensito.Minutes(5))
		require.Greater(t, c.Trials[1].Minutes.Value, sensito.Minutes(5))
		var told []string
		for _, code := range blind.Codes(c.Trials[0].Warnings) {
			if code == "short_time" || code == "longer_time" {
				told = append(told, code)
			}
		}
		assert.Equal(t, want, told)
		assert.NotContains(t, blind.Codes(c.Trials[1].Warnings), "short_time")
	}
}
