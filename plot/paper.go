package plot

import (
	"errors"
	"fmt"
	"math"
	"slices"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// Paper returns the characteristic curves of a paper, one for each grade, drawn
// as Curves draws those of film, with the ends of the useful range as dots on
// each curve and the ISO range beside its name. A strip alone is drawn with its
// log exposure range and a note of its values. The error is for options outside
// their limits, no strip with a curve, or too many. Strips without a curve are
// left out.
func Paper(p *curve.Paper, o Options) (*Figure, error) {
	strips := slices.DeleteFunc(slices.Clone(p.Strips), func(m *curve.PaperStrip) bool { return m.Fit == nil })
	if len(strips) == 0 {
		return nil, errors.New("no strip to draw")
	}
	if len(strips) > maxCurves {
		return nil, fmt.Errorf("%d strips are too many for one drawing: at most %d", len(strips), maxCurves)
	}
	o, err := o.withDefaults(p.Trial.Title())
	if err != nil {
		return nil, err
	}
	return newPaper(p.Trial, strips, o).figure(o)
}

func newPaper(trial *sensito.Trial, ms []*curve.PaperStrip, o Options) *curves {
	b := &curves{Heading: newHeading(o, trial)}
	b.yLabels = []string{"reflection density (ISO 5)", "density"}
	if trial.Reading().Zero == sensito.ZeroBase {
		b.yLabels = []string{"reflection density above the paper", "density above the paper", "density"}
	}
	b.plot = parts.NewAxes(exposureLabel(trial), b.yLabels[len(b.yLabels)-1])
	alone := len(ms) == 1
	var at []sensito.LogExposure // that the axes must hold
	looks := parts.Ordered(len(ms))
	for i, m := range ms {
		s := newStrip(&curve.Measured{Strip: m.Strip, Fit: m.Fit}, looks[i], o)
		s.label, s.detail, s.alone = paperLabel(m), "", alone
		if m.MinDensity != nil {
			s.base = float64(m.MinDensity.Value)
		}
		if e := m.ISORange(); e != nil {
			s.detail = "ISO range " + parts.Fixed(e.Value, 0)
			if e.AtLeast {
				s.detail += " or more"
			}
		}
		if alone {
			b.note = paperNote(m, o)
		}
		lo, hi := m.Fit.Curve.Domain()
		at = append(at, lo, hi)
		for _, step := range m.Strip.Steps() {
			at = append(at, step.LogH)
		}
		for _, e := range []*sensito.Estimate[sensito.LogExposure]{m.White, m.Black} {
			if e != nil {
				at = append(at, e.Value)
			}
		}
		b.strips = append(b.strips, s)
	}
	const beside = 0.1 // log H left free beside the readings
	left := math.Floor(10*(float64(slices.Min(at))-beside)) / 10
	right := math.Ceil(10*(float64(slices.Max(at))+beside)) / 10
	for i, m := range ms {
		b.strips[i].extend(m.Fit.Curve, sensito.LogExposure(left), sensito.LogExposure(right))
		b.plot.Add(b.strips[i])
	}
	b.scale(left, right)
	for i, m := range ms {
		if m.LogRange != nil {
			b.ranges = append(b.ranges, newPaperRange(m, b.strips[i]))
		}
	}
	return b
}

func paperLabel(m *curve.PaperStrip) string {
	if m.Grade == "" {
		return fmt.Sprintf("strip %d", m.Strip.Number())
	}
	return "grade " + m.Grade
}

// paperNote says in a few lines what a strip drawn alone tells.
func paperNote(m *curve.PaperStrip, o Options) parts.Note {
	var n parts.Note
	if e := m.MinDensity; e != nil {
		n = append(n, "white "+parts.Interval(*e, o.Confidence, 2))
	}
	if e := m.MaxDensity; e != nil {
		n = append(n, "black "+parts.Interval(*e, o.Confidence, 2))
	}
	if e := m.ISORange(); e != nil {
		n = append(n, "ISO range "+parts.Interval(*e, o.Confidence, 0))
	}
	if e := m.Speed; e != nil {
		places := 0
		if e.Value < 10 {
			places = 1
		}
		n = append(n, "speed "+parts.Interval(*e, o.Confidence, places))
	}
	if e := m.AverageGradient; e != nil {
		n = append(n, "average gradient "+parts.Interval(*e, o.Confidence, 2))
	}
	if len(n) > 0 {
		n = append(n, "intervals and band: "+parts.Percent(o.Confidence))
	}
	return n
}

// paperRange is the useful range of a paper on its curve. An end that the steps
// do not show is open: a ring in place of a dot, which the bar below runs past.
type paperRange struct {
	parts.Look
	white, black         plotter.XY
	openWhite, openBlack bool
	label                string // only of a strip alone in the drawing
}

func newPaperRange(m *curve.PaperStrip, s *strip) paperRange {
	on := func(h sensito.LogExposure) plotter.XY {
		return plotter.XY{X: float64(h), Y: float64(m.Fit.Curve.Density(h))}
	}
	r := paperRange{Look: s.Look, white: on(m.White.Value), black: on(m.Black.Value),
		openWhite: !m.WhiteReached, openBlack: !m.BlackReached}
	if s.alone {
		r.label = "log range " + parts.Fixed(float64(m.LogRange.Value), 2)
		if m.LogRange.AtLeast {
			r.label += " or more"
		}
	}
	return r
}

// rangeHeight is how far above the axis a range is measured.
const rangeHeight = vg.Length(18)

// draw marks both ends and, for a strip alone, measures the distance between
// them below the curve.
func (r paperRange) draw(c draw.Canvas, p *gplot.Plot) {
	white, black := parts.Place(c, p, r.white), parts.Place(c, p, r.black)
	if r.label != "" {
		y := c.Min.Y + rangeHeight
		fence := parts.Line(0.5, parts.Ink, 3, 2)
		c.StrokeLine2(fence, white.X, c.Min.Y, white.X, max(white.Y, y+4))
		c.StrokeLine2(fence, black.X, c.Min.Y, black.X, black.Y)
		from, to := white.X, black.X
		if r.openWhite {
			from = c.Min.X
		}
		if r.openBlack {
			to = c.Max.X
		}
		parts.Across(c, from, to, y, r.label)
	}
	end := func(pt vg.Point, open bool) {
		parts.FillDot(c, parts.Paper, 2.5, pt)
		parts.FillDot(c, r.Color, 2, pt)
		if open {
			parts.FillDot(c, parts.Paper, 1.2, pt)
		}
	}
	end(white, r.openWhite)
	end(black, r.openBlack)
}

// occupied returns the points that a note should not hide.
func (r paperRange) occupied(c draw.Canvas, p *gplot.Plot) []vg.Point {
	white, black := parts.Place(c, p, r.white), parts.Place(c, p, r.black)
	out := []vg.Point{white, black}
	if r.label != "" {
		const points = 8
		for i := range points {
			part := vg.Length(i) / (points - 1)
			out = append(out, vg.Point{X: white.X + part*(black.X-white.X), Y: c.Min.Y + rangeHeight},
				vg.Point{X: black.X, Y: c.Min.Y + part*(black.Y-c.Min.Y)})
		}
	}
	return out
}
