package parts

import (
	"image/color"
	"math"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Place returns where a data point is drawn.
func Place(c draw.Canvas, p *gplot.Plot, xy plotter.XY) vg.Point {
	x, y := p.Transforms(&c)
	return vg.Point{X: x(xy.X), Y: y(xy.Y)}
}

func Places(c draw.Canvas, p *gplot.Plot, xys plotter.XYs) []vg.Point {
	out := make([]vg.Point, len(xys))
	for i, xy := range xys {
		out[i] = Place(c, p, xy)
	}
	return out
}

// PlotLine draws a line, clipped to the canvas.
func PlotLine(c draw.Canvas, p *gplot.Plot, style draw.LineStyle, xys plotter.XYs) {
	c.StrokeLines(style, c.ClipLinesXY(Places(c, p, xys))...)
}

// PlotBand fills the area between two lines within the canvas. An end that is open,
// or not above 0 on a logarithmic axis, lies at the edge.
func PlotBand(c draw.Canvas, p *gplot.Plot, low, high plotter.XYs, fill color.Color) {
	held := func(xys plotter.XYs, open float64) plotter.XYs {
		out := make(plotter.XYs, len(xys))
		for i, xy := range xys {
			if math.IsNaN(xy.Y) {
				xy.Y = open
			}
			out[i] = plotter.XY{X: xy.X, Y: math.Min(math.Max(xy.Y, p.Y.Min), p.Y.Max)}
		}
		return out
	}
	outline := Places(c, p, held(low, p.Y.Min))
	upper := Places(c, p, held(high, p.Y.Max))
	for i := len(upper) - 1; i >= 0; i-- {
		outline = append(outline, upper[i])
	}
	c.FillPolygon(fill, c.ClipPolygonXY(outline))
}
