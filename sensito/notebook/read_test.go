package notebook

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

func read(t require.TestingT, file string) *sensito.Trial {
	trial, err := Read("t.toml", strings.NewReader(file))
	require.NoError(t, err)
	return trial
}

// in returns the good notebook with one place changed.
func in(old, new string) string { return bad("", old, new).file }

func TestReadGood(t *testing.T) {
	trial := read(t, notebooktest.Good)
	assert.Equal(t, "T", trial.Title())
	assert.Equal(t, sensito.Film{Name: "Larkfield 125", RatedSpeed: 125}, trial.Film())
	process := sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20}
	assert.Equal(t, process, trial.Process())
	assert.Equal(t, sensito.Reading{Repeatability: 0.01, Zero: sensito.ZeroAir}, trial.Reading())
	assert.Equal(t, sensito.Contact, trial.Exposures().Kind())
	require.Len(t, trial.Strips(), 1)
	s := trial.Strips()[0]
	assert.Equal(t, sensito.Minutes(5.5), s.Minutes())
	assert.Equal(t, []sensito.Density{0.10, 0.11}, s.BaseFog())
	assert.Equal(t, process, s.Process())
	require.Len(t, s.Steps(), 3)
	for i, step := range s.Steps() {
		// 2 lx for 0.5 s is 1 lx s, so log H is minus the wedge density.
		assert.InDelta(t, []float64{-0.05, -0.20, -0.35}[i], float64(step.LogH), 1e-12)
		assert.Equal(t, []sensito.Density{1.10, 0.80, 0.50}[i], step.Density)
		assert.True(t, step.Read())
	}
}

func TestReadRepeats(t *testing.T) {
	trial := read(t, in("  0.80,\n", "  [0.79, 0.82],\n  # above: read twice\n"))
	steps := trial.Strips()[0].Steps()
	assert.InDelta(t, 0.805, float64(steps[1].Density), 1e-12)
	assert.Equal(t, []sensito.Density{0.79, 0.82}, steps[1].Repeats)
	assert.Nil(t, steps[0].Repeats)

	trial = read(t, in("minutes = 5.5", "minutes = 5.5\nnext_step = 2"))
	assert.Equal(t, 2, trial.Strips()[0].NextStep())
}

func TestMinutes(t *testing.T) {
	for text, want := range map[string]float64{
		`5`: 5, `5.5`: 5.5, `"5:30"`: 5.5, `"0:45"`: 0.75, `"12:00"`: 12, `"1:02:30"`: 62.5, `"75:15"`: 75.25, `'5:06'`: 5.1,
	} {
		s := read(t, in("minutes = 5.5", "minutes = "+text)).Strips()[0]
		assert.InDelta(t, want, float64(s.Minutes()), 1e-12, text)
	}
}

func TestStripOverrides(t *testing.T) {
	trial := read(t, in(notebooktest.Strips, notebooktest.Strips+notebooktest.Strips+`
temperature_c = 24
dilution      = "stock"
agitation     = "none"
developed     = 2026-03-01
note          = "second tank"
ignore        = [3, 1]
`))
	first, second := trial.Strips()[0], trial.Strips()[1]
	assert.Equal(t, trial.Process(), first.Process())
	assert.Empty(t, first.Date())
	assert.Equal(t, sensito.Process{Developer: "Brinewater", Dilution: "stock", TemperatureC: 24,
		Agitation: sensito.AgitationNone}, second.Process())
	assert.Equal(t, "2026-03-01", second.Date())
	assert.Equal(t, "second tank", second.Note())
	for i, step := range second.Steps() {
		assert.Equal(t, i != 1, step.Ignored)
	}
	text := read(t, in("minutes = 5.5", "minutes = 5.5\ndeveloped = \"2026-03-01\"")).Strips()[0]
	assert.Equal(t, "2026-03-01", text.Date())
}

// A strip's own exposure: log H = log10(E t) - D.
func TestStripExposure(t *testing.T) {
	trial := read(t, in(notebooktest.Strips, notebooktest.Strips+notebooktest.Strips+"seconds = 100\nilluminance_lx = 0.03\n"+notebooktest.Strips+"seconds = 4\n"+notebooktest.Strips+"illuminance_lx = 2e-3\n"))
	for i, want := range []struct {
		seconds sensito.Seconds
		lamp    float64
	}{{0.5, 1}, {100, 3}, {4, 8}, {0.5, 1e-3}} {
		s := trial.Strips()[i]
		assert.Equal(t, want.seconds, s.Seconds())
		assert.InDelta(t, math.Log10(want.lamp)-0.20, float64(s.Steps()[1].LogH), 1e-12)
	}
	assert.Zero(t, read(t, in(notebooktest.Contact, "kind = \"relative\"\nlog_h = [0, 0.3, 0.6]")).Strips()[0].Seconds())
}

func TestLeftOut(t *testing.T) {
	trial := read(t, `
[film]
name = "Tern 400"
[exposure]
kind = "relative"
log_h = [0.0, 0.3, 0.6]
[[strip]]
minutes = 7
density = [0.1, nan, 0.6]
`)
	assert.Empty(t, trial.Title())
	assert.Zero(t, trial.Process().TemperatureC)
	assert.Equal(t, sensito.DefaultRepeatability, trial.Reading().Repeatability)
	assert.Equal(t, sensito.ZeroAir, trial.Reading().Zero)
	assert.False(t, trial.Exposures().Absolute())
	s := trial.Strips()[0]
	assert.Empty(t, s.BaseFog())
	assert.False(t, s.Steps()[1].Read())
	assert.True(t, s.Steps()[2].Read())
}

func TestBaseFogSingle(t *testing.T) {
	s := read(t, in("[0.10, 0.11]", "0.12")).Strips()[0]
	assert.Equal(t, []sensito.Density{0.12}, s.BaseFog())
}

func TestEvenWedge(t *testing.T) {
	list := read(t, notebooktest.Good)
	even := read(t, in("wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.05\nwedge_step = 0.15\nwedge_count = 3"))
	assert.Equal(t, list.Exposures(), even.Exposures())
	down := read(t, in("wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.30\nwedge_step = -0.15\nwedge_count = 3"))
	assert.Equal(t, sensito.LogExposure(0), down.Exposures().LogH()[2])
}

func TestExposureKinds(t *testing.T) {
	camera := read(t, in(notebooktest.Contact, "kind = \"camera\"\nmeter_index = 125\nstops = [-1, 0, 1]\nmeter_q = 0.6\nlog_h_sd = 0.05")).Exposures()
	// H = Q K / S (DESIGN 5.1; ISO 2720:1974), with Q = 0.6 and K = 12.5.
	assert.InDelta(t, math.Log10(0.6*12.5/125), float64(camera.LogH()[1]), 1e-12)
	assert.Equal(t, sensito.LogRange(0.05), camera.CommonSD())
	assert.Equal(t, sensito.MeterConstants{K: 12.5, Q: 0.6}, camera.Meter())

	metered := read(t, in("seconds = 0.5", "seconds = 0.5\nmeter_k = 14")).Exposures()
	assert.Equal(t, sensito.MeterConstants{K: 14, Q: 0.65}, metered.Meter())

	tied := read(t, in(notebooktest.Contact, "kind = \"relative\"\nlog_h = [0, 0.3, 0.6]\nreference_speed_point_log_h = 0.3")).Exposures()
	assert.True(t, tied.Absolute())
	// The speed point of a film of speed 125 is at 0.8/125 lx s (ISO 6:1993).
	assert.InDelta(t, math.Log10(0.8/125), float64(tied.LogH()[1]), 1e-12)
}

func TestReciprocity(t *testing.T) {
	assert.Nil(t, read(t, notebooktest.Good).Reciprocity())
	pairs := []sensito.ReciprocityPair{{Metered: 1, Corrected: 2}, {Metered: 10, Corrected: 50}, {Metered: 100, Corrected: 1200}}
	for name, file := range map[string]string{
		"tables": in(notebooktest.Strips, notebooktest.Strips+"[[reciprocity]]\nmetered_s = 1\ncorrected_s = 2\n[[reciprocity]]\nmetered_s = 10.0\ncorrected_s = 50\n"+
			"[[reciprocity]]\nmetered_s = 100\ncorrected_s = 1_200\n"),
		"list": in(`title = "T"`, "reciprocity = [{metered_s = 1, corrected_s = 2}, {metered_s = 10, corrected_s = 50},\n {metered_s = 100, corrected_s = 1200}]"),
	} {
		t.Run(name, func(t *testing.T) {
			r := read(t, file).Reciprocity()
			assert.Equal(t, &sensito.StatedReciprocity{Pairs: pairs}, r)
		})
	}
	for law, want := range map[string]struct {
		text string
		at10 sensito.Seconds
	}{
		// RC-7, RC-8 and, as 10 s + a 10^1.62 s, the additive form (Schwarzschild; P. Gainer 2009).
		"exponent = 1.31":        {"tc = tm^1.31 above 1 s", 20.42},
		"schwarzschild_p = 0.86": {"tm = tc (tc + 1)^(0.86 - 1)", 14.704},
		"extra_at_1_s = 0.061":   {"tc = tm + 0.061 tm^1.62", 12.543},
	} {
		r, err := camera.NewReciprocity(read(t, in(notebooktest.Strips, notebooktest.Strips+"[reciprocity]\n"+law+"\n")).Reciprocity())
		require.NoError(t, err)
		assert.Equal(t, want.text, r.String())
		s, err := r.Correct(10)
		require.NoError(t, err)
		assert.InDelta(t, float64(want.at10), float64(s.Corrected), 0.005)
	}
}

func TestLimits(t *testing.T) {
	_, err := Read("big.toml", io.LimitReader(notebooktest.Endless{}, grammar.MaxBytes+1))
	assert.EqualError(t, err, "big.toml:1: the file is larger than 16 MiB")
	padded := notebooktest.Good + strings.Repeat("#", grammar.MaxBytes-len(notebooktest.Good))
	read(t, padded)

	var b strings.Builder
	b.WriteString("[film]\nname = \"Tern 400\"\n[exposure]\nkind = \"contact\"\nilluminance_lx = 1\nseconds = 1\n")
	b.WriteString("wedge_first = 0\nwedge_step = 0.005\nwedge_count = 1000\n")
	strip := "[[strip]]\nminutes = 5\ndensity = [" + strings.Repeat("1,", 1000) + "]\n"
	b.WriteString(strings.Repeat(strip, 100))
	assert.Len(t, read(t, b.String()).Strips(), 100)
	b.WriteString(strip)
	_, err = Read("long.toml", strings.NewReader(b.String()))
	assert.EqualError(t, err, "long.toml:312: strip[101].density: brings the file to more than 100000 readings")

	_, err = Read("t.toml", strings.NewReader(in("[0.05, 0.20, 0.35]", "["+strings.Repeat("1,", 100_001)+"]")))
	assert.EqualError(t, err, "t.toml:13: exposure.wedge: has 100001 values, more than 100000")
	_, err = Read("t.toml", strings.NewReader(in(notebooktest.Strips, strings.Repeat("[[strip]]\n", 10_001))))
	assert.EqualError(t, err, "t.toml:10016: strip[10001]: brings the file to more than 10000 strips")
}

func TestManyFaults(t *testing.T) {
	file := in(notebooktest.Density, "density = [\n"+strings.Repeat("7,\n", 25)+"]")
	file = strings.Replace(file, "wedge = [0.05, 0.20, 0.35]", "wedge_first = 0\nwedge_step = 0.1\nwedge_count = 25", 1)
	_, err := Read("t.toml", strings.NewReader(file))
	shown := strings.Split(err.Error(), "\n")
	require.Len(t, shown, 21)
	assert.Equal(t, "t.toml:22: strip[1].density[1]: density 7 is outside 0 to 6", shown[0])
	assert.Equal(t, "t.toml:41: strip[1].density[20]: density 7 is outside 0 to 6", shown[19])
	assert.Equal(t, "and 5 more", shown[20])
	var list Errors
	require.True(t, errors.As(err, &list))
	assert.Len(t, list, 25)
	assert.Equal(t, &Error{File: "t.toml", Line: 46, Key: "strip[1].density[25]", Msg: "density 7 is outside 0 to 6"}, list[24])
}

func TestReadFails(t *testing.T) {
	broken := errors.New("lamp out")
	trial, err := Read("t.toml", iotest.ErrReader(broken))
	assert.Nil(t, trial)
	assert.ErrorIs(t, err, broken)
	assert.EqualError(t, err, "t.toml: lamp out")
	_, err = ReadFile(filepath.Join(t.TempDir(), "none.toml"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	assert.ErrorContains(t, err, "none.toml")
}

const demo = "../../cmd/sensito/demo"

func TestDemo(t *testing.T) {
	for name, want := range map[string]struct {
		strips, steps, read int
		first, last         sensito.Minutes
	}{
		"larkfield-brinewater.toml": {5, 21, 5*21 - 1, 4, 10},
		"larkfield-camera.toml":     {3, 12, 3 * 12, 5, 8},
		"tern-ashlar.toml":          {4, 31, 4*31 - 1, 5.5, 12},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(demo, name)
			trial, err := ReadFile(path)
			require.NoError(t, err)
			ss := trial.Strips()
			require.Len(t, ss, want.strips)
			assert.Equal(t, want.first, ss[0].Minutes())
			assert.Equal(t, want.last, ss[len(ss)-1].Minutes())
			n := 0
			for _, s := range ss {
				assert.NotEmpty(t, s.BaseFog())
				require.Len(t, s.Steps(), want.steps)
				for _, step := range s.Steps() {
					if step.Read() {
						n++
					}
				}
			}
			assert.Equal(t, want.read, n)

			text, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.True(t, strings.HasPrefix(string(text), "# Invented data."))
			for i, line := range strings.Split(string(text), "\n") {
				assert.LessOrEqual(t, len(line), 80, "line %d", i+1)
			}
		})
	}
}

// TestGeneratedTrials writes trials of any values and layout as a person might
// and checks that the values come back.
func TestGeneratedTrials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hundredths := func(lo, hi int, label string) float64 {
			return float64(rapid.IntRange(lo, hi).Draw(t, label)) / 100
		}
		list := func(xs []float64) string {
			sep := rapid.SampledFrom([]string{", ", ",\n  ", ", # read twice\n"}).Draw(t, "separator")
			var b strings.Builder
			b.WriteByte('[')
			for _, x := range xs {
				b.WriteString(strings.ToLower(strconv.FormatFloat(x, 'f', -1, 64)) + sep)
			}
			return b.String() + "]"
		}
		var b strings.Builder
		words := rapid.StringMatching(`[!-~äøπ][ -~äøπ]{0,19}`)
		name, title := words.Draw(t, "name"), words.Draw(t, "title")
		fmt.Fprintf(&b, "title = %s\n[film]\nname = %s\n", tomlQuote(title), tomlQuote(name))
		celsius := 0.0
		if rapid.Bool().Draw(t, "temperature known") {
			celsius = hundredths(1500, 3000, "temperature")
			fmt.Fprintf(&b, "[process]\ntemperature_c = %g\n", celsius)
		}
		steps := rapid.IntRange(3, 40).Draw(t, "steps")
		wedge := make([]float64, steps)
		d := hundredths(0, 20, "first")
		for i := range wedge {
			wedge[i] = d
			d = math.Round(100*d+float64(rapid.IntRange(1, 14).Draw(t, "step"))) / 100
		}
		lx, sec := hundredths(1, 1000, "lx"), hundredths(1, 1000, "seconds")
		fmt.Fprintf(&b, "[exposure]\nkind = 'contact'\nilluminance_lx = %g\nseconds = %g\nwedge = %s\n", lx, sec, list(wedge))

		type written struct {
			seconds      int
			fog, density []float64
			ignore       int
		}
		var want []written
		for range rapid.IntRange(1, 5).Draw(t, "strips") {
			w := written{seconds: rapid.IntRange(3, 86400).Draw(t, "time"), ignore: rapid.IntRange(1, steps).Draw(t, "ignore")}
			for range rapid.IntRange(0, 3).Draw(t, "fogs") {
				w.fog = append(w.fog, hundredths(0, 40, "fog"))
			}
			for range steps {
				x := math.NaN()
				if rapid.IntRange(0, 9).Draw(t, "gap") > 0 {
					x = hundredths(0, 600, "density")
				}
				w.density = append(w.density, x)
			}
			minutes := strconv.FormatFloat(float64(w.seconds)/60, 'g', -1, 64)
			switch h, m, s := w.seconds/3600, w.seconds/60, w.seconds%60; {
			case rapid.Bool().Draw(t, "as number"):
			case rapid.Bool().Draw(t, "with hours"):
				minutes = fmt.Sprintf("'%d:%02d:%02d'", h, m%60, s)
			default:
				minutes = fmt.Sprintf("'%d:%02d'", m, s)
			}
			fmt.Fprintf(&b, "[[strip]]\nminutes = %s\nbase_fog = %s\ndensity = %s\nignore = [%d]\n", minutes, list(w.fog), list(w.density), w.ignore)
			want = append(want, w)
		}

		trial := read(t, b.String())
		require.Equal(t, title, trial.Title())
		require.Equal(t, name, trial.Film().Name)
		require.Equal(t, fmt.Sprint(celsius), fmt.Sprint(trial.Process().TemperatureC))
		require.Len(t, trial.Strips(), len(want))
		for i, s := range trial.Strips() {
			w := want[i]
			require.InDelta(t, float64(w.seconds)/60, float64(s.Minutes()), 1e-9)
			require.Equal(t, len(w.fog), len(s.BaseFog()))
			for j, d := range s.BaseFog() {
				require.Equal(t, w.fog[j], float64(d))
			}
			require.Len(t, s.Steps(), steps)
			for j, step := range s.Steps() {
				require.Equal(t, fmt.Sprint(w.density[j]), fmt.Sprint(step.Density))
				require.InDelta(t, math.Log10(lx*sec)-wedge[j], float64(step.LogH), 1e-12)
				require.Equal(t, w.ignore == j+1, step.Ignored)
			}
		}
	})
}

// tomlQuote quotes printable text; TOML wants only these two escaped.
func tomlQuote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}

// requireLocated says that an error names faults of a file, each with its line.
func requireLocated(t require.TestingT, err error, file string) {
	var list Errors
	require.ErrorAs(t, err, &list)
	require.NotEmpty(t, list)
	for _, e := range list {
		require.GreaterOrEqual(t, e.Line, 1)
		require.LessOrEqual(t, e.Line, 1+strings.Count(file, "\n"))
		require.NotEmpty(t, e.Msg)
	}
}

// FuzzRead: an error has a line and no trial; what is read once is read again
// the same, and from its canonical form as well; nothing panics.
func FuzzRead(f *testing.F) {
	paths, err := filepath.Glob(demo + "/*.toml")
	require.NoError(f, err)
	require.NotEmpty(f, paths)
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(string(data))
	}
	f.Add(notebooktest.Good)
	f.Add(byPicture)
	f.Add(notebooktest.GoodPaper)
	for _, c := range badCases {
		f.Add(c.file)
	}
	f.Fuzz(func(t *testing.T, file string) {
		trial, err := Read("t.toml", strings.NewReader(file))
		if err != nil {
			require.Nil(t, trial)
			requireLocated(t, err, file)
			return
		}
		require.NotNil(t, trial)
		want := notebooktest.Describe(trial)
		require.Equal(t, want, notebooktest.Describe(read(t, file)))
		require.Equal(t, want, notebooktest.Describe(read(t, string(Format(trial)))))
	})
}

func ExampleRead() {
	trial, err := Read("larkfield.toml", strings.NewReader(`
[film]
name = "Larkfield 125"

[exposure]
kind = "contact"
illuminance_lx = 2.0
seconds = 0.5
wedge = [0.05, 0.20, 0.35]

[[strip]]
minutes = "5:30"
density = [1.10, 0.95, 0.80]
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range trial.Strips()[0].Steps() {
		fmt.Printf("%d  %.2f  %.2f\n", s.Number, s.LogH, s.Density)
	}
	// Output:
	// 1  -0.05  1.10
	// 2  -0.20  0.95
	// 3  -0.35  0.80
}

func ExampleRead_faults() {
	_, err := Read("larkfield.toml", strings.NewReader(`
[film]
nome = "Larkfield 125"

[exposure]
kind = "relative"
log_h = [0.0, 0.3, 0.6]

[[strip]]
minutes = "5:75"
density = [
  0.20,
  61,
  0.80,
]
`))
	fmt.Println(err)
	// Output:
	// larkfield.toml:3: film.nome: unknown key; did you mean "name"?
	// larkfield.toml:10: strip[1].minutes: "5:75" is not a time like 5:30 or 1:02:30
	// larkfield.toml:13: strip[1].density[2]: density 61 is outside 0 to 6
}
