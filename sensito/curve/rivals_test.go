package curve

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/internal/simulated"
)

// Forms that were fitted beside the chosen one are in play, and of readings that are
// clearly better than stated more of them: how far these differ is part of every error.
func TestStripsHaveRivals(t *testing.T) {
	t.Run("quiet", func(t *testing.T) { hasRivals(t, simulated.StripOf(t, simulated.TwoEmulsions, 0.002, 9)) })
	swept := fit.Bend{Base: 0.15, Gradient: 0.6, Toe: -2.3, ToeWidth: 0.12, Power: 1.06}
	t.Run("as stated", func(t *testing.T) { hasRivals(t, simulated.StripOf(t, swept.At, 0.012, 9)) })
}

func hasRivals(t *testing.T, strip *sensito.Strip) {
	m, err := Measure(strip, MeasureOptions{})
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
			other.Curve, other.Params, other.vary, other.Root, other.rivals = r.vary(r.params, nil), r.params, r.vary, r.root, nil
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
}

// A quantity that a rival does not have leaves the directions of the error in
// step with those of quantities that it has.
func TestRivalWithoutQuantity(t *testing.T) {
	m, err := Measure(simulated.StripOf(t, simulated.TwoEmulsions, 0.002, 9), MeasureOptions{})
	require.NoError(t, err)
	chosen := m.Fit.Curve
	d, err := DeriveAll(m.Fit, func(c Curve) ([]float64, error) {
		if math.Abs(float64(c.Density(-1)-chosen.Density(-1))) > 1e-3 {
			return nil, sensito.ErrOutOfRange
		}
		return []float64{float64(c.Density(-1))}, nil
	})
	require.NoError(t, err)
	assert.Len(t, d.Moves, len(m.Derived.Moves))
	assert.NotPanics(t, func() { m.Derived.With(d) })
}

// A rival with a shoulder far beyond the readings of a film that has none runs
// along a direction that they hardly tell, where a curve is not straight for long.
func TestRivalsThatRunOff(t *testing.T) {
	t.Parallel()
	line := fit.Bend{Base: 0.15, Gradient: 0.6, Toe: -2.3, ToeWidth: 0.12, Power: 1}
	for seed := range uint64(150) {
		m, err := Measure(simulated.StripOf(t, line.At, 0.004, seed), MeasureOptions{})
		require.NoError(t, err)
		assert.Less(t, m.ContrastIndex.StdErr, 0.01, "strip %d", seed)
		assert.Less(t, float64(m.SpeedPoint.StdErr), 0.03, "strip %d", seed)
	}
}

// An error that is known joined with that of the readings: as much of it again is
// four times the degrees of freedom (JCGM 100:2008, G.4.1).
func TestCommonErrorOfAStrip(t *testing.T) {
	trial := simulated.StripOf(t, simulated.TwoEmulsions, 0.01, 3).Trial()
	m, err := Measure(trial.Strips()[0], MeasureOptions{})
	require.NoError(t, err)
	own := m.SpeedPoint
	spec := trial.Spec()
	spec.Exposures, err = trial.Exposures().WithCommonSD(sensito.LogRange(own.StdErr))
	require.NoError(t, err)
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	m, err = Measure(trial.Strips()[0], MeasureOptions{})
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt2*float64(own.StdErr), float64(m.SpeedPoint.StdErr), 1e-9)
	assert.InEpsilon(t, 4*own.DoF, m.SpeedPoint.DoF, 1e-9)
}
