package parts

import (
	"errors"
	"math"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Page returns an area to lay out on, which cannot be drawn on.
func Page(w, h vg.Length) draw.Canvas {
	return draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: w, Y: h}}}
}

// Room returns an error when a canvas for data is too small to read.
func Room(c draw.Canvas, height vg.Length) error { return RoomFor(c, 76, height) }

// RoomFor is Room for data that need a width of their own.
func RoomFor(c draw.Canvas, width, height vg.Length) error {
	if s := c.Size(); !(s.X >= width && s.Y >= height) {
		return errors.New("the figure leaves no room for its data: make it wider or higher")
	}
	return nil
}

const PanelGap = vg.Length(8)

// Stack divides an area into areas under each other, so that the data of the
// plots begin and end on the same verticals and have the given shares of the
// height.
func Stack(area draw.Canvas, plots []*gplot.Plot, shares []float64) []draw.Canvas {
	rest := area.Size().Y - PanelGap*vg.Length(len(plots)-1)
	axes := make([]vg.Length, len(plots))
	sum := 0.0
	for i, p := range plots {
		axes[i] = area.Size().Y - p.DataCanvas(area).Size().Y
		rest -= axes[i]
		sum += shares[i]
	}
	out := make([]draw.Canvas, len(plots))
	top := area.Max.Y
	for i := range plots {
		height := axes[i] + rest*vg.Length(shares[i]/sum)
		out[i] = area
		out[i].Max.Y, out[i].Min.Y = top, top-height
		top -= height + PanelGap
	}
	AlignSides(plots, out)
	return out
}

// AlignSides crops the areas of plots drawn under each other so that their
// data begin and end on the same verticals.
func AlignSides(plots []*gplot.Plot, areas []draw.Canvas) {
	for range 20 {
		left, right := vg.Length(math.Inf(-1)), vg.Length(math.Inf(1))
		data := make([]draw.Canvas, len(plots))
		for i, p := range plots {
			data[i] = p.DataCanvas(areas[i])
			left, right = max(left, data[i].Min.X), min(right, data[i].Max.X)
		}
		const near = 1e-6
		aligned := true
		for i := range areas {
			aligned = aligned && data[i].Min.X > left-near && data[i].Max.X < right+near
			areas[i] = draw.Crop(areas[i], left-data[i].Min.X, right-data[i].Max.X, 0, 0)
		}
		if aligned {
			return
		}
	}
}

// FitLabel breaks the name of the horizontal axis into lines where it is longer than
// that axis in an area, which would be drawn shorter for it.
func FitLabel(p *gplot.Plot, area draw.Canvas) {
	name := AxisName(p.X)
	p.X.Label.Text = ""
	p.X.Label.Text = strings.Join(Wrapped(BodySize, p.DataCanvas(area).Size().X, name, 3), "\n")
}

// AxisName returns the name of an axis in one line.
func AxisName(a gplot.Axis) string { return strings.ReplaceAll(a.Label.Text, "\n", " ") }
