package enter

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

func TestParseKeyed(t *testing.T) {
	read := func(v verb, d ...sensito.Density) keyed { return keyed{verb: v, readings: d} }
	for line, want := range map[string]keyed{
		"1.13":            read(verbRead, 1.13),
		" 1,13\t":         read(verbRead, 1.13),
		".13":             read(verbRead, 0.13),
		"2":               read(verbRead, 2),
		"0":               read(verbRead, 0),
		"-0.02":           read(verbRead, -0.02),
		"1.13 1.14":       read(verbRead, 1.13, 1.14),
		"1,13  1,14":      read(verbRead, 1.13, 1.14),
		"1.13, 1.14":      read(verbRead, 1.13, 1.14),
		"1,13; 1,14":      read(verbRead, 1.13, 1.14),
		"again 1.14":      {verb: verbAgain, readings: []sensito.Density{1.14}, text: "1.14"},
		"A 1.14":          {verb: verbAgain, readings: []sensito.Density{1.14}, text: "1.14"},
		"fog 0.10 0.11":   {verb: verbFog, readings: []sensito.Density{0.10, 0.11}, text: "0.10 0.11"},
		"fog none":        {verb: verbFog, text: "none"},
		"back":            {verb: verbBack},
		"back 5":          {verb: verbBack, step: 5, text: "5"},
		"step 5 1.13":     {verb: verbStep, step: 5, readings: []sensito.Density{1.13}, text: "5 1.13"},
		"step 5  1,1 1,2": {verb: verbStep, step: 5, readings: []sensito.Density{1.1, 1.2}, text: "5  1,1 1,2"},
		"step 5":          {verb: verbStep, step: 5, text: "5"},
		"skip":            {verb: verbSkip},
		"nan":             {verb: verbSkip},
		"keep":            {verb: verbKeep},
		"note a scratch":  {verb: verbNote, text: "a scratch"},
		"note 1.13":       {verb: verbNote, text: "1.13"},
		"STOP":            {verb: verbStop},
		"?":               {verb: verbHelp},
		"":                {verb: verbNothing},
		"# 1.13":          {verb: verbNothing},
	} {
		got, err := parseKeyed(line, sensito.UnitDensity)
		require.NoError(t, err, line)
		if got.verb == verbRead {
			got.text = ""
		}
		assert.Equal(t, want, got, line)
	}
	for line, want := range map[string]string{
		"113":         "113 has no decimal point; write 1.13 if that is meant",
		"13":          "13 has no decimal point; write 0.13 if that is meant",
		"09":          "09 has no decimal point; write 0.09 if that is meant",
		"1.13 114":    "114 has no decimal point; write 1.14 if that is meant",
		"11300":       "11300 is no density",
		"1.1.3":       `"1.1.3" is not a reading, like 1.13; see help`,
		"1,13,14":     `"1,13,14" is not a reading, like 1.13; see help`,
		"1.13x":       `"1.13x" is not a reading, like 1.13; see help`,
		"1e1":         `"1e1" is not a reading, like 1.13; see help`,
		"forward":     `"forward" is not understood; see help`,
		"again":       "again has no reading, as in again 1.13",
		"fog":         "fog has no reading, as in fog 1.13",
		"1.13;;1.14":  `"" is not a reading, like 1.13; see help`,
		"again x":     `"x" is not a reading, like 1.13; see help`,
		"back x":      `back "x" is not a step, like back 5`,
		"back 0":      `back "0" is not a step, like back 5`,
		"step":        `step "" is not the number of a step, as in step 5 1.13`,
		"step 0 1.1":  `step "0" is not the number of a step, as in step 5 1.13`,
		"step 5 x":    `"x" is not a reading, like 1.13; see help`,
		"step 5 113":  "113 has no decimal point; write 1.13 if that is meant",
		"skip 5":      `skip takes nothing after it, but "5" follows`,
		"note":        "note has no text",
		"1 2 3 4 5 6": "6 readings stand on one line, which are of one step; write a line for each step",
	} {
		_, err := parseKeyed(line, sensito.UnitDensity)
		assert.EqualError(t, err, want, line)
	}
}

// A line is understood or refused: readings are finite, no more than a line may
// hold, and written out they are read as the same.
func FuzzParseKeyed(f *testing.F) {
	for _, line := range []string{"1.13", "1,13 1.14", "113", "again 1.14", "back 5", "note x", "fog none", "-", "# x", "\x00", "٣.١"} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		k, err := parseKeyed(line, sensito.UnitDensity)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			return
		}
		require.LessOrEqual(t, len(k.readings), maxReadingsLine)
		var words []string
		for _, d := range k.readings {
			require.False(t, math.IsNaN(float64(d)) || math.IsInf(float64(d), 0))
			words = append(words, fmt.Sprintf("%.20f", float64(d)))
		}
		if len(words) > 0 {
			again, err := parseKeyed(strings.Join(words, " "), sensito.UnitDensity)
			require.NoError(t, err)
			for i, d := range again.readings {
				require.InDelta(t, float64(k.readings[i]), float64(d), 1e-12)
			}
		}
	})
}
