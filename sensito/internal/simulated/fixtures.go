package simulated

import (
	"math"
	"math/rand/v2"
	"sensito/fit"
	"sensito/sensito"
	"testing"

	"github.com/stretchr/testify/require"
)

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

// TwoEmulsions is a film of two emulsions, of which no form is.
func TwoEmulsions(x float64) float64 {
	fast := fit.Bend{Gradient: 0.35, Toe: -2.3, ToeWidth: 0.13, Power: 1, Shoulder: -0.9, ShoulderWidth: 0.2}
	slow := fit.Bend{Gradient: 0.3, Toe: -2, ToeWidth: 0.15, Power: 1, Shoulder: -0.4, ShoulderWidth: 0.25}
	return 0.15 + fast.At(x) + slow.At(x)
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
