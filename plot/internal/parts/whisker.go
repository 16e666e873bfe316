package parts

import (
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Whisker is a value with its interval: a symbol on a bar with caps. An end of the
// interval that the axes do not hold is drawn as an arrow at their edge.
type Whisker struct {
	plotter.XY
	Low, High float64
	Across    bool // the interval lies along X
	Filled    bool // a solid symbol, of what is proven
	Look      Look // the zero value means Plain
}

// Plot draws bar and symbol.
func (w Whisker) Plot(c draw.Canvas, p *gplot.Plot) {
	look := w.Look
	if look.Color == nil {
		look = Plain
	}
	at := func(v float64) (vg.Point, bool) {
		xy := plotter.XY{X: w.X, Y: v}
		lo, hi := p.Y.Min, p.Y.Max
		if w.Across {
			xy, lo, hi = plotter.XY{X: v, Y: w.Y}, p.X.Min, p.X.Max
		}
		held := math.Min(math.Max(v, lo), hi)
		if w.Across {
			xy.X = held
		} else {
			xy.Y = held
		}
		return Place(c, p, xy), held == v
	}
	low, closedLow := at(w.Low)
	high, closedHigh := at(w.High)
	c.StrokeLines(Line(0.8, look.Color), []vg.Point{low, high})
	along := vg.Point{Y: 1}
	if w.Across {
		along = vg.Point{X: 1}
	}
	w.end(c, look, low, along.Scale(-1), closedLow)
	w.end(c, look, high, along, closedHigh)
	mid := Place(c, p, w.XY)
	if w.Filled {
		look.Symbol.Fill(c, look.Color, mid)
	} else {
		look.Symbol.Draw(c, look.Color, mid)
	}
}

// end draws a cap, or an arrow where the interval goes on.
func (w Whisker) end(c draw.Canvas, look Look, at, outward vg.Point, closed bool) {
	const half = vg.Length(2.5)
	side := vg.Point{X: -outward.Y, Y: outward.X}.Scale(half)
	if closed {
		c.StrokeLines(Line(0.8, look.Color), []vg.Point{at.Sub(side), at.Add(side)})
		return
	}
	ArrowHead(c, look.Color, at, outward)
}

// Ends returns the places that a note should not hide.
func (w Whisker) Ends() plotter.XYs {
	if w.Across {
		return plotter.XYs{w.XY, {X: w.Low, Y: w.Y}, {X: w.High, Y: w.Y}}
	}
	return plotter.XYs{w.XY, {X: w.X, Y: w.Low}, {X: w.X, Y: w.High}}
}
