package parts

import (
	"image/color"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Type sizes, in points.
const (
	TitleSize = 11
	BodySize  = 8.5
	SmallSize = 7.5
)

// Fonts holds the one family that is used, apart from gonum/plot's defaults.
var Fonts = font.NewCache(liberation.Collection())

var sans = font.Font{Typeface: "Liberation", Variant: "Sans"}

func Face(size vg.Length) font.Face { return Fonts.Lookup(sans, size) }

// TextWidth returns the width of s at a size.
func TextWidth(size vg.Length, s string) vg.Length {
	f := Face(size)
	return f.Width(s)
}

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
	f := Face(size)
	c.SetColor(col)
	c.FillString(f, vg.Point{X: pt.X + vg.Length(align)*f.Width(s), Y: pt.Y}, s)
}

func TextStyle(size vg.Length, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{Color: Ink, Font: font.From(sans, size), XAlign: x, YAlign: y, Handler: text.Plain{Fonts: Fonts}}
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
