package strips

import (
	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// Asked is the curve that a scene asks for, drawn among those of the strips.
type Asked struct {
	curve.Curve
	Time              string              // of its development, 6:35
	Darkest, Lightest sensito.LogExposure // of the scene, at the film
	Scene             string              // "the scene, 7 stops"
	at                [2]plotter.XY       // of these on the curve
	line              plotter.XYs         // over the readings
	style             draw.LineStyle
}

// lay lays the curve over exposures.
func (a *Asked) lay(from, to float64) {
	a.style = parts.Line(1.9, parts.Chosen)
	a.line = Sample(a.Curve, sensito.LogExposure(from), sensito.LogExposure(to), CurvePlaces)
	for i, h := range []sensito.LogExposure{a.Darkest, a.Lightest} {
		a.at[i] = plotter.XY{X: float64(h), Y: float64(a.Density(h))}
	}
}

// caption says what of the figure is the answer.
func (a *Asked) caption() string {
	return "The thick curve, of " + a.Time + ", is the one that the scene asks for; dots on it: its darkest and lightest tone."
}

// draw draws the curve, with the ends of the scene on it.
func (a *Asked) draw(c draw.Canvas, p *gplot.Plot) {
	parts.PlotLine(c, p, a.style, a.line)
	for _, at := range a.at {
		parts.PlotLine(c, p, parts.Line(0.6, parts.Faint, 3, 2), plotter.XYs{at, {X: at.X, Y: p.Y.Min}})
		pt := parts.Place(c, p, at)
		parts.FillDot(c, parts.Paper, 3.2, pt)
		parts.FillDot(c, parts.Chosen, 2.6, pt)
	}
}

// numbers returns the curve and the ends of the scene on it.
func (a *Asked) numbers(x, y string) []figure.Series {
	return []figure.Series{
		{Name: "asked for, " + a.Time, X: x, Y: y, Values: figure.Plain(a.line)},
		{Name: a.Scene, X: x, Y: y, Values: figure.Plain(a.at[:])},
	}
}

// askedRows is the height of the scene's own place in the panel of the speed points, in
// rows of these.
const askedRows = 2

// extent draws the scene as a bracket in the panel below the curves.
func (a *Asked) extent(above int) plotterOf {
	return func(c draw.Canvas, p *gplot.Plot) {
		const cap, apart = 3, 2.5
		from := parts.Place(c, p, plotter.XY{X: a.at[0].X, Y: float64(above)})
		to := parts.Place(c, p, plotter.XY{X: a.at[1].X, Y: float64(above)})
		c.StrokeLines(parts.Line(1.2, parts.Chosen), []vg.Point{{X: from.X, Y: from.Y + cap}, from, to, {X: to.X, Y: to.Y + cap}})
		half := parts.TextWidth(parts.SmallSize, a.Scene) / 2
		x := min(max((from.X+to.X)/2, c.Min.X+half+apart), c.Max.X-half-apart)
		parts.Write(c, parts.SmallSize, parts.Chosen, parts.Centred, vg.Point{X: x, Y: from.Y + cap + 1}, a.Scene)
	}
}
