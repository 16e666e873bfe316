package sensito

import (
	"math"
	"math/rand/v2"
	"sensito/fit"
	"testing"

	"github.com/stretchr/testify/require"
)

// trialOf returns a trial of one strip that was developed so.
func trialOf(t testing.TB, process Process) *Trial {
	t.Helper()
	exposures, err := NewRelative([]LogExposure{0, -0.3, -0.6})
	require.NoError(t, err)
	trial, err := NewTrial(TrialSpec{Film: Film{Name: "Larkfield 125"}, Process: process, Exposures: exposures,
		Strips: []StripSpec{{Minutes: 10, Density: []Density{1.2, 0.8, 0.4}}}})
	require.NoError(t, err)
	return trial
}

// twoEmulsions is a film of two emulsions, of which no form is.
func twoEmulsions(x float64) float64 {
	fast := fit.Bend{Gradient: 0.35, Toe: -2.3, ToeWidth: 0.13, Power: 1, Shoulder: -0.9, ShoulderWidth: 0.2}
	slow := fit.Bend{Gradient: 0.3, Toe: -2, ToeWidth: 0.15, Power: 1, Shoulder: -0.4, ShoulderWidth: 0.25}
	return 0.15 + fast.At(x) + slow.At(x)
}

// stripOf returns a strip of 31 steps of 0.10, read with the given noise.
func stripOf(t testing.TB, density func(x float64) float64, noise float64, seed uint64) *Strip {
	const steps, step = 31, 0.10
	rnd := rand.New(rand.NewPCG(seed, 4))
	strip := StripSpec{Minutes: 8, BaseFog: []Density{0.15, 0.15}}
	var logH []LogExposure
	for i := range steps {
		x := -float64(i) * step
		logH = append(logH, LogExposure(x))
		strip.Density = append(strip.Density, Density(math.Round(100*(density(x)+noise*rnd.NormFloat64()))/100))
	}
	exposures, err := NewRelative(logH)
	require.NoError(t, err)
	trial, err := NewTrial(TrialSpec{Film: Film{Name: "Larkfield 125"}, Exposures: exposures, Strips: []StripSpec{strip}})
	require.NoError(t, err)
	return trial.Strips()[0]
}

// kineticTrial returns a trial of exact strips that grow by first-order
// kinetics about a fixed toe.
func kineticTrial(t testing.TB, process Process) *Trial {
	t.Helper()
	logH := make([]LogExposure, 21)
	wedge := EvenWedge(0.05, 0.15, 21)
	for i := range logH {
		logH[i] = LogExposure(-wedge[i])
	}
	e, err := NewContact(1, 1, wedge)
	require.NoError(t, err)
	spec := TrialSpec{Film: Film{Name: "Larkfield 125"}, Process: process, Exposures: e}
	for _, minutes := range []float64{4, 5.5, 7, 10} {
		gamma := 1.1 * (1 - math.Exp(-0.15*minutes))
		s := StripSpec{Minutes: Minutes(minutes), BaseFog: []Density{0.10}}
		for _, h := range logH {
			u := float64(h) + 2.1
			s.Density = append(s.Density, Density(0.10+gamma*0.13*math.Log1p(math.Exp(u/0.13))))
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := NewTrial(spec)
	require.NoError(t, err)
	return trial
}
