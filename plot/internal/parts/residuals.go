package parts

import (
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Residuals are readings less their curve, drawn below it on the same horizontal
// axis at a scale on which errors of a hundredth are seen. What lies beyond the ends
// of that scale is drawn at them as an arrow.
type Residuals struct {
	Look
	Readings  plotter.XYs
	Aside     plotter.XYs // readings that were set aside, crossed
	Low, High plotter.XYs // of the band of the curve, less the curve
}

// ResidualsWithin is how far the vertical axis reaches to both sides, in density.
const ResidualsWithin = 0.03

// NewResiduals returns a plot of residuals, with the horizontal axis of another.
func NewResiduals(r Residuals, above *gplot.Plot, label string) *gplot.Plot {
	p := NewAxes(above.X.Label.Text, label)
	p.X.Min, p.X.Max, p.X.Scale, p.X.Tick.Marker = above.X.Min, above.X.Max, above.X.Scale, above.X.Tick.Marker
	p.Y.Min, p.Y.Max = -1.15*ResidualsWithin, 1.15*ResidualsWithin
	p.Y.Tick.Marker = gplot.ConstantTicks{{Value: -ResidualsWithin, Label: "-" + Fixed(ResidualsWithin, 2)}, {Value: 0, Label: "0"}, {Value: ResidualsWithin, Label: "+" + Fixed(ResidualsWithin, 2)}}
	p.Add(r)
	return p
}

// Plot draws band, zero and readings.
func (r Residuals) Plot(c draw.Canvas, p *gplot.Plot) {
	if len(r.Low) > 0 {
		PlotBand(c, p, r.Low, r.High, BandGrey)
	}
	PlotLine(c, p, Line(0.7, r.Color), plotter.XYs{{X: p.X.Min}, {X: p.X.Max}})
	for _, at := range r.Readings {
		if pt, held := r.place(c, p, at); held {
			r.Symbol.Draw(c, r.Color, pt)
		} else {
			ArrowHead(c, r.Color, pt, vg.Point{Y: vg.Length(math.Copysign(1, at.Y))})
		}
	}
	for _, at := range r.Aside {
		pt, held := r.place(c, p, at)
		if !held {
			ArrowHead(c, Faint, pt, vg.Point{Y: vg.Length(math.Copysign(1, at.Y))})
			pt.Y -= vg.Length(math.Copysign(2*float64(SymbolRadius), at.Y))
		}
		r.Symbol.Draw(c, r.Color, pt)
		Strike(c, Ink, pt)
	}
}

// place returns where a residual is drawn and whether the axis holds it.
func (r Residuals) place(c draw.Canvas, p *gplot.Plot, at plotter.XY) (vg.Point, bool) {
	held := math.Min(math.Max(at.Y, p.Y.Min), p.Y.Max)
	return Place(c, p, plotter.XY{X: at.X, Y: held}), held == at.Y
}
