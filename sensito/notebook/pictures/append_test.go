package pictures

import (
	"math"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

const appended = `[film]
name = "Tern 400"
[exposure]
kind = "contact"
illuminance_lx = 2
seconds = 1
wedge = [1.0, 1.3, 1.6, 1.9]
[[strip]]
minutes = 8
density = [1.21, 1.10, 0.97, 0.86]
`

var bedded = sensito.Calibration{Name: "bed", Repeatability: 0.005, Covariance: [3][3]float64{{1e-4}, {0, 1e-4}, {0, 0, 1e-5}}}

func pictured(density ...sensito.Density) sensito.StripSpec {
	return sensito.StripSpec{Minutes: 9, Density: density, Picture: "a.png, 00", Calibration: "bed"}
}

// A strip is added once: another look at it, by marks a little off, is known by its picture; one that reads otherwise is
// another strip.
func TestAppendStrips(t *testing.T) {
	nan := sensito.Density(math.NaN())
	text, left, err := AppendStrips([]byte(appended), []byte(appended), []sensito.StripSpec{pictured(1.301, 1.202, 1.053, nan)}, bedded)
	require.NoError(t, err)
	assert.Empty(t, left)
	trial, err := notebook.Read("a.toml", strings.NewReader(string(text)))
	require.NoError(t, err)
	require.Len(t, trial.Strips(), 2)
	assert.Equal(t, "bed", trial.Strips()[1].Calibration().Name)
	assert.True(t, math.IsNaN(float64(trial.Strips()[1].Steps()[3].Density)))

	again, left, err := AppendStrips(text, text, []sensito.StripSpec{pictured(1.303, 1.199, 1.055, nan)}, bedded)
	require.NoError(t, err)
	assert.Equal(t, string(text), string(again))
	assert.Equal(t, []string{"strip 1 of the picture is strip 2 of the trial, read in the same file, and is left out"}, left)

	even := pictured(1.303, 1.199, 1.055, nan)
	even.Picture += underEmpty + "table.tif, ab"
	_, left, err = AppendStrips(text, text, []sensito.StripSpec{even}, bedded)
	require.NoError(t, err)
	assert.Equal(t, []string{"strip 1 of the picture is strip 2 of the trial, read in the same file by another empty table, or none, and is left out"}, left)

	other, left, err := AppendStrips(text, text, []sensito.StripSpec{pictured(1.403, 1.299, 1.155, nan)}, bedded)
	require.NoError(t, err)
	assert.Empty(t, left)
	assert.Equal(t, 1, strings.Count(string(other), "[[calibration]]"), "strips of a calibration share it")

	// The same name for other figures gets a number.
	wider := bedded
	wider.Covariance[0][0] = 4e-4
	text, _, err = AppendStrips(other, other, []sensito.StripSpec{pictured(1.5, 1.4, 1.3, 1.2)}, wider)
	require.NoError(t, err)
	trial, err = notebook.Read("a.toml", strings.NewReader(string(text)))
	require.NoError(t, err)
	assert.Equal(t, "bed (2)", trial.Strips()[3].Calibration().Name)
	assert.Equal(t, 4e-4, trial.Strips()[3].Calibration().Covariance[0][0])
}

func TestKnown(t *testing.T) {
	sum := [32]byte{0xab}
	one := []Source{{"a,b.png", sum}}
	assert.Equal(t, "a_b.png, ab"+strings.Repeat("0", 62), Known(one, nil))
	assert.Equal(t, "a_b.png, ab"+strings.Repeat("0", 62)+"; empty table_.tif, ab"+strings.Repeat("0", 30), Known(one, &Source{"table;.tif", sum}))
	long := strings.Repeat("n", 250) + ".png"
	for n := 1; n <= 4; n++ {
		looked := slices.Repeat([]Source{{long, sum}}, n)
		assert.LessOrEqual(t, utf8.RuneCountInString(Known(looked, nil)), 300, "%d pictures", n)
		assert.LessOrEqual(t, utf8.RuneCountInString(Known(looked, &looked[0])), 300, "%d pictures and an empty one", n)
	}
}
