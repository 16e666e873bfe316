package parts

import (
	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"
)

// Ribbon is a line with the band of its error. It is drawn broken outside From and
// To, where nothing was measured.
type Ribbon struct {
	Line, Low, High plotter.XYs // Low and High may be empty
	From, To        float64
	Style           draw.LineStyle // of the line; the zero value means that of Plain
	Fill            Colour         // of the band; the zero value means BandGrey
}

// Add appends a place with its interval.
func (r *Ribbon) Add(x, y, low, high float64) {
	r.Line = append(r.Line, plotter.XY{X: x, Y: y})
	r.Low = append(r.Low, plotter.XY{X: x, Y: low})
	r.High = append(r.High, plotter.XY{X: x, Y: high})
}

// Plot draws the line over its band.
func (r Ribbon) Plot(c draw.Canvas, p *gplot.Plot) {
	r.PlotBand(c, p)
	r.PlotLine(c, p)
}

// PlotBand draws the band alone, for several to lie under all lines.
func (r Ribbon) PlotBand(c draw.Canvas, p *gplot.Plot) {
	fill := r.Fill
	if fill == (Colour{}) {
		fill = BandGrey
	}
	if len(r.Low) > 0 {
		PlotBand(c, p, r.Low, r.High, fill)
	}
}

// PlotLine draws the line alone.
func (r Ribbon) PlotLine(c draw.Canvas, p *gplot.Plot) {
	style := r.Style
	if style.Color == nil {
		style = Line(1.1, Ink)
	}
	var before, within, after plotter.XYs
	for _, at := range r.Line {
		if at.X <= r.From {
			before = append(before, at)
		}
		if at.X >= r.From && at.X <= r.To {
			within = append(within, at)
		}
		if at.X >= r.To {
			after = append(after, at)
		}
	}
	outside := Line(style.Width-0.1, style.Color, 4, 3)
	PlotLine(c, p, outside, before)
	PlotLine(c, p, style, within)
	PlotLine(c, p, outside, after)
}
