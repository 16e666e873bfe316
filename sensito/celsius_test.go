package sensito

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseTemperature(t *testing.T) {
	for text, want := range map[string]float64{"22.5": 22.5, "22,5": 22.5, "22.5 C": 22.5, "22.5 °C": 22.5, " 20c ": 20, "68F": 20, "72.5 F": 22.5, "77 °f": 25} {
		got, err := ParseTemperature(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want, got, 1e-12, text)
	}
	for _, text := range []string{"", "warm", "20 K", "20.", "2e1", "20 C F", "NaN"} {
		_, err := ParseTemperature(text)
		assert.ErrorContains(t, err, "is not a temperature like 22.5 or 72F", text)
	}
	_, err := ParseTemperature("72")
	assert.ErrorContains(t, err, "write 72F for Fahrenheit")
	for text, want := range map[string]string{"32F": "temperature 0 °C", "0": "temperature 0 °C", "-4 F": "temperature -20 °C", "1000 F": "temperature 537.8 °C"} {
		_, err := ParseTemperature(text)
		assert.EqualError(t, err, `"`+text+`": `+want+" is outside 1 to 60 °C")
	}
}

// FuzzTemperature: a temperature read is finite and reads the same when it is
// written again; anything else is refused by name.
func FuzzTemperature(f *testing.F) {
	for _, seed := range []string{"22.5", "72F", "72.5 °F", "-4 f", "20,0 C", "72", "", "99999999999999999999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseTemperature(text)
		if err != nil {
			assert.Zero(t, c)
			return
		}
		require.False(t, math.IsInf(c, 0) || math.IsNaN(c), text)
		again, err := ParseTemperature(strconv.FormatFloat(c, 'f', -1, 64) + " C")
		require.NoError(t, err)
		assert.Equal(t, c, again)
	})
}
