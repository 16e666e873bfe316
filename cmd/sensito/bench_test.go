package main

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/demo"
	"sensito/fit"
	"sensito/fit/cputime"
	"sensito/sensito"
	"sensito/sensito/notebook"
)

// BenchmarkCurveCommand measures the whole command over many files, from
// reading to JSON, in one process.
func BenchmarkCurveCommand(b *testing.B) {
	for _, trial := range []string{demoMain, demoShoulder} {
		for _, files := range []int{20, 200} {
			b.Run(fmt.Sprintf("trial=%s/files=%d", trial, files), func(b *testing.B) {
				data, err := demo.Read(trial)
				require.NoError(b, err)
				dir := b.TempDir()
				args := []string{"curve", "--json"}
				for i := range files {
					path := filepath.Join(dir, fmt.Sprintf("%d.toml", i))
					require.NoError(b, os.WriteFile(path, data, 0o600))
					args = append(args, path)
				}
				strips := 0
				for b.Loop() {
					require.Zero(b, run(args, nil, io.Discard, io.Discard))
					strips += files * map[string]int{demoMain: 5, demoShoulder: 4}[trial]
				}
				b.ReportMetric(float64(strips)/b.Elapsed().Seconds(), "strips/s")
			})
		}
	}
}

// ofDemo returns a trial of the demo, of each strip of which one reading is off by a slip.
func ofDemo(t testing.TB, file string, slip sensito.Density) sensito.TrialSpec {
	data, err := demo.Read(file)
	require.NoError(t, err)
	trial, err := notebook.Read(file, bytes.NewReader(data))
	require.NoError(t, err)
	spec := trial.Spec()
	for _, strip := range spec.Strips {
		strip.Density[len(strip.Density)/3] += slip
	}
	return spec
}

// oneStripFiles returns files of one strip each, so many for every strip of a trial.
func oneStripFiles(t testing.TB, spec sensito.TrialSpec, copies int) (paths []string) {
	dir := t.TempDir()
	for i, strip := range spec.Strips {
		one := spec
		one.Strips = []sensito.StripSpec{strip}
		of, err := sensito.NewTrial(one)
		require.NoError(t, err)
		for k := range copies {
			path := filepath.Join(dir, fmt.Sprintf("%d-%d.toml", i, k))
			require.NoError(t, os.WriteFile(path, notebook.Format(of), 0o600))
			paths = append(paths, path)
		}
	}
	return paths
}

// Memory is taken and given back for every piece that is asked for, and cleared by all
// cores when it is full: with 511 pieces for a strip that took a fifth of the time. What
// the command takes to start is not counted.
func TestAllocationsOfOneStrip(t *testing.T) {
	const most = 200
	if info, ok := debug.ReadBuildInfo(); ok && slices.Contains(info.Settings, debug.BuildSetting{Key: "-race", Value: "true"}) {
		t.Skip("memory is not used again where races are looked for")
	}
	const copies = 20
	paths := oneStripFiles(t, ofDemo(t, demoMain, 0), copies)
	allocations := func(n int) float64 { // of each strip alike
		args := []string{"curve", "--json"}
		for i := range n {
			args = append(args, paths[i*copies%len(paths)+i/5])
		}
		return testing.AllocsPerRun(3, func() { require.Zero(t, run(args, nil, io.Discard, io.Discard)) })
	}
	few, many := 5, len(paths)
	got := (allocations(many) - allocations(few)) / float64(many-few)
	t.Logf("%.0f allocations a strip", got)
	assert.LessOrEqual(t, got, float64(most))
}

// BenchmarkOneStrip measures the whole command over files of one strip each, from
// reading to JSON, by the processor's time: of the demo's films of toe and line and of one
// with a shoulder, and of simulated ones, clean and with one reading that is too high. A
// slip should cost at most half as much again as the same film without.
func BenchmarkOneStrip(b *testing.B) {
	films := map[string]fit.Bend{
		"toe-line": {Base: 0.12, Gradient: 0.65, Toe: -2.2, ToeWidth: 0.13, Power: 1},
		"shoulder": {Base: 0.12, Gradient: 0.65, Toe: -2.2, ToeWidth: 0.13, Power: 1, Shoulder: -0.8, ShoulderWidth: 0.25},
		"curve":    {Base: 0.12, Gradient: 0.5, Toe: -2.2, ToeWidth: 0.13, Power: 1.2},
	}
	simulated := func(t testing.TB, film string, slip sensito.Density) (spec sensito.TrialSpec) {
		e, err := sensito.NewContact(math.Pow(10, 0.05), 1, sensito.EvenWedge(0.05, 0.15, 21))
		require.NoError(t, err)
		spec = sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
		for seed := range uint64(40) {
			r := rand.New(rand.NewPCG(8, 7+seed))
			strip := sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.12}}
			for _, h := range e.LogH() {
				d := films[film].At(float64(h)) + 0.01*r.NormFloat64()
				strip.Density = append(strip.Density, sensito.Density(math.Max(0, math.Round(100*d)/100)))
			}
			strip.Density[1+r.IntN(19)] += slip
			spec.Strips = append(spec.Strips, strip)
		}
		return spec
	}
	for _, c := range []struct {
		name  string
		spec  func(testing.TB, string, sensito.Density) sensito.TrialSpec
		film  string
		slips []sensito.Density
	}{
		{"demo", ofDemo, demoMain, []sensito.Density{0, 0.2}},
		{"demo-shoulder", ofDemo, demoShoulder, []sensito.Density{0, 0.2}},
		{"toe-line", simulated, "toe-line", []sensito.Density{0, 0.1, 0.2, 1}},
		{"shoulder", simulated, "shoulder", []sensito.Density{0, 0.1, 0.2, 1}},
		{"curve", simulated, "curve", []sensito.Density{0, 0.1, 0.2, 1}},
	} {
		for _, slip := range c.slips {
			b.Run(fmt.Sprintf("film=%s/slip=%.1f", c.name, slip), func(b *testing.B) {
				paths := oneStripFiles(b, c.spec(b, c.film, slip), 2)
				args := append([]string{"curve", "--json"}, paths...)
				b.ReportAllocs()
				cpu := cputime.Used(b)
				for b.Loop() {
					require.Zero(b, run(args, nil, io.Discard, io.Discard))
				}
				b.ReportMetric(float64((cputime.Used(b)-cpu).Microseconds())/float64(b.N*len(paths)), "cpu-us/strip")
				b.ReportMetric(float64(len(paths)), "strips/op")
			})
		}
	}
}

// BenchmarkCompareCommand measures the whole command over more and more trials.
// Each is fitted and brought to the gradient once, and a pair costs next to
// nothing beside that, so that four times the trials should cost at most five times as much.
func BenchmarkCompareCommand(b *testing.B) {
	for _, trials := range []int{2, 8, 32} {
		b.Run(fmt.Sprintf("trials=%d", trials), func(b *testing.B) {
			dir := b.TempDir()
			for i := range trials {
				data, err := demo.Read([]string{demoMain, demoShoulder}[i%2])
				require.NoError(b, err)
				require.NoError(b, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%d.toml", i)), data, 0o600))
			}
			cputime.Bench(b, func() error { return succeeds("compare", dir) })
		})
	}
}

// BenchmarkControlCommand measures the whole command over a long log, from reading
// to the report, and to the drawing beside it. Four times the strips should cost
// at most five times as much.
func BenchmarkControlCommand(b *testing.B) {
	for _, strips := range []int{2500, 10_000} {
		path := filepath.Join(b.TempDir(), "control.toml")
		require.NoError(b, os.WriteFile(path, driftingLog(strips), 0o600))
		for _, out := range []string{"", "control.svg"} {
			b.Run(fmt.Sprintf("strips=%d/plot=%t", strips, out != ""), func(b *testing.B) {
				args := []string{"control", path, "--rules", "nelson"}
				if out != "" {
					args = append(args, "--force", "--plot", filepath.Join(b.TempDir(), out))
				}
				cputime.Bench(b, func() error { return succeeds(args...) })
			})
		}
	}
}

// succeeds runs a command and returns an error where it does not succeed.
func succeeds(args ...string) error {
	var told bytes.Buffer
	if code := run(args, nil, io.Discard, &told); code != 0 {
		return fmt.Errorf("%v: exit code %d: %s", args, code, told.String())
	}
	return nil
}

// driftingLog returns a control log of a strip a day, whose contrast falls
// slowly.
func driftingLog(strips int) []byte {
	r := rand.New(rand.NewPCG(1, 1931))
	day := time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC)
	out := []byte("kind = \"control\"\nrepeatability = 0.01\n[aim]\nbase_fog = 0.10\nlow = 0.40\nhigh = 1.25\ngradient = 0.6\n")
	for i := range strips {
		low, high := 0.40-0.1*float64(i)/float64(strips), 1.25-0.3*float64(i)/float64(strips)
		out = fmt.Appendf(out, "[[strip]]\ndate = %s\nbase_fog = %.2f\nlow = %.2f\nhigh = %.2f\n", day.AddDate(0, 0, i).Format(time.DateOnly),
			0.10+0.007*r.NormFloat64(), low+0.007*r.NormFloat64(), high+0.01*r.NormFloat64())
	}
	return out
}
