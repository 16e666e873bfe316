package enter

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseKeyed(t *testing.T) {
	read := func(v verb, words ...string) keyed { return keyed{verb: v, readings: words} }
	for line, want := range map[string]keyed{
		"1.13":            read(verbRead, "1.13"),
		" 1,13\t":         read(verbRead, "1,13"),
		"113":             read(verbRead, "113"),
		"-0.02":           read(verbRead, "-0.02"),
		"1.13 1.14":       read(verbRead, "1.13", "1.14"),
		"1,13  1,14":      read(verbRead, "1,13", "1,14"),
		"1.13, 1.14":      read(verbRead, "1.13", "1.14"),
		"1,13; 1,14":      read(verbRead, "1,13", "1,14"),
		"9 2/3":           read(verbRead, "9 2/3"),
		"9 2/3 9  1/3 10": read(verbRead, "9 2/3", "9 1/3", "10"),
		"9 2/3; 9 1/3":    read(verbRead, "9 2/3", "9 1/3"),
		"-1 1/3, 9,7":     read(verbRead, "-1 1/3", "9,7"),
		"9; 2/3":          read(verbRead, "9", "2/3"),
		"step 5 9 2/3":    {verb: verbStep, step: 5, readings: []string{"9 2/3"}, text: "5 9 2/3"},
		"again 1.14":      {verb: verbAgain, readings: []string{"1.14"}, text: "1.14"},
		"A 1.14":          {verb: verbAgain, readings: []string{"1.14"}, text: "1.14"},
		"fog 0.10 0.11":   {verb: verbFog, readings: []string{"0.10", "0.11"}, text: "0.10 0.11"},
		"fog none":        {verb: verbFog, text: "none"},
		"back":            {verb: verbBack},
		"back 5":          {verb: verbBack, step: 5, text: "5"},
		"step 5 1.13":     {verb: verbStep, step: 5, readings: []string{"1.13"}, text: "5 1.13"},
		"step 5  1,1 1,2": {verb: verbStep, step: 5, readings: []string{"1,1", "1,2"}, text: "5  1,1 1,2"},
		"step 5":          {verb: verbStep, step: 5, text: "5"},
		"skip":            {verb: verbSkip},
		"nan":             {verb: verbSkip},
		"keep":            {verb: verbKeep},
		"minutes 9:30":    {verb: verbMinutes, text: "9:30"},
		"grade 2 1/2":     {verb: verbGrade, text: "2 1/2"},
		"strip 12:00":     {verb: verbStrip, text: "12:00"},
		"drop":            {verb: verbDrop},
		"note a scratch":  {verb: verbNote, text: "a scratch"},
		"note 1.13":       {verb: verbNote, text: "1.13"},
		"STOP":            {verb: verbStop},
		"?":               {verb: verbHelp},
		"":                {verb: verbNothing},
		"# 1.13":          {verb: verbNothing},
	} {
		got, err := parseKeyed(line)
		require.NoError(t, err, line)
		if got.verb == verbRead {
			got.text = ""
		}
		assert.Equal(t, want, got, line)
	}
	for line, want := range map[string]string{
		"forward":     `"forward" is not understood; see help`,
		"again":       "again has no reading, as in again 1.13",
		"fog":         "fog has no reading, as in fog 1.13",
		"back x":      `back "x" is not a step, like back 5`,
		"back 0":      `back "0" is not a step, like back 5`,
		"step":        `step "" is not the number of a step, as in step 5 1.13`,
		"step 0 1.1":  `step "0" is not the number of a step, as in step 5 1.13`,
		"skip 5":      `skip takes nothing after it, but "5" follows`,
		"note":        "note has no text",
		"minutes":     "minutes has no time, as in minutes 9:30",
		"grade":       "grade has none, as in grade 3",
		"strip":       "strip has no time, as in strip 9:30",
		"1 2 3 4 5 6": "6 readings stand on one line, which are of one step; write a line for each step",
	} {
		_, err := parseKeyed(line)
		assert.EqualError(t, err, want, line)
	}
}

// A line is understood or refused: readings have no blanks but in a fraction, are no more
// than a line may hold, and one after the other they are the same line.
func FuzzParseKeyed(f *testing.F) {
	for _, line := range []string{"1.13", "1,13 1.14", "113", "again 1.14", "9 2/3 9; 2/3", "back 5", "note x", "fog none", "-", "# x", "\x00", "3 9\x00", "٣.١"} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		k, err := parseKeyed(line)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			return
		}
		require.LessOrEqual(t, len(k.readings), maxReadingsLine)
		for _, word := range k.readings {
			require.True(t, !strings.Contains(word, " ") || strings.Contains(word, "/"), "%q", word)
		}
		if len(k.readings) > 0 && !strings.Contains(strings.Join(k.readings, ""), ",") && k.readings[0] != "" {
			again, err := parseKeyed("again " + strings.Join(k.readings, "; "))
			require.NoError(t, err)
			require.Equal(t, k.readings, again.readings)
		}
	})
}
