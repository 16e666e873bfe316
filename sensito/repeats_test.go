package sensito_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// repeated returns a straight strip of which some steps were read more than
// once.
func repeated(t *testing.T, repeats map[int]densities) *sensito.Trial {
	t.Helper()
	wedge := sensito.EvenWedge(0.05, 0.15, 21)
	e, err := sensito.NewContact(2, 0.5, wedge)
	require.NoError(t, err)
	density := make(densities, len(wedge))
	for i := range density {
		density[i] = sensito.Density(0.1 + 0.6*0.15*math.Log1p(math.Exp((2.2-float64(wedge[i]))/0.15)))
	}
	for i := range repeats {
		density[i-1] = sensito.Density(math.NaN())
	}
	trial, err := sensito.NewTrial(sensito.TrialSpec{
		Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e,
		Strips: []sensito.StripSpec{{Minutes: 6, Density: density, Repeats: repeats}},
	})
	require.NoError(t, err)
	return trial
}

func TestRepeatsJoinTheRepeatability(t *testing.T) {
	assert.Equal(t, sensito.DefaultRepeatability, repeated(t, nil).Repeatability())

	// Ten readings of 0.01 stated and two pairs 0.02 apart, each with a sum of
	// squares of 2 * 0.01^2 and one degree of freedom: sqrt((10 + 4) / 12).
	trial := repeated(t, map[int]densities{5: {1.20, 1.22}, 6: {1.10, 1.12}})
	assert.InDelta(t, 0.01*math.Sqrt(14.0/12), float64(trial.Repeatability()), 1e-12)
	steps := trial.Strips()[0].Steps()
	assert.InDelta(t, 1.21, float64(steps[4].Density), 1e-12)
	assert.True(t, steps[4].Read())
}

func TestRepeatsFarApartAreTold(t *testing.T) {
	// Step 5 has a wedge density of 0.65, so a density of 0.1 + 0.6 * 1.55 = 1.03.
	trial := repeated(t, map[int]densities{5: {1.03, 1.33}})
	assert.Equal(t, sensito.DefaultRepeatability, trial.Repeatability(), "a slip says nothing of the densitometer")
	m, err := curve.Measure(trial.Strips()[0], curve.MeasureOptions{})
	require.NoError(t, err)
	codes := map[string]string{}
	for _, w := range m.Fit.Warnings {
		codes[w.Code] = w.Message()
	}
	assert.Equal(t, "step 5 was read as 1.03 and 1.33, further apart than the repeatability of 0.010 explains: read it again", codes["repeats_differ"])
	require.Len(t, m.Fit.SetAside, 1)
	assert.Equal(t, 5, m.Fit.SetAside[0].Step)
}

func TestRepeatFaults(t *testing.T) {
	e, err := sensito.NewRelative([]sensito.LogExposure{0, 1, 2})
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "L"}, Exposures: e, Strips: []sensito.StripSpec{{
		Minutes: 6, Density: densities{1, 1, 1}, Repeats: map[int]densities{2: {1, 7}, 4: {1}}, NextStep: 4}}}
	_, err = sensito.NewTrial(spec)
	faultCase{"repeats", err, []string{
		"strip[1].density[2][2]: density 7 is outside 0 to 6",
		"strip[1].density[4]: 1 readings for step 4 of 3",
		"strip[1].next_step: step 4 is outside 1 to 3",
	}}.check(t)
}
