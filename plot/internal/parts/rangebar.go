package parts

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Across draws a level arrow with two heads and its label above.
func Across(c draw.Canvas, from, to, y vg.Length, label string) {
	c.StrokeLine2(Line(0.6, Ink), from, y, to, y)
	ArrowHead(c, Ink, vg.Point{X: from, Y: y}, vg.Point{X: -1})
	ArrowHead(c, Ink, vg.Point{X: to, Y: y}, vg.Point{X: 1})
	Write(c, SmallSize, Ink, Centred, vg.Point{X: (from + to) / 2, Y: y + 2.5}, label)
}

// ArrowHead draws a head at a point, in a direction along one axis.
func ArrowHead(c draw.Canvas, col color.Color, tip, direction vg.Point) {
	const length, half = 4, 1.6
	back := tip.Sub(direction.Scale(length))
	side := vg.Point{X: -direction.Y, Y: direction.X}.Scale(half)
	c.FillPolygon(col, []vg.Point{tip, back.Add(side), back.Sub(side)})
}

// RangeBar is a level bar from one value to another with an end of its own at each
// side: a dot where the range ends, an arrow where it goes on.
type RangeBar struct {
	From, To         vg.Length
	Y                vg.Length
	OpenFrom, OpenTo bool
	draw.LineStyle
}

// Draw draws the bar.
func (b RangeBar) Draw(c draw.Canvas) {
	const radius = 2
	c.StrokeLine2(b.LineStyle, b.From, b.Y, b.To, b.Y)
	for _, end := range []struct {
		x    vg.Length
		open bool
		out  vg.Length
	}{{b.From, b.OpenFrom, -1}, {b.To, b.OpenTo, 1}} {
		at := vg.Point{X: end.x, Y: b.Y}
		if end.open {
			ArrowHead(c, b.Color, at.Add(vg.Point{X: end.out * radius}), vg.Point{X: end.out})
		} else {
			FillDot(c, b.Color, radius, at)
		}
	}
}
