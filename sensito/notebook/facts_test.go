package notebook

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

// Facts are changed in their place, and nothing beside them.
func TestSetFacts(t *testing.T) {
	for name, c := range map[string]struct {
		facts map[string]string
		want  []string // what is replaced by what
	}{
		"nothing":       {map[string]string{"title": "T", "process.temperature_c": "20"}, nil},
		"title":         {map[string]string{"title": `"T" again`}, []string{`"T"   #`, `"\"T\" again"   #`}},
		"no title":      {map[string]string{"title": ""}, []string{`title = "T"   # a title`, "# a title"}},
		"film":          {map[string]string{"film.name": "Larkfield 125"}, []string{"Tern 400", "Larkfield 125"}},
		"batch":         {map[string]string{"film.batch": "7"}, []string{"400\"\n", "400\"\nbatch = \"7\"\n"}},
		"a temperature": {map[string]string{"process.temperature_c": "22.5"}, []string{"temperature_c = 20", "temperature_c = 22.5"}},
		"none stated":   {map[string]string{"process.temperature_c": ""}, []string{"temperature_c = 20\n", ""}},
		"a dilution":    {map[string]string{"process.dilution": "1+4"}, []string{"Ashlar\"\n", "Ashlar\"\ndilution  = \"1+4\"\n"}},
		"exposure": {map[string]string{"exposure.illuminance_lx": "20", "exposure.seconds": "0.25"},
			[]string{"illuminance_lx = 2.0", "illuminance_lx = 20", "seconds = 0.5", "seconds = 0.25"}},
		"a wedge":                   {map[string]string{"exposure.wedge": "0.06 0.20 0.351"}, []string{"[0.05, 0.20, 0.35]", "[0.06, 0.20, 0.351]"}},
		"one even":                  {map[string]string{"exposure.wedge": "0.05 0.21 0.37"}, []string{"[0.05, 0.20, 0.35]", "[0.05, 0.21, 0.37]"}},
		"a table that is not there": {map[string]string{"reading.zero": "base"}, []string{"# the first\n", "[reading]\nzero = \"base\"\n\n# the first\n"}},
	} {
		for _, crlf := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				convert := func(s string) []byte {
					if !crlf {
						return []byte(s)
					}
					return []byte("\ufeff" + strings.ReplaceAll(s, "\n", "\r\n"))
				}
				old := convert(notebooktest.Commented)
				got, err := SetFacts(old, c.facts)
				require.NoError(t, err)
				assert.Equal(t, string(convert(changed(t, notebooktest.Commented, c.want...))), string(got))
				is, err := Facts(got)
				require.NoError(t, err)
				for key, want := range c.facts {
					assert.Equal(t, want, is[key], key)
				}
			})
		}
	}
}

// What strips say for themselves stays theirs; the others follow the trial.
func TestSetFactsOfStrips(t *testing.T) {
	text := changed(t, notebooktest.Commented, "minutes = 7\n", "minutes = 7\ntemperature_c = 20\nseconds = 0.25\n")
	got, err := SetFacts([]byte(text), map[string]string{"process.temperature_c": "24", "exposure.seconds": "0.25"})
	require.NoError(t, err)
	strips := read(t, string(got)).Strips()
	assert.Equal(t, []float64{24, 20}, []float64{strips[0].Process().TemperatureC, strips[1].Process().TemperatureC})
	assert.Equal(t, []sensito.Seconds{0.25, 0.25}, []sensito.Seconds{strips[0].Seconds(), strips[1].Seconds()})
	assert.Contains(t, string(got), "minutes = 7\ntemperature_c = 20\nseconds = 0.25\n")
}

// A fact that cannot be is refused by its key, and the text is not changed.
func TestSetFactsRefused(t *testing.T) {
	even := changed(t, notebooktest.Commented, "wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.05\nwedge_step = 0.15\nwedge_count = 3")
	for _, c := range []struct{ text, key, value, want string }{
		{notebooktest.Commented, "process.temperature_c", "200", "process.temperature_c: 200 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20"},
		{notebooktest.Commented, "process.temperature_c", "0", `process.temperature_c: "0" is not a number other than 0`},
		{notebooktest.Commented, "process.dilution", "some", `process.dilution: "some" is not of the form 1+19 (parts concentrate + parts water) or stock`},
		{notebooktest.Commented, "film.name", "", "film.name: is missing"},
		{notebooktest.Commented, "exposure.seconds", "", "exposure.seconds: is missing"},
		{notebooktest.Commented, "exposure.meter_index", "100", "exposure.meter_index is nothing that this trial says"},
		{notebooktest.Commented, "exposure.wedge_first", "0.1", "exposure.wedge_first is nothing that this trial says"},
		{even, "exposure.wedge", "0.05 0.2 0.35", "exposure.wedge is nothing that this trial says"},
		{notebooktest.Commented, "exposure.wedge", "0.05 0.2 0.1", "exposure.wedge[3]: 0.1 after 0.2 breaks the order of the wedge; its densities must rise or fall all the way"},
		{notebooktest.Commented, "exposure.wedge", "0.05 0.2", "exposure.wedge: 2 steps is outside 3 to 1000"},
		{notebooktest.Commented, "exposure.wedge", "", "exposure.wedge: 0 steps is outside 3 to 1000"},
		{even, "exposure.wedge_step", "3", "exposure.wedge_step: puts the last step at density 6.05, outside 0 to 6; a wedge read from its dense end has a negative step"},
		{changed(t, notebooktest.Commented, "[film]\nname = \"Tern 400\"\n", "film.name = \"Tern 400\"\n"), "film.name", "Tern", "what is said of film is not written as a table, [film]; change it in a text editor"},
		{"[film", "title", "x", "the file:1: expected ']' to close a table, found the end of the file"},
	} {
		got, err := SetFacts([]byte(c.text), map[string]string{c.key: c.value})
		if assert.Error(t, err, "%s %s", c.key, c.value) && c.text[:3] != "[fi" {
			assert.Equal(t, c.want, err.Error())
		}
		assert.Nil(t, got)
	}
	got, err := SetFacts([]byte(notebooktest.Commented), map[string]string{"exposure.wedge": "0.05 0.2 0.35 0.5"})
	assert.ErrorContains(t, err, "strip[1].density: ", "there are readings of three steps")
	assert.Nil(t, got)
	is, err := Facts([]byte(even))
	require.NoError(t, err)
	assert.Equal(t, []string{"0.05", "0.15"}, []string{is["exposure.wedge_first"], is["exposure.wedge_step"]})
}

// Any facts of any trial can be put into any other place: what is read is what was meant,
// strips and comments stay byte by byte.
func TestSetAnyFacts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		trial := notebooktest.Trial().Draw(t, "trial")
		file := roughened(t, Format(trial))
		old, err := Facts(file)
		require.NoError(t, err)
		same, err := SetFacts(file, old)
		require.NoError(t, err)
		require.Equal(t, string(file), string(same), "nothing is changed")

		facts := map[string]string{}
		draw := func(key string, from ...string) {
			if _, has := old[key]; has && rapid.Bool().Draw(t, key) {
				facts[key] = rapid.SampledFrom(from).Draw(t, key)
			}
		}
		draw("title", "", "Tern 400 at 68\u00a0°F", `a "title" # [x]`)
		draw("film.batch", "", "17")
		draw("paper.batch", "", "17")
		draw("process.developer", "", "Ashlar")
		draw("process.dilution", "", "1+4", "stock")
		draw("process.temperature_c", "20.5", "24")
		draw("process.agitation", "continuous", "none")
		draw("exposure.illuminance_lx", "0.5", "1234.5")
		draw("exposure.seconds", "0.125", "2")
		draw("exposure.meter_index", "64")
		// as many steps as there are readings of
		draw("exposure.wedge", rising(old["exposure.wedge"], 0.05, 0.00025, grammar.Hundredths))
		draw("exposure.stops", rising(old["exposure.stops"], -1.5, 0.003, grammar.Number))
		draw("exposure.log_h", rising(old["exposure.log_h"], -1.5, 0.003, grammar.Number))
		got, err := SetFacts(file, facts)
		require.NoError(t, err)
		is, err := Facts(got)
		require.NoError(t, err)
		for key, was := range old {
			want := was
			if text, changed := facts[key]; changed {
				want = text
			}
			require.Equal(t, want, is[key], key)
		}
		strips := bytes.Index(file, []byte("[[strip]]"))
		require.True(t, bytes.HasSuffix(got, file[strips:]))
		require.Equal(t, bytes.Count(file, []byte("#~ remark")), bytes.Count(got, []byte("#~ remark")), "comments")
	})
}

// rising returns as many numbers as a text has, the one so much above the other.
func rising(as string, first, by float64, written func(sensito.Density) string) string {
	var out []string
	for i := range strings.Fields(as) {
		out = append(out, written(sensito.Density(math.Round((first+float64(i)*by)*1e6)/1e6)))
	}
	return strings.Join(out, " ")
}
