// Package aside has where films have their fractional-gradient point beside that of the
// curve fitted to them, and how far they differ in that: more to below, where films are
// faster, than to above.
//
// Begin with Corner, for the form of one strip, and Shared, for strips together.
package aside

import (
	"math"

	"sensito/sensito"
)

// beside is so far below the point of the curve, with so large a standard deviation
// further down and up. A toe of two emulsions bends twice, which takes the point down and
// hardly ever up.
type beside struct{ below, down, up float64 }

// The round corner of a form falls off as the exponential of log exposure, toes of
// normally distributed speeds more sharply, those of two emulsions more so, all three
// alike within what a densitometer shows. In shares of the slope at the point, by which
// the slope of films is greater there. Strips that share a shape show more of their toe:
// in standard deviations of what they leave open. TestBlindFractional holds both.
var (
	corner = beside{below: 0.045, down: 0.155, up: 0.05}
	shared = beside{below: 0.25, down: 1.35, up: 0.85}
)

// Point is a place of a curve, in log exposure.
type Point = sensito.Estimate[sensito.LogExposure]

// Corner returns where a film has the point h of a form with a round corner; whole is how
// far a slope there that is greater by itself would move it, in log exposure, and common
// the error that all exposures share.
func Corner(h Point, whole float64, common sensito.LogRange) Point {
	down, up := h, h
	down.AddCommon(sensito.LogRange(corner.down * whole))
	up.AddCommon(sensito.LogRange(corner.up * whole))
	return between(h.Value.Add(-sensito.LogRange(corner.below*whole)), down, up, common)
}

// Shared returns where a film has the point h of a shape that its strips share, of whose
// error open, in log exposure, is by the shape and the strip; the rest is what readings
// have alike. Common is the error that all exposures share.
func Shared(h Point, open float64, common sensito.LogRange) Point {
	down, up := h, h
	times := func(by float64) sensito.LogExposure {
		return sensito.LogExposure(math.Sqrt(float64(h.StdErr*h.StdErr) + (by*by-1)*open*open))
	}
	down.StdErr, up.StdErr = times(shared.down), times(shared.up)
	return between(h.Value.Add(-sensito.LogRange(shared.below*open)), down, up, common)
}

// between returns a point whose interval ends where that of one estimate does below and of
// the other above.
func between(at sensito.LogExposure, down, up Point, common sensito.LogRange) Point {
	down.AddCommon(common)
	up.AddCommon(common)
	down.Value, up.Value = at, at
	sd := math.Hypot(float64(down.StdErr), float64(up.StdErr)) / math.Sqrt2
	first, last := down, up // never changed, which spares the function memory of its own
	return Point{Value: at, StdErr: sensito.LogExposure(sd), DoF: math.Min(down.DoF, up.DoF), Limits: func(level float64) (low, high sensito.LogExposure) {
		low, _ = first.Interval(level)
		_, high = last.Interval(level)
		return low, high
	}}
}
