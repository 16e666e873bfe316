package notebook

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

// A trial is read back from its canonical form, which is then the same again.
func TestFormatRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		trial := notebooktest.Trial().Draw(t, "trial")
		text := Format(trial)
		again := read(t, string(text))
		require.Equal(t, notebooktest.Describe(trial), notebooktest.Describe(again), "%s", text)
		require.Equal(t, string(text), string(Format(again)))
		same, err := sensito.NewTrial(trial.Spec())
		require.NoError(t, err)
		require.Equal(t, notebooktest.Describe(trial), notebooktest.Describe(same))
	})
}

func TestFormatDemo(t *testing.T) {
	paths, err := filepath.Glob(demo + "/*.toml")
	require.NoError(t, err)
	trials := 0
	for _, path := range paths {
		if slices.Contains([]string{"control.toml", "procedure.toml", "stand.toml", "tablet.toml", "two-bath.toml"}, filepath.Base(path)) {
			continue
		}
		trial, err := ReadFile(path)
		require.NoError(t, err)
		text := string(Format(trial))
		assert.Equal(t, notebooktest.Describe(trial), notebooktest.Describe(read(t, text)), text)
		trials++
	}
	assert.GreaterOrEqual(t, trials, 6)
}

// The canonical form is laid out as the example that comes with the program:
// its lines are those of the example, but for comments and other ways to write
// the same number.
func TestFormatLooks(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(demo, "larkfield-ashlar.toml"))
	require.NoError(t, err)
	var want []string
	for line := range strings.Lines(string(data)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		line, _, _ = strings.Cut(line, "  #")
		want = append(want, strings.TrimRight(line, " \n"))
	}
	text := strings.TrimLeft(strings.Join(want, "\n"), "\n") + "\n"
	text = strings.NewReplacer(`= 20.0`, `= 20`, `minutes   = 4`, `minutes   = "4:00"`, `minutes   = 7`, `minutes   = "7:00"`, `minutes   = 12`, `minutes   = "12:00"`).Replace(text)
	assert.Equal(t, text, string(Format(read(t, string(data)))))
}

func TestFormatText(t *testing.T) {
	paper := read(t, notebooktest.GoodPaper)
	assert.Equal(t, `kind  = "paper"
title = "P"

[paper]
name   = "Slate"

[exposure]
kind  = "relative"
log_h = [0, 0.3, 0.6]

[reading]
repeatability = 0.01
zero          = "air"

[[strip]]
grade    = "2"
base_fog = [0.06]
density  = [
  0.06, 0.80, 1.90,
]
`, string(Format(paper)))

	busy := read(t, in(notebooktest.Strips, notebooktest.Strips+`
[[strip]]
minutes = 6.333
base_fog = 0.1
temperature_c = 24
agitation = "none"
seconds = 100
developed = "2026-03-01"
note = "pin\thole"
ignore = [3, 1]
next_step = 2
density = [[1.25, 1.2], nan, 0.123]
[reciprocity]
schwarzschild_p = 0.86
`))
	_, text, _ := strings.Cut(string(Format(busy)), "[[strip]]\nminutes       = 6.333")
	assert.Equal(t, `
temperature_c = 24
agitation     = "none"
seconds       = 100
developed     = 2026-03-01
note          = "pin\thole"
base_fog      = [0.10]
ignore        = [1, 3]
next_step     = 2
density       = [
  [1.25, 1.20], nan,   0.123,
]

[reciprocity]
schwarzschild_p = 0.86
`, text)
}

// An even wedge is stated by its step only where that says exactly the same.
func TestFormatWedge(t *testing.T) {
	even := func(first, step sensito.Density, n int) []sensito.Density { return sensito.EvenWedge(first, step, n) }
	for name, c := range map[string]struct {
		wedge []sensito.Density
		short bool
	}{
		"printed":       {even(0.05, 0.15, 21), true},
		"tenths":        {even(0.05, 0.1, 31), true},
		"falling":       {even(3.05, -0.15, 21), true},
		"third of stop": {even(0, 0.10034, 21), true},
		"one off":       {append(even(0.05, 0.15, 20), 2.91), false},
		"finer":         {[]sensito.Density{0.0500001, 0.1500001, 0.2500001}, false},
		"rounded":       {[]sensito.Density{0, 0.0033333, 0.0066667}, false},
		"to the end":    {even(0, 6./11, 12), true},
	} {
		t.Run(name, func(t *testing.T) {
			f := wedgeFields("wedge", c.wedge)
			assert.Equal(t, c.short, f[0].key == "wedge_first", "%v", f)
		})
	}
}

func TestNumbers(t *testing.T) {
	for want, v := range map[string]float64{
		"0": math.Copysign(0, -1), "nan": math.NaN(), "0.000001": 1e-6, "1000000": 1e6, "5e-324": 5e-324, "0.1": 0.1, "-2.5": -2.5,
		"0.30000000000000004": math.Nextafter(0.3, 1),
	} {
		assert.Equal(t, want, grammar.Number(v))
	}
	for want, d := range map[string]sensito.Density{
		"0.00": sensito.Density(math.Copysign(0, -1)), "1.20": 1.2, "2.00": 2, "1.234": 1.234, "nan": sensito.Density(math.NaN()), "-0.10": -0.1, "1e-07": 1e-7,
	} {
		assert.Equal(t, want, grammar.Hundredths(d))
	}
	for want, m := range map[string]sensito.Minutes{
		`"5:30"`: 5.5, `"0:03"`: 0.05, `"75:15"`: 75.25, `"1440:00"`: 1440, "5.51": 5.51, "": 0,
		"6.3333333333333": 6.3333333333333, `"6:20"`: 6 + 20./60,
	} {
		assert.Equal(t, want, clock(m).String())
	}
}

// Saving after every reading rewrites a strip each time.
func BenchmarkReplaceStrip(b *testing.B) {
	data, err := os.ReadFile(filepath.Join(demo, "larkfield-brinewater.toml"))
	require.NoError(b, err)
	trial, err := Read("t.toml", strings.NewReader(string(data)))
	require.NoError(b, err)
	s := trial.Strips()[2].Spec()
	s.Density[4] = 1.33
	for b.Loop() {
		if _, err := ReplaceStrip(data, 3, s); err != nil {
			b.Fatal(err)
		}
	}
}
