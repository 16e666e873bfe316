package strips

import (
	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// speedWhisker returns the speed point of a curve with its interval along log H; ok is
// false where there is none.
func speedWhisker(at *sensito.Estimate[sensito.LogExposure], c curve.Curve, l parts.Look, level float64) (w parts.Whisker, ok bool) {
	if at == nil {
		return w, false
	}
	low, high := at.Interval(level)
	l.Symbol = parts.Symbol{Scale: 0.75}
	return parts.Whisker{XY: plotter.XY{X: float64(at.Value), Y: float64(c.Density(at.Value))}, Low: float64(low), High: float64(high),
		Across: true, Filled: true, Look: l}, true
}

// speedPitch is the distance of two speed points in their panel.
const speedPitch = vg.Length(8.5)

// speedRow is the speed point of a strip with the speed that it gives.
type speedRow struct {
	parts.Whisker
	speed string // "" of relative exposures
}

// speedRows are the speed points of strips under each other, the shortest time lowest.
type speedRows []speedRow

// told says what follows the speed points.
func (r speedRows) told() string {
	for _, row := range r {
		if row.speed != "" {
			return ", and speeds"
		}
	}
	return ""
}

// axes returns the panel of the speed points, with the horizontal axis of another.
func (r speedRows) axes(of *gplot.Plot) *gplot.Plot {
	p := parts.NewAxes(of.X.Label.Text, "")
	p.X.Min, p.X.Max, p.X.Tick.Marker = of.X.Min, of.X.Max, of.X.Tick.Marker
	p.Y.Min, p.Y.Max, p.Y.Tick.Marker = -0.8, float64(len(r))-0.2, gplot.ConstantTicks{}
	p.Add(r)
	return p
}

// Plot draws the speed points with their intervals, and the speeds beside them.
func (r speedRows) Plot(c draw.Canvas, p *gplot.Plot) {
	const gap = 6
	for _, row := range r {
		row.Whisker.Plot(c, p)
		left, right := parts.Place(c, p, plotter.XY{X: max(row.Low, p.X.Min), Y: row.Y}), parts.Place(c, p, plotter.XY{X: min(row.High, p.X.Max), Y: row.Y})
		at, align := vg.Point{X: right.X + gap, Y: right.Y - parts.CapHeight*parts.LeastSize/2}, parts.FromLeft
		if at.X+parts.TextWidth(parts.LeastSize, row.speed) > c.Max.X {
			at.X, align = left.X-gap, parts.FromRight
		}
		parts.Write(c, parts.LeastSize, parts.Ink, align, at, row.speed)
	}
}
