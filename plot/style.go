package plot

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/canvas"
)

// The greys, from paper to ink.
var (
	paper    = color.Gray{Y: 255}
	gridGrey = color.Gray{Y: 232}
	bandGrey = color.Gray{Y: 212}
	markGrey = color.Gray{Y: 226}
	faint    = color.Gray{Y: 120}
	ink      = color.Gray{Y: 25}
)

// Type sizes, in points.
const (
	titleSize = 11
	bodySize  = 8.5
	smallSize = 7.5
)

// textWidth returns the width of s at a size.
func textWidth(size vg.Length, s string) vg.Length { return canvas.Width(size, s) }

// capHeight is the height of capitals and figures, as a part of the size
// (measured on Liberation Sans).
const capHeight = 0.72

// Where a text lies about its point, as a part of its width.
const (
	fromLeft  = 0.0
	centred   = -0.5
	fromRight = -1.0
)

// write sets s with its baseline at pt.
func write(c draw.Canvas, size vg.Length, col color.Color, align float64, pt vg.Point, s string) {
	if s == "" {
		return
	}
	c.SetColor(col)
	c.FillString(canvas.Face(size), vg.Point{X: pt.X + vg.Length(align)*textWidth(size, s), Y: pt.Y}, s)
}

func textStyle(size vg.Length, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{Color: ink, Font: font.From(canvas.Sans, size), XAlign: x, YAlign: y, Handler: canvas.TextHandler}
}

func line(width vg.Length, col color.Color, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: col, Width: width, Dashes: dashes}
}

// The lines shared by the figures.
var (
	beyond   = line(0.6, faint, 1.5, 2) // a curve where no readings are
	baseLine = line(0.6, faint, 0.6, 2)
	rayLine  = line(0.7, ink)
	leader   = line(0.4, faint)
)

// look tells one strip from another.
type look struct {
	draw.LineStyle
	symbol symbol
}

// looks are the first eight; more strips begin again. The colours are of
// nearly one lightness, dark enough for print.
var looks = []look{
	{line(1.1, color.RGBA{R: 0x1f, G: 0x3f, B: 0x66, A: 255}), symbol{sides: 0}},
	{line(1.1, color.RGBA{R: 0x8c, G: 0x36, B: 0x26, A: 255}, 6, 2), symbol{sides: 4, turn: math.Pi / 4}},
	{line(1.1, color.RGBA{R: 0x2f, G: 0x66, B: 0x45, A: 255}, 2, 1.5), symbol{sides: 3, turn: math.Pi / 2}},
	{line(1.1, color.RGBA{R: 0x6b, G: 0x53, B: 0x12, A: 255}, 8, 2, 1.5, 2), symbol{sides: 4}},
	{line(1.1, color.RGBA{R: 0x5a, G: 0x36, B: 0x73, A: 255}, 1, 2), symbol{sides: 3, turn: -math.Pi / 2}},
	{line(1.1, color.RGBA{R: 0x1f, G: 0x63, B: 0x6b, A: 255}, 8, 2, 1.5, 2, 1.5, 2), symbol{sides: 0, dot: true}},
	{line(1.7, color.RGBA{R: 0x87, G: 0x3d, B: 0x62, A: 255}, 10, 3), symbol{sides: 4, turn: math.Pi / 4, dot: true}},
	{line(1.7, color.RGBA{R: 0x44, G: 0x44, B: 0x44, A: 255}), symbol{sides: 3, turn: math.Pi / 2, dot: true}},
}

// symbol is an open symbol: a regular polygon, or a circle when sides is 0.
type symbol struct {
	sides int
	turn  float64 // of the first corner, radians
	dot   bool    // in the middle
}

const symbolRadius = vg.Length(2.3)

// outline returns the symbol about pt. Polygons are drawn larger, for equal area.
func (s symbol) outline(pt vg.Point) vg.Path {
	var p vg.Path
	if s.sides == 0 {
		p.Move(vg.Point{X: pt.X + symbolRadius, Y: pt.Y})
		p.Arc(pt, symbolRadius, 0, 2*math.Pi)
		p.Close()
		return p
	}
	n := float64(s.sides)
	r := float64(symbolRadius) * math.Sqrt(2*math.Pi/(n*math.Sin(2*math.Pi/n)))
	for i := range s.sides {
		sin, cos := math.Sincos(s.turn + 2*math.Pi*float64(i)/n)
		corner := vg.Point{X: pt.X + vg.Length(r*cos), Y: pt.Y + vg.Length(r*sin)}
		if i == 0 {
			p.Move(corner)
		} else {
			p.Line(corner)
		}
	}
	p.Close()
	return p
}

// draw draws the symbol, filled with paper.
func (s symbol) draw(c draw.Canvas, col color.Color, pt vg.Point) {
	c.SetColor(paper)
	c.Fill(s.outline(pt))
	c.SetLineStyle(line(0.7, col))
	c.Stroke(s.outline(pt))
	if s.dot {
		fillDot(c, col, 0.8, pt)
	}
}

func fillDot(c draw.Canvas, col color.Color, radius vg.Length, pt vg.Point) {
	var p vg.Path
	p.Move(vg.Point{X: pt.X + radius, Y: pt.Y})
	p.Arc(pt, radius, 0, 2*math.Pi)
	p.Close()
	c.SetColor(col)
	c.Fill(p)
}

// strike crosses out what is at pt.
func strike(c draw.Canvas, col color.Color, pt vg.Point) {
	const r = symbolRadius * 1.5
	c.StrokeLines(line(0.8, col),
		[]vg.Point{{X: pt.X - r, Y: pt.Y - r}, {X: pt.X + r, Y: pt.Y + r}},
		[]vg.Point{{X: pt.X - r, Y: pt.Y + r}, {X: pt.X + r, Y: pt.Y - r}})
}

// across draws a level arrow with two heads and its label above.
func across(c draw.Canvas, from, to, y vg.Length, label string) {
	c.StrokeLine2(line(0.6, ink), from, y, to, y)
	arrowHead(c, vg.Point{X: from, Y: y}, vg.Point{X: -1})
	arrowHead(c, vg.Point{X: to, Y: y}, vg.Point{X: 1})
	write(c, smallSize, ink, centred, vg.Point{X: (from + to) / 2, Y: y + 2.5}, label)
}

// arrowHead draws a head at a point, in a direction along one axis.
func arrowHead(c draw.Canvas, tip, direction vg.Point) {
	const length, half = 4, 1.6
	back := tip.Sub(direction.Scale(length))
	side := vg.Point{X: -direction.Y, Y: direction.X}.Scale(half)
	c.FillPolygon(ink, []vg.Point{tip, back.Add(side), back.Sub(side)})
}
