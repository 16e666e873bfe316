package paper

import (
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// How near to white and black the exposures must come to show them, as shares
// of the densities that they span: the last step, and the one before it, since a
// curve can turn its shoulder sharply between two steps. Of simulated papers
// whose wedge ends at 50 to 95 % of black, 1 in 100 then passes for having reached
// it; at 99 %, 83, and at 99.8 %, 96 (TestBlindPapersEndingEarly).
const (
	nearWhite   = 1.0 / 25 // white's own point lies 0.04 up, a fiftieth of most papers
	nearBlack   = 1.0 / 40
	nextToEnd   = 1.0 / 10
	mostBelieve = 0.9
)

// steps returns the exposures of the steps behind the curve, rising.
func (m *Strip) steps() []sensito.LogExposure {
	var out []sensito.LogExposure
	for _, s := range m.Strip.Steps() {
		if s.Read() && m.asideOf(s.Number) == 0 {
			out = append(out, s.LogH)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// asideOf returns how many readings of a step were set aside; step 0 is unexposed
// paper.
func (m *Strip) asideOf(step int) int {
	n := 0
	for _, a := range m.Fit.SetAside {
		if a.Step == step {
			n++
		}
	}
	return n
}

// findEnds finds which ends of the curve the exposures show. An end is shown
// where nearly all curves that the readings allow have it there.
func (m *Strip) findEnds() {
	steps := m.steps()
	last := len(steps) - 1
	m.first, m.last = steps[0], steps[last]
	m.whiteRead = len(m.Strip.BaseFog()) > m.asideOf(0)
	m.WhiteReached = m.most(func(c curve.Curve) bool {
		white, span := curve.BaseFog(c), m.span(c)
		next := m.whiteRead || c.Density(steps[1])-white <= nextToEnd*span
		return next && c.Density(m.first)-white <= nearWhite*span
	})
	m.BlackReached = m.most(func(c curve.Curve) bool {
		rest := sensito.Density(c.Slope(m.last) * float64(sensito.Stop)) // a smooth curve may go on as it ends
		if t, ok := c.(curve.Topped); ok {
			rest = t.MaxDensity() - c.Density(m.last)
		}
		more := c.Density(m.last) - c.Density(steps[last-1])
		return rest <= nearBlack*m.span(c) && rest+more <= nextToEnd*m.span(c)
	})
	c := m.Fit.Curve
	if !m.WhiteReached {
		m.whiteSide = m.sideOf(c, WhiteDensity.Over(m.white(c)))
	}
	m.speedSide = m.sideOf(c, SpeedDensity.Over(m.white(c)))
}

// most says whether nearly all of the belief is with curves of which holds is
// true.
func (m *Strip) most(holds func(curve.Curve) bool) bool { return m.Fit.Belief(holds) >= mostBelieve }

// span returns the densities that the steps span above white.
func (m *Strip) span(c curve.Curve) sensito.Density { return c.Density(m.last) - curve.BaseFog(c) }

// white returns the density of white, or of the faintest step where white is
// neither shown nor read: then it is at most that.
func (m *Strip) white(c curve.Curve) sensito.Density {
	if m.WhiteReached || m.whiteRead {
		return curve.BaseFog(c)
	}
	return c.Density(m.first)
}

// black returns the maximum density: what a curve tends to, where the steps
// reach it, otherwise that of the last of them, which is the least it can be.
func (m *Strip) black(c curve.Curve) sensito.Density {
	if top := curve.MaxDensity(c); m.BlackReached && !math.IsInf(float64(top), 1) {
		return top
	}
	return c.Density(m.last)
}

// side says where a density lies: among the steps, or beyond one end of them.
type side int

const (
	amongSteps side = iota
	belowSteps
	beyondSteps
)

func (m *Strip) sideOf(c curve.Curve, d sensito.Density) side {
	switch h, err := c.LogExposure(d); {
	case err == nil && h >= m.first.Add(-wedgeSlack) && h <= m.last.Add(wedgeSlack):
		return amongSteps
	case d < c.Density(m.first):
		return belowSteps
	}
	return beyondSteps
}

// place returns where a curve has a density, or the end of the steps beyond
// which it lies; NaN where the curve does not reach.
func (m *Strip) place(c curve.Curve, d sensito.Density, at side) float64 {
	switch at {
	case belowSteps:
		return float64(m.first)
	case beyondSteps:
		return float64(m.last)
	}
	return fit.OrNaN(c.LogExposure(d))
}

// whitePoint returns the light end of the range, T.
func (m *Strip) whitePoint(c curve.Curve) float64 {
	return m.place(c, WhiteDensity.Over(m.white(c)), m.whiteSide)
}

// open leaves open the ends of intervals that the steps do not bound, and says
// what to do.
func (m *Strip) open() {
	whiteKnown := m.WhiteReached || m.whiteRead
	if e := m.MinDensity; e != nil {
		e.AtMost = !whiteKnown
	}
	if e := m.MaxDensity; e != nil {
		e.AtLeast = !m.BlackReached
	}
	if e := m.White; e != nil {
		e.AtMost = !m.WhiteReached
	}
	if e := m.Black; e != nil { // nine tenths of the way up from white
		e.AtLeast, e.AtMost = !m.BlackReached, !whiteKnown
	}
	if e := m.SpeedPoint; e != nil {
		e.AtMost = !whiteKnown || m.speedSide == belowSteps
		e.AtLeast = m.speedSide == beyondSteps
	}
	if !m.BlackReached {
		m.Warnings.Add("black_not_reached")
	}
	if !m.WhiteReached {
		more, also := "", ""
		if !whiteKnown {
			more, also = ", white at most the faintest step and the speed at least what goes with that", ", and read an unexposed piece"
			m.Warnings = slices.DeleteFunc(m.Warnings, func(w sensito.Warning) bool { return w.Code == "base_not_read" }) // of the curve's own white
		}
		m.Warnings.Add("white_not_reached", more, also)
	}
	switch {
	case m.speedSide == beyondSteps:
		m.Warnings.Add("speed_not_reached")
	case m.speedSide == belowSteps:
		m.Warnings.Add("speed_not_reached/2")
	}
	if !m.BlackReached && !m.WhiteReached {
		m.LogRange, m.AverageGradient = nil, nil // a piece of the curve, which may be any part of it
		return
	}
	if e := m.LogRange; e != nil && !(m.BlackReached && m.WhiteReached) {
		e.AtLeast, m.AverageGradient = true, nil // the longer range may be steeper or less so
	}
}

// PrintAt returns the density at a distance from the paper's white point. Beyond
// the last step of a paper that was not exposed to black it is at least that of
// the step. The error is that of curve.Derive.
func (m *Strip) PrintAt(r sensito.LogRange) (sensito.Estimate[sensito.Density], error) {
	beyond := !m.BlackReached && m.White.Value.Add(r) > m.last
	e, err := curve.Derive(m.Fit, func(c curve.Curve) (sensito.Density, error) {
		if beyond {
			return c.Density(m.last), nil
		}
		white := m.whitePoint(c)
		if math.IsNaN(white) {
			return 0, fmt.Errorf("paper white: %w", sensito.ErrOutOfRange)
		}
		return c.Density(sensito.LogExposure(white).Add(r)), nil
	})
	e.AtLeast = beyond
	return e, err
}
