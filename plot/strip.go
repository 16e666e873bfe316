package plot

import (
	"slices"
	"strconv"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// strip is one measured strip as it is drawn, in log exposure and density.
type strip struct {
	parts.Look
	label  string // development time
	detail string // contrast; may be empty
	alone  bool   // in the drawing

	readings   plotter.XYs
	aside      []aside
	curve      plotter.XYs // over the readings
	below      plotter.XYs // from the left edge to the readings
	above      plotter.XYs // from the readings up to one stop further
	low, high  plotter.XYs // ends of the band; empty when the error is unknown
	base       float64
	speedPoint *plotter.XY
	ray        *curve.Ray // only of a strip alone in the drawing
}

// aside is a reading that was not used.
type aside struct {
	plotter.XY
	step int
	over bool // it lies over the curve
}

const (
	curvePlaces = 160
	bandPlaces  = 60
)

// newStrip returns a strip with everything but the parts of the curve beyond
// the readings, which depend on the axes.
func newStrip(m *curve.Measured, l parts.Look, o Options) *strip {
	s := &strip{Look: l, label: parts.Clock(m.Strip.Minutes())}
	switch {
	case m.ContrastIndex != nil:
		s.detail = "CI " + strconv.FormatFloat(m.ContrastIndex.Value, 'f', 2, 64)
	case m.AverageGradient != nil:
		s.detail = "gradient " + strconv.FormatFloat(m.AverageGradient.Value, 'f', 2, 64)
	}
	c, leftOut := m.Fit.Curve, m.Fit.LeftOut()
	for _, step := range m.Strip.Steps() {
		at := plotter.XY{X: float64(step.LogH), Y: float64(step.Density)}
		switch {
		case step.Density != step.Density: // not read
		case step.Ignored || slices.Contains(leftOut, step.Number):
			s.aside = append(s.aside, aside{at, step.Number, step.Density > c.Density(step.LogH)})
		default:
			s.readings = append(s.readings, at)
		}
	}
	lo, hi := c.Domain()
	s.curve = sample(c, lo, hi, curvePlaces)
	for _, p := range sample(c, lo, hi, bandPlaces) {
		e, err := curve.Derive(m.Fit, func(c curve.Curve) (sensito.Density, error) {
			return c.Density(sensito.LogExposure(p.X)), nil
		})
		if err != nil {
			s.low, s.high = nil, nil
			break
		}
		l, h := e.Interval(o.Confidence)
		s.low = append(s.low, plotter.XY{X: p.X, Y: float64(l)})
		s.high = append(s.high, plotter.XY{X: p.X, Y: float64(h)})
	}
	s.base = float64(curve.BaseFog(c))
	if m.SpeedPoint != nil {
		h := m.SpeedPoint.Value
		s.speedPoint = &plotter.XY{X: float64(h), Y: float64(c.Density(h))}
	}
	return s
}

// extend adds the parts of the curve beyond the readings: down to the left
// edge, and up by a stop or to the right edge.
func (s *strip) extend(c curve.Curve, left, right sensito.LogExposure) {
	lo, hi := c.Domain()
	if left < lo {
		s.below = sample(c, left, lo, curvePlaces/4)
	}
	if to := min(right, hi.Add(sensito.Stop)); to > hi {
		s.above = sample(c, hi, to, curvePlaces/4)
	}
}

// end returns where the drawn curve ends on the right.
func (s *strip) end() plotter.XY {
	if n := len(s.above); n > 0 {
		return s.above[n-1]
	}
	return s.curve[len(s.curve)-1]
}

func sample(c curve.Curve, lo, hi sensito.LogExposure, n int) plotter.XYs {
	out := make(plotter.XYs, n)
	for i := range out {
		h := lo.Add(hi.Sub(lo) * sensito.LogRange(i) / sensito.LogRange(n-1))
		out[i] = plotter.XY{X: float64(h), Y: float64(c.Density(h))}
	}
	return out
}

// DataRange makes the axes hold the strip.
func (s *strip) DataRange() (xmin, xmax, ymin, ymax float64) {
	all := slices.Concat(s.readings, s.curve, s.below, s.above)
	for _, a := range s.aside {
		all = append(all, a.XY)
	}
	return plotter.XYRange(all)
}

// Plot draws the strip's curve with base plus fog, ray and speed point; the
// readings are drawn by plotReadings, over the curves of all strips.
func (s *strip) Plot(c draw.Canvas, p *gplot.Plot) {
	parts.PlotBand(c, p, s.low, s.high, parts.BandGrey)
	if s.alone {
		parts.PlotLine(c, p, parts.BaseLine, plotter.XYs{{X: p.X.Min, Y: s.base}, {X: p.X.Max, Y: s.base}})
	} else {
		level := parts.Place(c, p, plotter.XY{X: p.X.Min, Y: s.base})
		c.StrokeLine2(parts.Line(0.8, s.Color), level.X, level.Y, level.X+6, level.Y)
	}
	parts.PlotLine(c, p, parts.Beyond, s.below)
	parts.PlotLine(c, p, parts.Beyond, s.above)
	parts.PlotLine(c, p, s.LineStyle, s.curve)
	if s.ray != nil {
		s.plotRay(c, p)
	}
}

// plotRay draws the contrast-index ray with a dot where it meets the curve.
func (s *strip) plotRay(c draw.Canvas, p *gplot.Plot) {
	r := s.ray
	base, k := float64(r.Base), r.Slope()
	at := func(h sensito.LogExposure) plotter.XY {
		return plotter.XY{X: float64(h), Y: base + k*float64(h.Sub(r.Start))}
	}
	parts.PlotLine(c, p, parts.RayLine, plotter.XYs{at(r.Start), at(r.Far)})
	for _, h := range []sensito.LogExposure{r.Start, r.Near, r.Far} {
		parts.FillDot(c, parts.Ink, 1.3, parts.Place(c, p, at(h)))
	}
}

// plotReadings draws the readings, those set aside crossed out and named.
func (s *strip) plotReadings(c draw.Canvas, p *gplot.Plot) {
	for _, r := range s.readings {
		s.Symbol.Draw(c, s.Color, parts.Place(c, p, r))
	}
	for _, a := range s.aside {
		pt := parts.Place(c, p, a.XY)
		s.Symbol.Draw(c, parts.Faint, pt)
		parts.Strike(c, parts.Ink, pt)
	}
}

// plotSpeedPoint marks the speed point and, for a strip drawn alone, drops a
// line to the exposure axis.
func (s *strip) plotSpeedPoint(c draw.Canvas, p *gplot.Plot) {
	if s.speedPoint == nil {
		return
	}
	pt := parts.Place(c, p, *s.speedPoint)
	radius := vg.Length(1.8)
	if s.alone {
		c.StrokeLine2(parts.Line(0.5, parts.Ink, 3, 2), pt.X, c.Min.Y, pt.X, pt.Y)
		radius = 2.4
	}
	parts.FillDot(c, parts.Paper, radius+0.5, pt)
	parts.FillDot(c, s.Color, radius, pt)
}
