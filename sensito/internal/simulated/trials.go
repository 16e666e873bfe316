package simulated

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// ContactWedge returns exposures under a wedge of so many steps from log H -3 to 0,
// read from either end.
func ContactWedge(t testing.TB, steps int, reversed bool) sensito.Exposures {
	step := sensito.Density(3.0 / float64(steps-1))
	first := sensito.Density(0.05)
	if reversed {
		first, step = first+step*sensito.Density(steps-1), -step
	}
	e, err := sensito.NewContact(math.Pow(10, 0.05), 1, sensito.EvenWedge(first, step, steps))
	require.NoError(t, err)
	return e
}

// Readings returns what a densitometer reads of a film on these exposures.
func Readings(r *rand.Rand, e sensito.Exposures, f Film, noise float64) []sensito.Density {
	var out []sensito.Density
	for _, h := range e.LogH() {
		d := f.Density(float64(h)) + noise*r.NormFloat64()
		out = append(out, sensito.Density(math.Max(0, math.Round(100*d)/100)))
	}
	return out
}

// OneStrip returns the strip of a trial that has no other.
func OneStrip(t testing.TB, e sensito.Exposures, s sensito.StripSpec) *sensito.Strip {
	trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e, Strips: []sensito.StripSpec{s}})
	require.NoError(t, err)
	return trial.Strips()[0]
}

// WedgeOf returns exposures under a wedge of 21 steps, given the log exposure with
// nothing in between and what standard deviation all share.
func WedgeOf(t testing.TB, lamp float64, sd sensito.LogRange) sensito.Exposures {
	e, err := sensito.NewContact(math.Pow(10, lamp), 1, sensito.EvenWedge(0.05, 0.15, 21))
	require.NoError(t, err)
	e, err = e.WithCommonSD(sd)
	require.NoError(t, err)
	return e
}

// FiveTimes are development times of a family, in minutes.
var FiveTimes = []float64{4, 5.5, 7, 9, 12}

// ModelTrial returns a trial of model films developed for the given times, with
// gamma 0.95 (1 - exp(-0.15 t)), whose exposures reach over eight stops.
func ModelTrial(t testing.TB, minutes ...float64) *sensito.Trial {
	e, err := sensito.NewContact(math.Pow(10, 0.35), 1, sensito.EvenWedge(0.05, 0.1, 31))
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(21, 1))
	spec := sensito.TrialSpec{Title: "Larkfield 125 in Brinewater", Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
	for _, m := range minutes {
		spec.Strips = append(spec.Strips, sensito.StripSpec{Minutes: sensito.Minutes(m), BaseFog: []sensito.Density{0.12},
			Density: Readings(r, e, ModelFilm(GammaAt(m)), 0.01)})
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

// EditedTrial returns a trial with its strips changed.
func EditedTrial(t testing.TB, trial *sensito.Trial, change func(i int, s *sensito.StripSpec)) *sensito.Trial {
	spec := sensito.TrialSpec{Film: trial.Film(), Process: trial.Process(), Exposures: trial.Exposures(), Reading: trial.Reading()}
	for i, strip := range trial.Strips() {
		s := sensito.StripSpec{Minutes: strip.Minutes(), BaseFog: strip.BaseFog()}
		for _, step := range strip.Steps() {
			s.Density = append(s.Density, step.Density)
		}
		change(i, &s)
		spec.Strips = append(spec.Strips, s)
	}
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}

// CutTrial returns a trial without its first steps, exposures and all.
func CutTrial(t testing.TB, trial *sensito.Trial, steps int) *sensito.Trial {
	e, err := sensito.NewRelative(trial.Exposures().LogH()[steps:])
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: trial.Film(), Exposures: e}
	for _, strip := range trial.Strips() {
		s := sensito.StripSpec{Minutes: strip.Minutes(), BaseFog: strip.BaseFog()}
		for _, step := range strip.Steps()[steps:] {
			s.Density = append(s.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, s)
	}
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}

// TrialOf returns a trial of one strip that was developed so.
func TrialOf(t testing.TB, process sensito.Process) *sensito.Trial {
	t.Helper()
	exposures, err := sensito.NewRelative([]sensito.LogExposure{0, -0.3, -0.6})
	require.NoError(t, err)
	trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: process, Exposures: exposures,
		Strips: []sensito.StripSpec{{Minutes: 10, Density: []sensito.Density{1.2, 0.8, 0.4}}}})
	require.NoError(t, err)
	return trial
}

// StripOf returns a strip of 31 steps of 0.10, read with the given noise.
func StripOf(t testing.TB, density func(x float64) float64, noise float64, seed uint64) *sensito.Strip {
	const steps, step = 31, 0.10
	rnd := rand.New(rand.NewPCG(seed, 4))
	strip := sensito.StripSpec{Minutes: 8, BaseFog: []sensito.Density{0.15, 0.15}}
	var logH []sensito.LogExposure
	for i := range steps {
		x := -float64(i) * step
		logH = append(logH, sensito.LogExposure(x))
		strip.Density = append(strip.Density, sensito.Density(math.Round(100*(density(x)+noise*rnd.NormFloat64()))/100))
	}
	exposures, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: exposures, Strips: []sensito.StripSpec{strip}})
	require.NoError(t, err)
	return trial.Strips()[0]
}

// KineticTrial returns a trial of exact strips that grow by first-order
// kinetics about a fixed toe.
func KineticTrial(t testing.TB, process sensito.Process) *sensito.Trial {
	t.Helper()
	logH := make([]sensito.LogExposure, 21)
	wedge := sensito.EvenWedge(0.05, 0.15, 21)
	for i := range logH {
		logH[i] = sensito.LogExposure(-wedge[i])
	}
	e, err := sensito.NewContact(1, 1, wedge)
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: process, Exposures: e}
	for _, minutes := range []float64{4, 5.5, 7, 10} {
		gamma := 1.1 * (1 - math.Exp(-0.15*minutes))
		s := sensito.StripSpec{Minutes: sensito.Minutes(minutes), BaseFog: []sensito.Density{0.10}}
		for _, h := range logH {
			u := float64(h) + 2.1
			s.Density = append(s.Density, sensito.Density(0.10+gamma*0.13*math.Log1p(math.Exp(u/0.13))))
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

// InPictures returns a trial whose strips of these numbers, all where none is given, were read
// by a calibration.
func InPictures(t testing.TB, trial *sensito.Trial, numbers ...int) *sensito.Trial {
	t.Helper()
	spec := trial.Spec()
	spec.Calibrations = []sensito.Calibration{{Name: "bed", Repeatability: 0.006, Covariance: [3][3]float64{{1e-4, 0, 0}, {0, 1e-4, 0}, {0, 0, 1e-6}}}}
	for i := range spec.Strips {
		if len(numbers) == 0 || slices.Contains(numbers, i+1) {
			spec.Strips[i].Calibration = "bed"
		}
	}
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}
