package plottest

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// root returns the folder of the module.
func root(t testing.TB) string {
	t.Helper()
	_, file, _, ok := runtime.Caller(0)
	require.True(t, ok)
	return filepath.Join(filepath.Dir(file), "..", "..", "..")
}

// Demo reads one of the invented trials that the demo command writes.
func Demo(t testing.TB, name string) *sensito.Trial {
	t.Helper()
	trial, err := notebook.ReadFile(filepath.Join(root(t), "cmd", "sensito", "demo", name+".toml"))
	require.NoError(t, err)
	return trial
}

func Measured(t testing.TB, trial *sensito.Trial) []*curve.Measured {
	t.Helper()
	var out []*curve.Measured
	for _, s := range trial.Strips() {
		m, err := curve.Measure(s, curve.MeasureOptions{})
		require.NoError(t, err)
		out = append(out, m)
	}
	return out
}

func Family(t testing.TB, trial *sensito.Trial) *development.Family {
	t.Helper()
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// Softplus is the rounded corner of the curves made here.
func Softplus(u, w float64) float64 { return w * math.Log1p(math.Exp(u/w)) }

// MadeUp returns an invented trial of strips for the given times, on a wedge
// of 21 steps, with noise of 0.01. Slip makes step 9 of strip 1 read 0.15 too
// high, and one step of it is not read.
func MadeUp(t testing.TB, exposures func([]float64) (sensito.Exposures, error), slip bool, minutes ...float64) *sensito.Trial {
	t.Helper()
	logH := make([]float64, 21)
	for i := range logH {
		logH[i] = 0 - 0.05 - 0.15*float64(i)
	}
	e, err := exposures(logH)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(1, 2))
	spec := sensito.TrialSpec{
		Title:     "Larkfield 125 in Brinewater 1+19",
		Film:      sensito.Film{Name: "Larkfield 125", Batch: "0417", RatedSpeed: 125},
		Process:   sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20, Agitation: sensito.AgitationContinuous},
		Exposures: e,
	}
	for k, tm := range minutes {
		gamma := 1.05 * (1 - math.Exp(-0.16*tm))
		s := sensito.StripSpec{Minutes: sensito.Minutes(tm), BaseFog: []sensito.Density{0.10, 0.11}, Process: spec.Process}
		for i, h := range logH {
			d := 0.10 + 0.002*tm + gamma*Softplus(h+2.1, 0.13) + 0.01*rng.NormFloat64()
			if slip && k == 0 && i == 8 {
				d += 0.15
			}
			if slip && k == 0 && i == 12 {
				d = math.NaN()
			}
			s.Density = append(s.Density, sensito.Density(math.Round(100*d)/100))
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

// Contact gives the exposures under a wedge at 1 lx s.
func Contact(logH []float64) (sensito.Exposures, error) {
	wedge := make([]sensito.Density, len(logH))
	for i, h := range logH {
		wedge[i] = sensito.Density(-h)
	}
	return sensito.NewContact(1, 1, wedge)
}

func Relative(logH []float64) (sensito.Exposures, error) {
	out := make([]sensito.LogExposure, len(logH))
	for i, h := range logH {
		out[i] = sensito.LogExposure(h)
	}
	return sensito.NewRelative(out)
}

// Ignoring returns a trial with steps of every strip set aside by the photographer.
func Ignoring(t testing.TB, trial *sensito.Trial, steps ...int) *sensito.Trial {
	t.Helper()
	spec := sensito.TrialSpec{Title: trial.Title(), Film: trial.Film(), Process: trial.Process(), Exposures: trial.Exposures(), Reading: trial.Reading()}
	for _, s := range trial.Strips() {
		out := sensito.StripSpec{Minutes: s.Minutes(), BaseFog: s.BaseFog(), Process: s.Process(), Ignore: steps}
		for _, step := range s.Steps() {
			out.Density = append(out.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, out)
	}
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}

// Proposal proposes what to test for a scene of so many stops.
func Proposal(t testing.TB, trial *sensito.Trial, stops float64, o testplan.Options) *testplan.Proposal {
	t.Helper()
	p, err := testplan.Propose(Family(t, trial), SceneOf(stops), o)
	require.NoError(t, err)
	return p
}

func SceneOf(stops float64) scene.Scene { return scene.Scene{Stops: stops} }

var EightTimes = []float64{3, 4, 5, 6, 7.5, 9, 11, 14}

func MeasuredPaper(t testing.TB, trial *sensito.Trial) *paper.Paper {
	t.Helper()
	p, err := paper.Measure(trial, curve.FitOptions{})
	require.NoError(t, err)
	return p
}
