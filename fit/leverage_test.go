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

// Readings that come and go change the sum of squares as the fits say that were made again.
func TestLeverageChange(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 1))
	curve := Bend{Base: 0.1, Gradient: 0.6, Toe: 0.8, ToeWidth: 0.13, Power: 1}
	d := BendData{Sigma: 0.01, Base: []float64{0.1, 0.1}, ToeWidth: Prior{Typical: 0.13, LnSD: 0.8}}
	for i := range 21 {
		x := 0.15 * float64(i)
		d.X, d.Y = append(d.X, x), append(d.Y, curve.At(x)+1e-4*r.NormFloat64())
	}
	less := func(drop ...int) BendData {
		out := d
		out.X, out.Y = nil, nil
		for i := range d.X {
			if !slices.Contains(drop, i) {
				out.X, out.Y = append(out.X, d.X[i]), append(out.Y, d.Y[i])
			}
		}
		return out
	}
	fitted := func(drop ...int) BendFit { return FitBend(new(Solver), less(drop...), ToeLine, nil) }
	all := fitted()
	for _, c := range []struct{ from, with, without []int }{
		{nil, nil, []int{4}}, {nil, nil, []int{3, 20}}, {[]int{7}, []int{7}, nil}, {[]int{9, 10}, []int{9, 10}, nil},
		{[]int{6}, []int{6}, []int{5}}, {[]int{20}, []int{20}, []int{0, 1}},
	} {
		b := fitted(c.from...)
		due := fitted(c.without...).RSS - b.RSS
		b.M = all.M
		assert.InDelta(t, due, b.Leverage(d).Change(c.with, c.without), 2e-3*all.RSS, "%+v", c)
	}
}
