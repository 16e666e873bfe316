package blind

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/paper"
)

// FamilyAt reads strips of a developing film at the given times on a bench.
func FamilyAt(t testing.TB, b simulated.Bench, r *rand.Rand, d simulated.Developing, minutes ...float64) *development.Family {
	var strips []sensito.StripSpec
	for _, m := range minutes {
		s := b.Read(r, d.At(m))
		s.Minutes = sensito.Minutes(m)
		strips = append(strips, s)
	}
	f, err := development.NewFamily(b.Trial(t, strips...), curve.MeasureOptions{})
	require.NoError(t, err, "%+v on %+v", d, b)
	return f
}

// Family draws a film of a class and a bench, and measures a family of five strips.
func Family(t testing.TB, p simulated.Practice, r *rand.Rand, class int) (simulated.Developing, simulated.Bench, *development.Family) {
	d, b := p.Developing(r, class), p.Bench(r)
	return d, b, FamilyAt(t, b, r, d, d.Minutes[:]...)
}

// ExactFamily returns a family of films as they are, read without noise or
// rounding.
func ExactFamily(t testing.TB, title string, e sensito.Exposures, zero sensito.Zero, minutes []float64, at func(minutes float64) simulated.Film) *development.Family {
	spec := sensito.TrialSpec{Title: title, Film: sensito.Film{Name: "Larkfield 125"}, Process: simulated.Tank, Exposures: e, Reading: sensito.Reading{Zero: zero}}
	for _, m := range minutes {
		f := at(m)
		s := sensito.StripSpec{Minutes: sensito.Minutes(m), Process: simulated.Tank, BaseFog: []sensito.Density{sensito.Density(f.Base)}}
		for _, h := range e.LogH() {
			s.Density = append(s.Density, sensito.Density(f.Density(float64(h))))
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// FamilyOf returns the family of a trial.
func FamilyOf(t testing.TB, spec sensito.TrialSpec) *development.Family {
	t.Helper()
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// MeasuredPaper returns the measured strip of a trial of a paper, which must show its
// range and its speed point.
func MeasuredPaper(t testing.TB, trial *sensito.Trial) *paper.Strip {
	t.Helper()
	p, err := paper.Measure(trial, curve.FitOptions{})
	require.NoError(t, err)
	require.NotNil(t, p.Strips[0].LogRange, "%v", p.Strips[0].Warnings)
	require.NotNil(t, p.Strips[0].SpeedPoint)
	return p.Strips[0]
}
