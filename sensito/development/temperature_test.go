package development_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// warmTrial is a trial of a film whose coefficient is exp(lnQ10).
func warmTrial(t *testing.T, spots []spot) (warming, *sensito.Trial) {
	r := rand.New(rand.NewPCG(5, 7))
	w, b := newWarming(simulated.Reaching, r, 0), simulated.Reaching.Bench(r)
	return w, w.trial(t, r, b, spots)
}

// Strips at other temperatures join at the times that do the same at the
// temperature of the trial.
func TestStripsAtSeveralTemperatures(t *testing.T) {
	w, trial := warmTrial(t, designs[1].spots)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	require.Len(t, f.Strips, 7)
	require.NotNil(t, f.Temperature)
	assert.Equal(t, []float64{20, 24}, f.Temperature.Temperatures)
	q := f.Temperature.Q10
	assert.InEpsilon(t, math.Exp(w.lnQ10), q.Value, 0.15)
	assert.InEpsilon(t, fit.ActivationEnergy(q.Value)/1000, f.Temperature.ActivationEnergy.Value, 1e-9)
	last := sensito.Minutes(0)
	for _, m := range f.Strips {
		c := m.Strip.Process().TemperatureC
		assert.InEpsilon(t, float64(m.Strip.Minutes())*math.Pow(q.Value, fit.TensOfDegrees(20, c)), float64(m.Minutes()), 1e-6)
		assert.GreaterOrEqual(t, m.Minutes(), last)
		last = m.Minutes()
	}
	assert.NotContains(t, blind.Codes(f.Warnings), "other_conditions")
	assert.Equal(t, "measured by strips at 20, 24 °C", f.Coefficient().Source)

	// At the trial's own temperature nothing changes, and an own coefficient takes
	// the place of the measured one.
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	same, err := f.Under(development.Conditions{TemperatureC: new(20.0)})
	require.NoError(t, err)
	assert.Nil(t, same.Coefficient)
	assert.InDelta(t, 1, same.Factor.Value, 1e-12)
	own, err := f.Under(development.Conditions{TemperatureC: new(22.0), Q10: new(3.0), Q10SD: new(0.2)})
	require.NoError(t, err)
	assert.InDelta(t, math.Pow(3, -fit.TensOfDegrees(20, 22)), own.Factor.Value, 1e-9)
	byOwn, err := (&scene.Adjustment{Change: own}).Adjust(p)
	require.NoError(t, err)
	assert.InEpsilon(t, float64(p.Minutes.Value)*own.Factor.Value, float64(byOwn.Minutes.Value), 1e-9)

	// The time between the temperatures is known at least as well as by both parts
	// apart, whose errors are not independent.
	ch, err := f.Under(development.Conditions{TemperatureC: new(22.0)})
	require.NoError(t, err)
	today, err := (&scene.Adjustment{Change: ch}).Adjust(p)
	require.NoError(t, err)
	apart := ch.Minutes(&p.Minutes)
	assert.InEpsilon(t, float64(apart.Value), float64(today.Minutes.Value), 0.02)
	assert.Less(t, today.Minutes.StdErr/today.Minutes.Value, apart.StdErr/apart.Value)
	low, high := today.Minutes.Interval(0.95)
	assert.Less(t, low, today.Minutes.Value)
	assert.Greater(t, high, today.Minutes.Value)
	beyond, err := f.Under(development.Conditions{TemperatureC: new(17.0)})
	require.NoError(t, err)
	assert.Equal(t, []string{"temperature_unusual", "temperature_beyond"}, blind.Codes(beyond.Warnings))
}

// Strips that cannot tell time from temperature are left out, and that is said.
func TestTemperaturesNotToldApart(t *testing.T) {
	_, trial := warmTrial(t, []spot{{0, 20}, {2, 24}, {4, 17}})
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	assert.Len(t, f.Strips, 1)
	assert.Nil(t, f.Temperature)
	require.Contains(t, blind.Codes(f.Warnings), "other_temperature")
	assert.False(t, f.Coefficient().Measured)

	// None at the temperature of the trial, but enough beside it.
	w, trial := warmTrial(t, []spot{{0, 18}, {2, 18}, {4, 18}, {1, 24}, {3, 24}})
	f, err = development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	require.NotNil(t, f.Temperature)
	assert.InEpsilon(t, math.Exp(w.lnQ10), f.Temperature.Q10.Value, 0.15)

	_, trial = warmTrial(t, []spot{{0, 18}, {1, 24}})
	_, err = development.NewFamily(trial, curve.MeasureOptions{})
	u := &sensito.Unanswerable{}
	require.ErrorAs(t, err, &u)
	assert.ErrorContains(t, err, "no strip was developed at the 20 °C of the trial")

	// As few as can be: exact, unchecked, and said.
	_, trial = warmTrial(t, []spot{{0, 20}, {4, 20}, {2, 24}})
	f, err = development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	assert.NotNil(t, f.Temperature)
	assert.Contains(t, blind.Codes(f.Warnings), "two_strips")
}
