package development

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/internal/simulated"
)

// Below 13 and above 30 degrees no time is told unless forced.
func TestTemperatureLimits(t *testing.T) {
	f := &Family{Trial: simulated.TrialOf(t, sensito.Process{TemperatureC: 20})}
	for c, reason := range map[Conditions]string{
		{TemperatureC: new(12.9)}:                                 "12.9 °C is below 13 °C",
		{TemperatureC: new(30.1)}:                                 "30.1 °C is above 30 °C",
		{TemperatureC: new(22.0), EndC: new(31.0)}:                "31 °C is above 30 °C",
		{TemperatureC: new(12.0), EndC: new(22.0)}:                "12 °C is below 13 °C",
		{TemperatureC: new(20.0), Q10: new(9.0)}:                  "q10: 9 is outside 1.1 to 6",
		{TemperatureC: new(20.0), Q10SD: new(1.0)}:                "q10_sd: goes with q10",
		{TemperatureC: new(0.0)}:                                  "temperature 0 °C is outside 1 to 60 °C",
		{TemperatureC: new(20.0), EndC: new(0.0)}:                 "temperature 0 °C is outside 1 to 60 °C",
		{TemperatureC: new(20.0), Q10: new(0.0)}:                  "q10: 0 is outside 1.1 to 6",
		{TemperatureC: new(20.0), Q10: new(2.0), Q10SD: new(0.0)}: "q10_sd: 0 is outside its limits, above 0 and at most 1, half of q10",
		{EndC: new(22.0)}:                                         "goes with one at the start",
		{TemperatureC: new(70.0)}:                                 "outside 1 to 60 °C",
		{Agitation: "wild"}:                                       "not continuous, intermittent or none",
		{TemperatureC: new(math.NaN())}:                           "outside 1 to 60",
		{TemperatureC: new(0.5)}:                                  "outside 1 to 60",
		{TemperatureC: new(20.0), Q10: new(-2.0)}:                 "outside 1.1 to 6",
		{TemperatureC: new(20.0), Dilution: "x"}:                  "not of the form",
	} {
		_, err := f.Under(c)
		assert.ErrorContains(t, err, reason)
	}
	u := &sensito.Unanswerable{}
	_, err := f.Under(Conditions{TemperatureC: new(12.0)})
	require.ErrorAs(t, err, &u)
	assert.Equal(t, "warm the bath to between 18 and 24 °C", u.Hint)
	assert.Equal(t, sensito.AnyTemperature, u.Way)
	for _, c := range []Conditions{{TemperatureC: new(13.0)}, {TemperatureC: new(30.0)}, {TemperatureC: new(12.0), Forced: true}, {TemperatureC: new(35.0), Forced: true}} {
		ch, err := f.Under(c)
		require.NoError(t, err)
		require.Len(t, ch.Warnings, 1)
		assert.Equal(t, "temperature_unusual", ch.Warnings[0].Code)
	}
}
