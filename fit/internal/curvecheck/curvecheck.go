// Package curvecheck holds every curve of the numerics to what a curve owes, for their tests.
//
// Begin with Check.
package curvecheck

import (
	"math"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Curve is what every curve of the numerics answers.
type Curve interface {
	At(x float64) float64
	SlopeAt(x float64) float64
}

// Check checks what every curve owes: the slope is that of the values, inside the
// domain from lo to hi and on both sides of it; the curve does not fall on the domain;
// and the inverse by root, which is fit.Root, leads back.
func Check(t require.TestingT, c Curve, lo, hi float64, root func(f func(float64) float64, a, b, tol float64) (float64, error)) {
	reach := hi - lo
	scale, steepest := 0.0, 0.0
	for i := range 601 {
		x := lo + reach*float64(i-200)/200
		scale = math.Max(scale, math.Abs(c.At(x)))
		steepest = math.Max(steepest, c.SlopeAt(x))
	}
	checkSlope := func(x, h float64) {
		rounding := 0x1p-50 * (scale + steepest*math.Abs(x)) / h
		numeric := (c.At(x+h) - c.At(x-h)) / (2 * h)
		assert.InDelta(t, numeric, c.SlopeAt(x), 1e-6*math.Max(steepest, 1e-3)+rounding, "slope at %g", x)
	}
	// Three domains wide, at points that are not the ends, where a second
	// derivative may jump.
	for i := range 300 {
		checkSlope(lo+reach*(float64(i)-99.7)/100, 1e-5*reach)
	}
	checkSlope(lo-50*reach, 1e-3*reach)
	checkSlope(hi+50*reach, 1e-3*reach)
	for _, end := range []float64{lo, hi} {
		const eps = 1e-9
		assert.InDelta(t, c.At(end-eps*reach), c.At(end+eps*reach), 4*eps*reach*steepest+1e-14*scale, "value at the end %g", end)
		assert.InDelta(t, c.SlopeAt(end-eps*reach), c.SlopeAt(end+eps*reach), 1e-6*steepest+1e-13*scale/reach, "slope at the end %g", end)
	}

	last := c.At(lo)
	for i := range 201 {
		x := lo + reach*float64(i)/200
		y, slope := c.At(x), c.SlopeAt(x)
		assert.GreaterOrEqual(t, y, last-1e-14*scale, "falls before %g", x)
		assert.GreaterOrEqual(t, slope, -1e-13*math.Max(steepest, scale/reach), "slope at %g", x)
		last = y
		if 0 < i && i < 200 && slope > 1e-3*steepest && slope*reach > 1e-6*scale {
			back, err := root(func(v float64) float64 { return c.At(v) - y }, lo, hi, 0)
			require.NoError(t, err, "inverse at %g", x)
			assert.InDelta(t, x, back, 1e-8*reach, "inverse of %g", y)
			assert.InDelta(t, y, c.At(back), 4e-15*(scale+steepest*(reach+math.Abs(x))), "inverse of %g", y)
		}
	}
}
