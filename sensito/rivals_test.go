package sensito

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
)

// twoEmulsions is a film of two emulsions, of which no form is.
func twoEmulsions(x float64) float64 {
	fast := fit.Bend{Gradient: 0.35, Toe: -2.3, ToeWidth: 0.13, Power: 1, Shoulder: -0.9, ShoulderWidth: 0.2}
	slow := fit.Bend{Gradient: 0.3, Toe: -2, ToeWidth: 0.15, Power: 1, Shoulder: -0.4, ShoulderWidth: 0.25}
	return 0.15 + fast.At(x) + slow.At(x)
}

// stripOf returns a strip of 31 steps of 0.10, read with the given noise.
func stripOf(t *testing.T, density func(x float64) float64, noise float64, seed uint64) *Strip {
	const steps, step = 31, 0.10
	rnd := rand.New(rand.NewPCG(seed, 4))
	strip := StripSpec{Minutes: 8, BaseFog: []Density{0.15, 0.15}}
	var logH []LogExposure
	for i := range steps {
		x := -float64(i) * step
		logH = append(logH, LogExposure(x))
		strip.Density = append(strip.Density, Density(math.Round(100*(density(x)+noise*rnd.NormFloat64()))/100))
	}
	exposures, err := NewRelative(logH)
	require.NoError(t, err)
	trial, err := NewTrial(TrialSpec{Film: Film{Name: "Larkfield 125"}, Exposures: exposures, Strips: []StripSpec{strip}})
	require.NoError(t, err)
	return trial.Strips()[0]
}

// Readings of a film that are clearly better than stated leave several forms in
// play, and how far these differ is part of every error.
func TestQuietStripsHaveRivals(t *testing.T) {
	m, err := Measure(stripOf(t, twoEmulsions, 0.002, 9), MeasureOptions{})
	require.NoError(t, err)
	require.NotEmpty(t, m.Fit.rivals)
	var weights float64
	for _, r := range m.Fit.rivals {
		assert.Positive(t, r.weight)
		weights += r.weight
	}
	assert.Less(t, weights, 1.0)

	alone := *m.Fit
	alone.rivals = nil
	for name, g := range map[string]func(Curve) (float64, error){
		"contrast index":   ContrastIndex,
		"average gradient": func(c Curve) (float64, error) { return AverageGradient(c, Gradient{}) },
	} {
		own, err := Derive(&alone, g)
		require.NoError(t, err)
		all, err := Derive(m.Fit, g)
		require.NoError(t, err)
		variance := own.StdErr * own.StdErr * (1 - weights)
		for _, r := range m.Fit.rivals {
			other := *m.Fit
			other.Curve, other.Params, other.vary, other.root, other.rivals = r.vary(r.params), r.params, r.vary, r.root, nil
			e, err := Derive(&other, g)
			require.NoError(t, err)
			variance += r.weight * (e.StdErr*e.StdErr + (e.Value-own.Value)*(e.Value-own.Value))
		}
		assert.InEpsilon(t, math.Sqrt(variance), all.StdErr, 1e-6, "%s: the second moment of the mixture", name)
		assert.Equal(t, own.Value, all.Value, name)
	}
	// What the strip is said to have is the same by its own, quicker way.
	all, err := Derive(m.Fit, ContrastIndex)
	require.NoError(t, err)
	assert.InEpsilon(t, all.StdErr, m.ContrastIndex.StdErr, 1e-3)
	assert.InEpsilon(t, all.Value, m.ContrastIndex.Value, 1e-9)

	m, err = Measure(stripOf(t, twoEmulsions, 0.015, 9), MeasureOptions{})
	require.NoError(t, err)
	assert.Empty(t, m.Fit.rivals, "readings as good as stated")
}

// A quantity that a rival does not have leaves the directions of the error in
// step with those of quantities that it has.
func TestRivalWithoutQuantity(t *testing.T) {
	m, err := Measure(stripOf(t, twoEmulsions, 0.002, 9), MeasureOptions{})
	require.NoError(t, err)
	chosen := m.Fit.Curve
	d, err := deriveAll(m.Fit, func(c Curve) ([]float64, error) {
		if math.Abs(float64(c.Density(-1)-chosen.Density(-1))) > 1e-3 {
			return nil, ErrOutOfRange
		}
		return []float64{float64(c.Density(-1))}, nil
	})
	require.NoError(t, err)
	assert.Len(t, d.moves, len(m.derived.moves))
	assert.NotPanics(t, func() { m.derived.with(d) })
}

// A rival with a shoulder far beyond the readings of a film that has none runs
// along a direction that they hardly tell, where a curve is not straight for long.
func TestRivalsThatRunOff(t *testing.T) {
	t.Parallel()
	line := fit.Bend{Base: 0.15, Gradient: 0.6, Toe: -2.3, ToeWidth: 0.12, Power: 1}
	for seed := range uint64(150) {
		m, err := Measure(stripOf(t, line.At, 0.004, seed), MeasureOptions{})
		require.NoError(t, err)
		assert.Less(t, m.ContrastIndex.StdErr, 0.01, "strip %d", seed)
		assert.Less(t, float64(m.SpeedPoint.StdErr), 0.03, "strip %d", seed)
	}
}
