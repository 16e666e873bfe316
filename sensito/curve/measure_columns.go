package curve

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
)

// The quantities of a strip, as columns.
const (
	ColumnFog        = iota // base plus fog, a density
	ColumnSpeedPoint        // log H
	ColumnIndex             // contrast index
	ColumnGradient          // average gradient, density per decade
	ColumnISO               // density gained over 1.30 log H from the speed point
	colGamma
	colMax
	colDeltaX        // the speed point moved to the footing of ISO 6 by Delta-X
	ColumnFractional // log H of the fractional-gradient point
)

// mark is a place of a curve, the zero of a function of the curve and the place.
type mark struct {
	x, slope float64 // the slope of the function there; NaN where there is no such place
	excess   func(c Curve, x float64) float64
}

// markAt returns the mark of curve c at x, where excess is zero; err says that
// there is none.
func markAt[Q ~float64](c Curve, excess func(Curve, float64) float64, x Q, err error) mark {
	const step = 1e-4
	m := mark{x: fit.OrNaN(x, err), excess: excess}
	m.slope = (excess(c, m.x+step) - excess(c, m.x-step)) / (2 * step)
	return m
}

// on returns where the mark lies on a curve that differs by a small part of an
// error: one step towards the zero, by the slope on the first curve. What that
// misses is the same for equal differences up and down, so that the change
// between them is that of the implicit function theorem.
func (m mark) on(c Curve) sensito.LogExposure {
	return sensito.LogExposure(m.x - m.excess(c, m.x)/m.slope)
}

// marks are the places of a fitted curve that its quantities are read at.
type marks struct {
	steepest, straight                sensito.LogExposure // the latter the end of the straight part, which begins at the former
	speedPoint, indexNear, fractional mark
	gradientFrom                      mark
}

// straightPart returns the ends of the part over which gamma is taken, given where the
// curve is steepest: that place alone, where the form of the curve has a line. A curve
// of no form is steeper at one place than at others by chance; there it is the steepest
// run of a third of the exposures over which density rises from a tenth to nine tenths.
func straightPart(c Curve, steepest sensito.LogExposure) (from, to sensito.LogExposure) {
	lo, hi := c.Domain()
	if _, ok := c.(sharedCurve); !ok {
		return steepest, steepest
	}
	base := BaseFog(c)
	most := c.Density(hi).Above(base)
	first, errFirst := c.LogExposure((most / 10).Over(base))
	last, errLast := c.LogExposure((most * 9 / 10).Over(base))
	if errFirst != nil || errLast != nil {
		return steepest, steepest
	}
	run := last.Sub(max(first, lo)) / 3
	const places = 60
	best := 0.0
	for i := range places + 1 {
		h := lo.Add(sensito.LogRange(i) * (hi.Sub(lo) - run) / places)
		if v := gammaOf(c, h, h.Add(run)); v > best {
			best, from = v, h
		}
	}
	return from, from.Add(run)
}

// gammaOf returns the slope of a curve between two places, or at one.
func gammaOf(c Curve, from, to sensito.LogExposure) float64 {
	if from == to {
		return c.Slope(from)
	}
	return float64(c.Density(to)-c.Density(from)) / float64(to.Sub(from))
}

func (m *Measured) marksOf(c Curve) marks {
	_, top := Steepest(c)
	point, err := SpeedPoint(c)
	from, to := straightPart(c, top)
	at := marks{steepest: from, straight: to, speedPoint: markAt(c, speedPointExcess, point, err)}
	var ray Ray
	if err == nil {
		ray, err = indexRay(c, point)
	}
	at.indexNear = markAt(c, indexExcess, ray.Near, err)
	h, err := fractionalGradientPoint(c, top)
	at.fractional = markAt(c, fractionalExcess, h, err)
	if at.gradientFrom = at.speedPoint; m.Gradient.From != SpeedPointDensity {
		from, err := c.LogExposure(m.Gradient.start(c))
		at.gradientFrom = markAt(c, func(c Curve, x float64) float64 {
			return float64(c.Density(sensito.LogExposure(x)) - m.Gradient.start(c))
		}, from, err)
	}
	return at
}

// columns appends the quantities of a curve with marks close to at, NaN for
// those it does not reach.
func (m *Measured) columns(out []float64, c Curve, at *marks) ([]float64, error) {
	_, hi := c.Domain()
	point, from := at.speedPoint.on(c), at.gradientFrom.on(c)
	iso, deltaX := fit.OrNaN(Rise(c, point, ISORange)), math.NaN()
	if h, ok := DeltaXPoint(point, iso); ok {
		deltaX = float64(h)
	}
	to, err := m.Gradient.end(c, from)
	all := [...]float64{
		ColumnFog:        float64(BaseFog(c)),
		ColumnSpeedPoint: float64(point),
		ColumnIndex:      rayThrough(c, at.indexNear.on(c)).Slope(),
		ColumnGradient:   fit.OrNaN(chord(c, from, to), err),
		ColumnISO:        iso,
		colGamma:         gammaOf(c, at.steepest, at.straight), // level there, so the places may stay
		colMax:           float64(c.Density(hi)),
		colDeltaX:        deltaX,
		ColumnFractional: float64(at.fractional.on(c)),
	}
	return append(out, all[:]...), nil
}
