package parts

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Look tells one line with its points from another.
type Look struct {
	draw.LineStyle
	Symbol Symbol
}

// symbols and dashes tell lines apart where colours do not.
var (
	symbols = [...]Symbol{
		{Sides: 0}, {Sides: 4, Turn: math.Pi / 4}, {Sides: 3, Turn: math.Pi / 2}, {Sides: 4},
		{Sides: 3, Turn: -math.Pi / 2}, {Sides: 0, Dot: true}, {Sides: 4, Turn: math.Pi / 4, Dot: true}, {Sides: 3, Turn: math.Pi / 2, Dot: true},
		{Sides: 5, Turn: math.Pi / 2}, {Sides: 4, Dot: true}, {Sides: 3, Turn: -math.Pi / 2, Dot: true}, {Sides: 5, Turn: math.Pi / 2, Dot: true},
	}
	dashes = [...][]vg.Length{nil, {6, 2}, {2, 1.5}, {8, 2, 1.5, 2}, {1, 2}, {8, 2, 1.5, 2, 1.5, 2}} // each twice, thin and thick
)

// Plain is the look of what is alone.
var Plain = Unordered(1)[0]

// Different is how many looks differ from each other.
const Different = len(symbols)

// Unordered returns the looks of n things without an order, such as developers,
// each of its own hue and line, and its own symbol. Those after the twelfth repeat.
func Unordered(n int) []Look {
	out := make([]Look, n)
	for i := range out {
		k := i % Different
		width := vg.Length(1.1)
		if k >= len(dashes) {
			width = 1.7
		}
		out[i] = Look{Line(width, hue(k%len(hues)), dashes[k%len(dashes)]...), symbols[k]}
	}
	return out
}

// leastApart is the step of lightness by which neighbours are told apart in grey.
const leastApart = 0.08

// Ordered returns the looks of n things in their order, such as development times,
// from the lightest to the darkest. Where the steps of lightness become too small,
// every other line is broken.
func Ordered(n int) []Look {
	out := make([]Look, n)
	for i := range out {
		at := 1.0
		if n > 1 {
			at = float64(i) / float64(n-1)
		}
		var broken []vg.Length
		if i%2 == 1 && (lightest-darkest)/float64(n-1) < leastApart {
			broken = dashes[1]
		}
		out[i] = Look{Line(1.1, ordered(at), broken...), symbols[i%Different]}
	}
	return out
}

// Symbol is an open symbol: a regular polygon, or a circle when sides is 0.
type Symbol struct {
	Sides int
	Turn  float64   // of the first corner, radians
	Dot   bool      // in the middle
	Scale vg.Length // of the usual size; 0 means 1
}

// radius returns the radius of a circle of the symbol's area.
func (s Symbol) radius() vg.Length {
	if s.Scale == 0 {
		return SymbolRadius
	}
	return s.Scale * SymbolRadius
}

// SymbolRadius is that of a circle of the usual size.
const SymbolRadius = vg.Length(2.3)

// Outline returns the symbol about pt. Polygons are drawn larger, for equal area.
func (s Symbol) Outline(pt vg.Point) vg.Path {
	var p vg.Path
	if s.Sides == 0 {
		p.Move(vg.Point{X: pt.X + s.radius(), Y: pt.Y})
		p.Arc(pt, s.radius(), 0, 2*math.Pi)
		p.Close()
		return p
	}
	n := float64(s.Sides)
	r := float64(s.radius()) * math.Sqrt(2*math.Pi/(n*math.Sin(2*math.Pi/n)))
	for i := range s.Sides {
		sin, cos := math.Sincos(s.Turn + 2*math.Pi*float64(i)/n)
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

// Draw draws the symbol, filled with paper.
func (s Symbol) Draw(c draw.Canvas, col color.Color, pt vg.Point) {
	c.SetColor(Paper)
	c.Fill(s.Outline(pt))
	c.SetLineStyle(Line(0.7, col))
	c.Stroke(s.Outline(pt))
	if s.Dot {
		FillDot(c, col, 0.8, pt)
	}
}

// Fill draws the symbol solid.
func (s Symbol) Fill(c draw.Canvas, col color.Color, pt vg.Point) {
	c.SetColor(col)
	c.Fill(s.Outline(pt))
}

// FillDot draws a solid circle.

func FillDot(c draw.Canvas, col color.Color, radius vg.Length, pt vg.Point) {
	var p vg.Path
	p.Move(vg.Point{X: pt.X + radius, Y: pt.Y})
	p.Arc(pt, radius, 0, 2*math.Pi)
	p.Close()
	c.SetColor(col)
	c.Fill(p)
}

// Strike crosses out what is at pt.
func Strike(c draw.Canvas, col color.Color, pt vg.Point) {
	cross(c, Line(0.8, col), SymbolRadius*1.5, pt)
}

// Cross draws a cross that stands by itself, of half that width.
func Cross(c draw.Canvas, col color.Color, half vg.Length, pt vg.Point) {
	cross(c, Line(1.2, col), half, pt)
}

func cross(c draw.Canvas, style draw.LineStyle, r vg.Length, pt vg.Point) {
	c.StrokeLines(style,
		[]vg.Point{{X: pt.X - r, Y: pt.Y - r}, {X: pt.X + r, Y: pt.Y + r}},
		[]vg.Point{{X: pt.X - r, Y: pt.Y + r}, {X: pt.X + r, Y: pt.Y - r}})
}
