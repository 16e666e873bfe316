package sensito_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

func TestParseMinutes(t *testing.T) {
	for text, want := range map[string]sensito.Minutes{"6:30": 6.5, "6.5": 6.5, "6,5": 6.5, " 7 ": 7, "1:02:30": 62.5, "90:00": 90, "0:03": 0.05,
		"5.00": 5, "5.60": 5.6, "5.25": 5.25, "5.300": 5.3, ".50": 0.5} {
		got, err := sensito.ParseMinutes(text)
		require.NoError(t, err, text)
		assert.InDelta(t, float64(want), float64(got), 1e-12, text)
	}
	for _, text := range []string{"", "x", "6:3", "6:60", "6:", "1:2:30", "5:30:1", "1:2:3:4", "5.5:30", "-6", "+6:30", "0:01", "25:00:00", "1500", "1e9", "6 min", "NaN"} {
		_, err := sensito.ParseMinutes(text)
		assert.Error(t, err, text)
	}
	for _, text := range []string{"5.30", "5,30", " 5.30 ", "12.10", "0.50"} {
		_, err := sensito.ParseMinutes(text)
		assert.ErrorContains(t, err, " minutes; write ", text)
	}
	_, err := sensito.ParseMinutes("5.30")
	require.EqualError(t, err, `"5.30" can be 5:30 or 5.3 minutes; write 5:30 or 5.3`)
}

// FuzzMinutes: what is read lies within the limits and is read again the same.
func FuzzMinutes(f *testing.F) {
	for _, text := range []string{"5:30", "1:34", "5,5", "1:02:30", "1:2:3:4", "1e300", "\xff"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		m, err := sensito.ParseMinutes(text)
		if err != nil {
			require.Zero(t, m)
			return
		}
		require.True(t, m >= 0.05 && m <= 1440)
		const places = 9 // that a number may have
		again, err := sensito.ParseMinutes(strconv.FormatFloat(float64(m), 'f', places, 64))
		require.NoError(t, err)
		require.InDelta(t, float64(m), float64(again), 1e-9)
	})
}
