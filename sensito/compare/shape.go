package compare

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// What a comparison says of the form of a curve. That a toe is the part in which
// the gradient rises from a quarter to three quarters of gamma, that a shoulder
// begins where it has fallen back to three quarters, that a curve is of use down
// to a half, and that it has ended below a tenth, is common practice, no source.
const (
	shadowTop    sensito.NetDensity = 0.40 // of the shadows, which begin at the speed point
	lineFrom     sensito.NetDensity = 0.30 // of the line that a curve is held against
	lineTo       sensito.NetDensity = 1.20
	toeBegins                       = 0.25
	toeEnds                         = 0.75
	shoulderAt                      = 0.75
	usableTo                        = 0.50
	levelBelow                      = 0.10
	linePlaces                      = 40
	gradientStep sensito.LogRange   = 0.02 // in which a curve is walked along
)

// The quantities of the form of a curve, in the order of their columns; the net
// densities at the tones follow.
const (
	shapeToe      = iota // log H
	shapeShadow          // density per log H
	shapeStraight        // density
	shapeShoulder        // log H from the speed point
	shapeUsable          // log H from the speed point
	shapeMax             // net density
	shapeTones
)

// shapeMarks are places of a curve, as distances from the speed point; those of
// a curve that differs by a small part of an error are looked for close by. NaN
// stands for one that it does not have.
type shapeMarks struct {
	steepest                      sensito.LogRange
	toe, toeEnd, shoulder, usable float64
	departs                       float64 // the most from the line, as a part of the line
	side                          float64 // 1 where the curve lies over the line there, else -1
	end                           sensito.LogRange
	level                         bool // the curve ends at its highest density
}

// line is the line between net densities lineFrom and lineTo.
type line struct{ from, to sensito.LogRange }

func lineOf(c equalCurve) (line, bool) {
	from, errFrom := c.LogExposure(lineFrom.Over(c.base))
	to, errTo := c.LogExposure(lineTo.Over(c.base))
	return line{from.Sub(c.point), to.Sub(c.point)}, errFrom == nil && errTo == nil
}

// departs returns how far the curve lies above the line at a part of its length.
func (l line) departs(c equalCurve, part float64) float64 {
	n, _ := c.net(l.from + sensito.LogRange(part)*(l.to-l.from))
	return n - float64(lineFrom) - part*float64(lineTo-lineFrom)
}

// shapeMarksOf walks along a curve to its marks.
func shapeMarksOf(c equalCurve) shapeMarks {
	gamma, top := curve.Steepest(c)
	at := shapeMarks{steepest: top.Sub(c.point), end: c.hi, departs: math.NaN()}
	at.toe = c.crosses(c.lo-curve.Reach, at.steepest, toeBegins*gamma, true)
	at.toeEnd = c.crosses(c.lo-curve.Reach, at.steepest, toeEnds*gamma, true)
	at.shoulder = c.crosses(at.steepest, c.hi, shoulderAt*gamma, false)
	at.usable = c.crosses(at.steepest, c.hi, usableTo*gamma, false)
	at.level = c.slope(c.hi) < levelBelow*gamma
	l, ok := lineOf(c)
	most := -1.0
	for i := 1; ok && i < linePlaces; i++ {
		part := float64(i) / linePlaces
		if d := l.departs(c, part); math.Abs(d) > most {
			most, at.departs, at.side = math.Abs(d), part, math.Copysign(1, d)
		}
	}
	return at
}

// crosses returns where the gradient first comes up to a value, or down to it,
// NaN where it does not.
func (c equalCurve) crosses(from, to sensito.LogRange, gradient float64, up bool) float64 {
	short := func(r float64) float64 {
		if s := c.slope(sensito.LogRange(r)); up {
			return s - gradient
		} else {
			return gradient - s
		}
	}
	if short(float64(from)) >= 0 {
		return math.NaN()
	}
	for r := from; r < to; r += gradientStep {
		next := float64(min(r+gradientStep, to))
		if short(next) >= 0 {
			return fit.OrNaN(fit.Root(short, float64(r), next, curve.RootTolerance))
		}
	}
	return math.NaN()
}

// near returns where the gradient has a value, close to a place.
func (c equalCurve) near(place, gradient float64) float64 {
	return fit.OrNaN(fit.RootFrom(func(r float64) float64 { return c.slope(sensito.LogRange(r)) - gradient }, place, 0.005, 0.5, curve.RootTolerance))
}

// shapeOf returns the quantities of a curve whose marks are close to the given
// ones, and its net densities at tones, given as distances from the speed
// point. NaN stands for what the curve does not have.
func shapeOf(c equalCurve, at shapeMarks, tones []sensito.LogRange) []float64 {
	gamma := c.slope(at.steepest) // level there, so the place may stay
	out := []float64{
		shapeToe:      c.near(at.toeEnd, toeEnds*gamma) - c.near(at.toe, toeBegins*gamma),
		shapeShadow:   math.NaN(),
		shapeStraight: math.NaN(),
		shapeShoulder: c.near(at.shoulder, shoulderAt*gamma),
		shapeUsable:   c.near(at.usable, usableTo*gamma),
		shapeMax:      math.NaN(),
	}
	if h, err := c.LogExposure(shadowTop.Over(c.base)); err == nil {
		out[shapeShadow] = float64(shadowTop-curve.SpeedPointDensity) / float64(h.Sub(c.point))
	}
	if l, ok := lineOf(c); ok {
		out[shapeStraight] = at.side * l.departs(c, at.departs)
	}
	if at.level {
		out[shapeMax], _ = c.net(at.end)
	}
	for _, r := range tones {
		v, _ := c.net(r)
		out = append(out, v)
	}
	return out
}
