package fit

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// What is left without readings, against the hat matrix, and against a fit to the
// others; directions can only lower it.
func TestSpareWithout(t *testing.T) {
	d := noisy(strip(usual(ToeLine), 21), rand.New(rand.NewPCG(5, 11)))
	d.ToeWidth, d.Y[9] = Prior{}, d.Y[9]+0.2
	f := FitBend(new(Solver), d, ToeLine, nil)
	l := f.Leverage(d)
	s := l.Spare(nil)
	e := l.Residuals[9]
	assert.InDelta(t, f.RSS-e*e/(1-l.Hat(9, 9)), s.Without(9), 1e-3*f.RSS)
	others := d
	others.X, others.Y = slices.Delete(slices.Clone(d.X), 9, 10), slices.Delete(slices.Clone(d.Y), 9, 10)
	assert.InEpsilon(t, FitBend(new(Solver), others, ToeLine, nil).RSS, s.Without(9), 0.3)
	z := make([]float64, len(d.X))
	z[9] = 1
	assert.InDelta(t, s.Without(9), l.Spare([][]float64{z}).rss, 1e-6)
	assert.InDelta(t, s.Without(4, 9), s.Without(9, 4), 1e-6)
	assert.Equal(t, Beaten, FitBendBelow(new(Solver), d, ToeShoulder, d.Start(ToeShoulder, 2), 1e-3).Status)
}
