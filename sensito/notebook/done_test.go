package notebook

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/notebook/notebooktest"
)

var badDone = []badCase{
	bad("done in single brackets", notebooktest.Strips, notebooktest.Strips+"[done]\ndate = 2026-03-05\n", `:24: done: must be written [[done]], in double brackets`),
	bad("done without date", notebooktest.Strips, notebooktest.Strips+"[[done]]\nminutes = 6\n", `:24: done[1].date: is missing`),
	bad("done without time", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\n", `:24: done[1].minutes: is missing`),
	bad("done for no time", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 0.01\n", `:26: done[1].minutes: 0.01 min is outside 0.05 to 1440 min`),
	bad("done planned", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nplanned_minutes = \"six\"\n", `:27: done[1].planned_minutes: "six" is not a time like 5:30 or 1:02:30`),
	bad("done date", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = \"5.3.2026\"\nminutes = 6\n", `:25: done[1].date: "5.3.2026" is not a date like 2026-03-01`),
	bad("done temperature", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\ntemperature_c = 68\n", `:27: done[1].temperature_c: 68 °C is outside 1 to 60 °C`),
	bad("done end", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nended_c = 0\n", `:27: done[1].ended_c: must not be 0; leave the key out if it is not known`),
	bad("done index", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nexposure_index = -80\n", `:27: done[1].exposure_index: -80 is outside 0.01 to 1e+06`),
	bad("done dilution", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\ndilution = \"thin\"\n", `:27: done[1].dilution: "thin" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("done agitation", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nagitation = \"wild\"\n", `:27: done[1].agitation: "wild" is not continuous, intermittent or none`),
	bad("done films", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nfilms = \"four\"\n", `:27: done[1].films: "four" is not films like 4x 4x5in, 2x 120 or 135-36`),
	bad("done baths", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nbaths = \"fixer\"\n", `:27: done[1].baths: must be a list of names in quotes, not text`),
	bad("done bath", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nbaths = [\"fixer\", 4]\n", `:27: done[1].baths[2]: must be text in quotes, not a number`),
	bad("done no bath", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminutes = 6\nbaths = [\"\"]\n", `:27: done[1].baths[1]: is empty`),
	bad("done key", notebooktest.Strips, notebooktest.Strips+"[[done]]\ndate = 2026-03-05\nminute = 6\n", `:26: done[1].minute: unknown key; did you mean "minutes"?`),
	{"done of a paper", notebooktest.GoodPaper + "[[done]]\ndate = 2026-03-05\nminutes = 6\n", []string{`:12: done[1]: is of a film; a paper has no log of developments`}},
}

func TestBadDone(t *testing.T) {
	for _, c := range badDone {
		t.Run(c.name, func(t *testing.T) {
			trial, err := Read("t.toml", strings.NewReader(c.file))
			assert.Nil(t, trial)
			require.Error(t, err)
			var got []string
			for line := range strings.Lines(err.Error()) {
				got = append(got, strings.TrimPrefix(strings.TrimSuffix(line, "\n"), "t.toml"))
			}
			assert.Equal(t, c.want, got)
		})
	}
}

// The baths of a development are kept, and are part of what is the same.
func TestAppendDoneBaths(t *testing.T) {
	d := sensito.Done{Date: "2026-03-05", Minutes: 6, Baths: []string{`stop, "mild"`, "fixer"}}
	text, err := AppendDone([]byte(notebooktest.Good), d)
	require.NoError(t, err)
	assert.Contains(t, string(text), `baths   = ["stop, \"mild\"", "fixer"]`)
	trial, err := Read("t.toml", bytes.NewReader(text))
	require.NoError(t, err)
	assert.Equal(t, []sensito.Done{d}, trial.Done())
	assert.Equal(t, 1, trial.DoneAs(d))
	d.Baths = []string{"fixer"}
	assert.Zero(t, trial.DoneAs(d))
}

func TestAppendDoneText(t *testing.T) {
	d := sensito.Done{Date: "2026-03-05", Planned: 6 + 35./60, Minutes: 6 + 40./60, TemperatureC: 20.5, EndedC: 21, Dilution: "1+31", Agitation: sensito.AgitationIntermittent, Index: 80, For: "a scene of 7 stops (N)", Note: "warm room"}
	var err error
	d.Films, err = sensito.ParseFilms("6x 4x5in, 120")
	require.NoError(t, err)
	text, err := AppendDone([]byte(notebooktest.Good+"# the end\n"), d)
	require.NoError(t, err)
	assert.Equal(t, notebooktest.Good+`# the end

[[done]]
date            = 2026-03-05
planned_minutes = "6:35"
minutes         = "6:40"
temperature_c   = 20.5
ended_c         = 21
dilution        = "1+31"
agitation       = "intermittent"
exposure_index  = 80
for             = "a scene of 7 stops (N)"
films           = "6x 4x5in, 1x 120"
note            = "warm room"
`, string(text))
	assert.Equal(t, []sensito.Done{d}, read(t, string(text)).Done())

	_, err = AppendDone([]byte(notebooktest.Good), sensito.Done{Date: "2026-03-05"})
	assert.EqualError(t, err, "done[1].minutes: 0 min is outside 0.05 to 1440 min")
	_, err = AppendDone([]byte(notebooktest.Good+"colour = 1\n"), d)
	assert.ErrorContains(t, err, "unknown key")
	_, err = AppendDone([]byte("done = [{ date = 2026-03-04, minutes = 6 }]\n"+notebooktest.Good), d)
	assert.EqualError(t, err, "the developments are written in one line, done = [...]; write each as [[done]] to have one added")
}

// Whatever is logged is there, in order, and every byte before it stays; a strip
// is still added beside it, and the canonical form says the same.
func TestAppendDone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		trial := notebooktest.Trial().Filter(func(t *sensito.Trial) bool { return t.Material() == sensito.FilmMaterial }).Draw(t, "trial")
		text := Format(trial)
		var want []sensito.Done
		for range rapid.IntRange(1, 3).Draw(t, "developments") {
			d := notebooktest.Done().Draw(t, "done")
			next, err := AppendDone(text, d)
			require.NoError(t, err)
			require.True(t, bytes.HasPrefix(next, text))
			text, want = next, append(want, d)
		}
		again := read(t, string(text))
		require.Equal(t, want, again.Done())
		canonical := Format(again)
		require.Equal(t, notebooktest.Describe(again), notebooktest.Describe(read(t, string(canonical))), "%s", canonical)
		more, err := AppendStrip(text, notebooktest.Strip(trial).Draw(t, "strip"))
		require.NoError(t, err)
		require.Equal(t, want, read(t, string(more)).Done())
	})
}
