package keyed

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParse(t *testing.T) {
	read := func(v Verb, words ...string) Line { return Line{Verb: v, Readings: words} }
	for line, want := range map[string]Line{
		"1.13":            read(Read, "1.13"),
		" 1,13\t":         read(Read, "1,13"),
		"113":             read(Read, "113"),
		"-0.02":           read(Read, "-0.02"),
		"1.13 1.14":       read(Read, "1.13", "1.14"),
		"1,13  1,14":      read(Read, "1,13", "1,14"),
		"1.13, 1.14":      read(Read, "1.13", "1.14"),
		"1,13; 1,14":      read(Read, "1,13", "1,14"),
		"9 2/3":           read(Read, "9 2/3"),
		"9 2/3 9  1/3 10": read(Read, "9 2/3", "9 1/3", "10"),
		"9 2/3; 9 1/3":    read(Read, "9 2/3", "9 1/3"),
		"-1 1/3, 9,7":     read(Read, "-1 1/3", "9,7"),
		"9; 2/3":          read(Read, "9", "2/3"),
		"step 5 9 2/3":    {Verb: Step, Step: 5, Readings: []string{"9 2/3"}, Text: "5 9 2/3"},
		"again 1.14":      {Verb: Again, Readings: []string{"1.14"}, Text: "1.14"},
		"A 1.14":          {Verb: Again, Readings: []string{"1.14"}, Text: "1.14"},
		"fog 0.10 0.11":   {Verb: Fog, Readings: []string{"0.10", "0.11"}, Text: "0.10 0.11"},
		"fog none":        {Verb: Fog, Text: "none"},
		"back":            {Verb: Back},
		"back 5":          {Verb: Back, Step: 5, Text: "5"},
		"step 5 1.13":     {Verb: Step, Step: 5, Readings: []string{"1.13"}, Text: "5 1.13"},
		"step 5  1,1 1,2": {Verb: Step, Step: 5, Readings: []string{"1,1", "1,2"}, Text: "5  1,1 1,2"},
		"step 5":          {Verb: Step, Step: 5, Text: "5"},
		"skip":            {Verb: Skip},
		"nan":             {Verb: Skip},
		"keep":            {Verb: Keep},
		"minutes 9:30":    {Verb: Minutes, Text: "9:30"},
		"grade 2 1/2":     {Verb: Grade, Text: "2 1/2"},
		"strip 12:00":     {Verb: Strip, Text: "12:00"},
		"drop":            {Verb: Drop},
		"note a scratch":  {Verb: Note, Text: "a scratch"},
		"note 1.13":       {Verb: Note, Text: "1.13"},
		"STOP":            {Verb: Stop},
		"?":               {Verb: Help},
		"":                {Verb: Nothing},
		"# 1.13":          {Verb: Nothing},
	} {
		got, err := Parse(line)
		require.NoError(t, err, line)
		if got.Verb == Read {
			got.Text = ""
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
		_, err := Parse(line)
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
		k, err := Parse(line)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			return
		}
		require.LessOrEqual(t, len(k.Readings), MaxReadings)
		for _, word := range k.Readings {
			require.True(t, !strings.Contains(word, " ") || strings.Contains(word, "/"), "%q", word)
		}
		if len(k.Readings) > 0 && !strings.Contains(strings.Join(k.Readings, ""), ",") && k.Readings[0] != "" {
			again, err := Parse("again " + strings.Join(k.Readings, "; "))
			require.NoError(t, err)
			require.Equal(t, k.Readings, again.Readings)
		}
	})
}
