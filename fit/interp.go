package fit

import (
	"fmt"
	"math"
	"slices"
)

// Interpolant is a smooth curve through given points that rises where they rise
// and is level where they are: a piecewise cubic whose slopes at the points are
// bounded so that it does not overshoot (Fritsch and Carlson, SIAM J. Numer.
// Anal. 17, 238, 1980). Between two points it stays between their values; beyond
// the ends it goes on straight. It is made by NewInterpolant.
type Interpolant struct {
	x, y, slope []float64 // at the points
}

// NewInterpolant returns the curve through the points, two or more, of strictly
// rising x and non-falling y. The error names the first point that breaks the
// rule, counting from 0. It panics when x and y differ in length.
func NewInterpolant(x, y []float64) (Interpolant, error) {
	if len(x) != len(y) {
		panic("fit: points with unequal numbers of x and y")
	}
	if len(x) < 2 {
		return Interpolant{}, fmt.Errorf("%d points; an interpolant needs 2", len(x))
	}
	for i := range x {
		if !finite(x[i]) || !finite(y[i]) {
			return Interpolant{}, fmt.Errorf("point %d: (%g, %g) is not finite", i, x[i], y[i])
		}
		if i == 0 {
			continue
		}
		switch {
		case x[i] <= x[i-1]:
			return Interpolant{}, fmt.Errorf("point %d: x = %g does not rise from %g", i, x[i], x[i-1])
		case y[i] < y[i-1]:
			return Interpolant{}, fmt.Errorf("point %d: y = %g falls from %g", i, y[i], y[i-1])
		case math.IsInf((y[i]-y[i-1])/(x[i]-x[i-1]), 1):
			return Interpolant{}, fmt.Errorf("point %d: x = %g is too close to %g for a rise from %g to %g", i, x[i], x[i-1], y[i-1], y[i])
		}
	}
	return Interpolant{x: slices.Clone(x), y: slices.Clone(y), slope: knotSlopes(x, y)}, nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// knotSlopes returns the slopes at the points: inside, the weighted harmonic
// mean of the two neighbouring secants (Fritsch and Butland, SIAM J. Sci. Stat.
// Comput. 5, 300, 1984), zero beside a level piece, whose weight is infinite.
func knotSlopes(x, y []float64) []float64 {
	last := len(x) - 1
	gap, secant := make([]float64, last), make([]float64, last)
	for i := range last {
		gap[i] = x[i+1] - x[i]
		secant[i] = (y[i+1] - y[i]) / gap[i]
	}
	slope := make([]float64, last+1)
	if last == 1 {
		slope[0], slope[1] = secant[0], secant[0]
		return slope
	}
	slope[0] = endSlope(gap[0], gap[1], secant[0], secant[1])
	slope[last] = endSlope(gap[last-1], gap[last-2], secant[last-1], secant[last-2])
	for i := 1; i < last; i++ {
		before, after := gap[i-1]+2*gap[i], 2*gap[i-1]+gap[i]
		slope[i] = (before + after) / (before/secant[i-1] + after/secant[i])
	}
	return slope
}

// endSlope returns the slope at an end of the parabola through the three points
// next to it, or zero where that falls. On data that do not fall it is below
// twice the outer secant, so no upper bound is needed.
func endSlope(gap, nextGap, secant, nextSecant float64) float64 {
	return math.Max(0, ((2*gap+nextGap)*secant-gap*nextSecant)/(gap+nextGap))
}

// AtSlope returns the curve's value and derivative at x. At a point given to
// NewInterpolant the value is exactly the one given.
func (p Interpolant) AtSlope(x float64) (y, slope float64) {
	i, exact := slices.BinarySearch(p.x, x)
	switch {
	case exact:
		return p.y[i], p.slope[i]
	case i == 0:
		return p.y[0] + p.slope[0]*(x-p.x[0]), p.slope[0]
	case i == len(p.x):
		i--
		return p.y[i] + p.slope[i]*(x-p.x[i]), p.slope[i]
	}
	// In Bernstein's form no term of the value is negative.
	gap, left, right := p.x[i]-p.x[i-1], p.slope[i-1], p.slope[i]
	secant := (p.y[i] - p.y[i-1]) / gap
	u, v := (x-p.x[i-1])/gap, (p.x[i]-x)/gap
	y = p.y[i-1] + gap*u*(left*v*v+(3*secant-right)*u*v+secant*u*u)
	return y, left*v*v + 2*(3*secant-left-right)*u*v + right*u*u
}

// At returns the curve's value at x.
func (p Interpolant) At(x float64) float64 {
	y, _ := p.AtSlope(x)
	return y
}

// SlopeAt returns the derivative of the curve at x.
func (p Interpolant) SlopeAt(x float64) float64 {
	_, slope := p.AtSlope(x)
	return slope
}
