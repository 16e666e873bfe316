package parts

import (
	"image/color"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/canvas"
)

// Type sizes, in points.
const (
	TitleSize = 11
	BodySize  = 8.5
	SmallSize = 7.5
)

// TextWidth returns the width of s at a size.
func TextWidth(size vg.Length, s string) vg.Length { return canvas.Width(size, s) }

// CapHeight is the height of capitals and figures, as a part of the size
// (measured on Liberation Sans).
const CapHeight = 0.72

// Where a text lies about its point, as a part of its width.
const (
	FromLeft  = 0.0
	Centred   = -0.5
	FromRight = -1.0
)

// Write sets s with its baseline at pt.
func Write(c draw.Canvas, size vg.Length, col color.Color, align float64, pt vg.Point, s string) {
	if s == "" {
		return
	}
	c.SetColor(col)
	canvas.FillAligned(c, canvas.Face(size), pt, align, s)
}

func TextStyle(size vg.Length, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{Color: Ink, Font: font.From(canvas.Sans, size), XAlign: x, YAlign: y, Handler: canvas.TextHandler}
}

func Line(width vg.Length, col color.Color, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: col, Width: width, Dashes: dashes}
}

// The lines shared by the figures.
var (
	Beyond   = Line(0.6, Faint, 1.5, 2) // a curve where no readings are
	BaseLine = Line(0.6, Faint, 0.6, 2)
	RayLine  = Line(0.7, Ink)
	Leader   = Line(0.4, Faint)
)
