package plot

import (
	"image/color"
	"slices"
	"strconv"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// strip is one measured strip as it is drawn, in log exposure and density.
type strip struct {
	look
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
func newStrip(m *curve.Measured, l look, o Options) *strip {
	s := &strip{look: l, label: clock(m.Strip.Minutes())}
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
	plotBand(c, p, s.low, s.high, bandGrey)
	if s.alone {
		plotLine(c, p, baseLine, plotter.XYs{{X: p.X.Min, Y: s.base}, {X: p.X.Max, Y: s.base}})
	} else {
		level := place(c, p, plotter.XY{X: p.X.Min, Y: s.base})
		c.StrokeLine2(line(0.8, s.Color), level.X, level.Y, level.X+6, level.Y)
	}
	plotLine(c, p, beyond, s.below)
	plotLine(c, p, beyond, s.above)
	plotLine(c, p, s.LineStyle, s.curve)
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
	plotLine(c, p, rayLine, plotter.XYs{at(r.Start), at(r.Far)})
	for _, h := range []sensito.LogExposure{r.Start, r.Near, r.Far} {
		fillDot(c, ink, 1.3, place(c, p, at(h)))
	}
}

// plotReadings draws the readings, those set aside crossed out and named.
func (s *strip) plotReadings(c draw.Canvas, p *gplot.Plot) {
	for _, r := range s.readings {
		s.symbol.draw(c, s.Color, place(c, p, r))
	}
	for _, a := range s.aside {
		pt := place(c, p, a.XY)
		s.symbol.draw(c, faint, pt)
		strike(c, ink, pt)
	}
}

// plotSpeedPoint marks the speed point and, for a strip drawn alone, drops a
// line to the exposure axis.
func (s *strip) plotSpeedPoint(c draw.Canvas, p *gplot.Plot) {
	if s.speedPoint == nil {
		return
	}
	pt := place(c, p, *s.speedPoint)
	radius := vg.Length(1.8)
	if s.alone {
		c.StrokeLine2(line(0.5, ink, 3, 2), pt.X, c.Min.Y, pt.X, pt.Y)
		radius = 2.4
	}
	fillDot(c, paper, radius+0.5, pt)
	fillDot(c, s.Color, radius, pt)
}

// place returns where a data point is drawn.
func place(c draw.Canvas, p *gplot.Plot, xy plotter.XY) vg.Point {
	x, y := p.Transforms(&c)
	return vg.Point{X: x(xy.X), Y: y(xy.Y)}
}

func places(c draw.Canvas, p *gplot.Plot, xys plotter.XYs) []vg.Point {
	out := make([]vg.Point, len(xys))
	for i, xy := range xys {
		out[i] = place(c, p, xy)
	}
	return out
}

// plotLine draws a line, clipped to the canvas.
func plotLine(c draw.Canvas, p *gplot.Plot, style draw.LineStyle, xys plotter.XYs) {
	c.StrokeLines(style, c.ClipLinesXY(places(c, p, xys))...)
}

// plotBand fills the area between two lines, clipped to the canvas.
func plotBand(c draw.Canvas, p *gplot.Plot, low, high plotter.XYs, fill color.Color) {
	outline := places(c, p, low)
	upper := places(c, p, high)
	for i := len(upper) - 1; i >= 0; i-- {
		outline = append(outline, upper[i])
	}
	c.FillPolygon(fill, c.ClipPolygonXY(outline))
}
