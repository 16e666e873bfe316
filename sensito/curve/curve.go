// Package curve is the characteristic curve of one strip, of film or of paper:
// which form follows the readings, which readings are slips, and every quantity of
// a strip of film with its error: speed, contrast index, gradients, fog. Those of
// paper stand in package paper.
//
// Begin with MeasureTrial for the strips of a film, which share what they tell of its
// shape (package joint), and Measure for one strip by itself;
// Derive gives any other quantity of a fitted curve with the error that follows
// from the full covariance of the fit.
package curve

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/fit/smooth"
	"sensito/sensito"
)

// Curve is a characteristic curve: density against log exposure.
type Curve interface {
	// Density returns the gross density at h. Outside the domain it follows
	// the same formula, so that Slope is its derivative everywhere.
	Density(h sensito.LogExposure) sensito.Density

	// Slope returns dD/dlogH at h, in density per decade of exposure.
	Slope(h sensito.LogExposure) float64

	// LogExposure returns the exposure that gives density d, on the rising
	// part of the curve. The error wraps ErrOutOfRange when the curve does not
	// reach d within reach of its domain.
	LogExposure(d sensito.Density) (sensito.LogExposure, error)

	// Domain returns the range of exposures the curve rests on.
	Domain() (lo, hi sensito.LogExposure)
}

// A based curve knows its base plus fog apart from its lowest reading.
type based interface{ BaseFog() sensito.Density }

// BaseFog returns the density of unexposed, developed film: the curve's own
// when it has one, otherwise the density at the faint end of its domain.
func BaseFog(c Curve) sensito.Density {
	if b, ok := c.(based); ok {
		return b.BaseFog()
	}
	lo, _ := c.Domain()
	return c.Density(lo)
}

// A Topped curve knows the density that it tends to with more exposure, infinite where that
// has no end.
type Topped interface{ MaxDensity() sensito.Density }

// MaxDensity returns the density that a curve tends to, infinite where it does not know it.
func MaxDensity(c Curve) sensito.Density {
	if t, ok := c.(Topped); ok {
		return t.MaxDensity()
	}
	return sensito.Density(math.Inf(1))
}

// Reach is how far beyond its domain a curve may be followed, one stop. A
// result that needs more is not given; one that needs less carries a warning.
const Reach = sensito.Stop

// bendCurve is the toe-line-shoulder model over the exposures of a strip. Curves are
// pointers to it, since it is too large to be copied on every look at it.
type bendCurve struct {
	fit.Bend
	lo, hi sensito.LogExposure
}

func (c *bendCurve) Density(h sensito.LogExposure) sensito.Density {
	return sensito.Density(c.At(float64(h)))
}
func (c *bendCurve) Slope(h sensito.LogExposure) float64  { return c.SlopeAt(float64(h)) }
func (c *bendCurve) BaseFog() sensito.Density             { return sensito.Density(c.Base) }
func (c *bendCurve) Domain() (lo, hi sensito.LogExposure) { return c.lo, c.hi }

func (c *bendCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return Inverse(c, c.AtSlope, d)
}

// MaxDensity returns the density that the curve tends to, +Inf without a
// shoulder.
func (c *bendCurve) MaxDensity() sensito.Density {
	if c.ShoulderWidth == 0 {
		return sensito.Density(math.Inf(1))
	}
	return sensito.Density(c.Base + c.Gradient*(c.Shoulder-c.Toe))
}

// splineCurve is a smooth rising curve over the exposures of a strip.
type splineCurve struct {
	smooth.Spline
	lo, hi sensito.LogExposure
}

func (c splineCurve) Density(h sensito.LogExposure) sensito.Density {
	return sensito.Density(c.At(float64(h)))
}
func (c splineCurve) Slope(h sensito.LogExposure) float64  { return c.SlopeAt(float64(h)) }
func (c splineCurve) BaseFog() sensito.Density             { return sensito.Density(c.Coef[0]) }
func (c splineCurve) Domain() (lo, hi sensito.LogExposure) { return c.lo, c.hi }

func (c splineCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return Inverse(c, c.AtSlope, d)
}

// Inverse solves c.Density(h) = d within Reach of the domain; at returns density
// and slope. The error wraps ErrOutOfRange where there is no such exposure.
func Inverse(c Curve, at func(x float64) (y, slope float64), d sensito.Density) (sensito.LogExposure, error) {
	lo, hi := c.Domain()
	short := func(x float64) (float64, float64) {
		y, slope := at(x)
		return y - float64(d), slope
	}
	// The first guess is Newton's step from the dense end, from where a toe is
	// approached without overshooting.
	y, slope := short(float64(hi))
	x, err := fit.Newton(short, float64(lo.Add(-Reach)), float64(hi.Add(Reach)), float64(hi)-y/slope, RootTolerance)
	if err != nil {
		return 0, fmt.Errorf("density %.2f: %w", float64(d), sensito.ErrOutOfRange)
	}
	return sensito.LogExposure(x), nil
}

// RootTolerance is the tolerance of solved exposures: far below any reading, yet
// coarse enough for differences of solved values to be smooth.
const RootTolerance = 1e-11

// Steepest returns the largest slope within the domain and where it is.
func Steepest(c Curve) (slope float64, at sensito.LogExposure) {
	lo, hi := c.Domain()
	if b, ok := c.(*bendCurve); ok && b.ShoulderWidth == 0 && b.Power >= 1 { // steeper all the way
		return c.Slope(hi), hi
	}
	const n = 16
	best := math.Inf(-1)
	step := hi.Sub(lo) / n
	for i := range n + 1 {
		h := lo.Add(sensito.LogRange(i) * step)
		if s := c.Slope(h); s > best {
			best, at = s, h
		}
	}
	// Golden section around the best sample, near which the slope has one top.
	// It is level there, so a place good to 1e-4 gives the slope to 1e-8.
	const ratio, enough = 0.6180339887498949, 1e-4
	a, b := max(at.Add(-step), lo), min(at.Add(step), hi)
	l, r := b.Add(-b.Sub(a)*ratio), a.Add(b.Sub(a)*ratio)
	sl, sr := c.Slope(l), c.Slope(r)
	for b.Sub(a) > enough {
		if sl > sr {
			b, r, sr = r, l, sl
			l = b.Add(-b.Sub(a) * ratio)
			sl = c.Slope(l)
		} else {
			a, l, sl = l, r, sr
			r = a.Add(b.Sub(a) * ratio)
			sr = c.Slope(r)
		}
	}
	if sl > best {
		return sl, l
	}
	return best, at
}
