package canvas

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
)

// matrix is a transform: x' = ax + cy + e, y' = bx + dy + f.
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, d: 1}

// after returns the transform that does n first, then m.
func (m matrix) after(n matrix) matrix {
	return matrix{
		m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b,
		m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d,
		m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f,
	}
}

func (m matrix) apply(p vg.Point) vg.Point {
	x, y := float64(p.X), float64(p.Y)
	return vg.Point{X: vg.Length(m.a*x + m.c*y + m.e), Y: vg.Length(m.b*x + m.d*y + m.f)}
}

// state is what Push keeps and Pop restores.
type state struct {
	color  color.Color
	width  vg.Length
	dashes []vg.Length
	offset vg.Length
	matrix matrix
}

// states are the state of a canvas and, above the first, those kept by Push. They
// are the half of a vg.Canvas that draws nothing.
type states struct {
	state
	kept []state
}

// newStates returns the state that a vg.Canvas begins with.
func newStates() states {
	return states{state: state{color: color.Black, width: vg.Points(1), matrix: identity}}
}

func (s *states) Push() { s.kept = append(s.kept, s.state) }

func (s *states) Pop() {
	last := len(s.kept) - 1
	s.state, s.kept = s.kept[last], s.kept[:last]
}

func (s *states) SetLineWidth(w vg.Length) { s.width = w }

func (s *states) SetLineDash(dashes []vg.Length, offset vg.Length) {
	s.dashes, s.offset = nil, offset
	for _, d := range dashes {
		if d > 0 { // all without length would be no line, and is no dash in a PDF
			s.dashes = dashes
		}
	}
}

func (s *states) SetColor(c color.Color) {
	if c == nil {
		c = color.Black
	}
	s.color = c
}

func (s *states) Rotate(angle float64) {
	sin, cos := math.Sincos(angle)
	s.matrix = s.matrix.after(matrix{cos, sin, -sin, cos, 0, 0})
}

func (s *states) Translate(by vg.Point) {
	s.matrix = s.matrix.after(matrix{1, 0, 0, 1, float64(by.X), float64(by.Y)})
}

func (s *states) Scale(x, y float64) {
	s.matrix = s.matrix.after(matrix{x, 0, 0, y, 0, 0})
}

// painted returns the colour as it is seen, not multiplied by its opacity.
func (s *state) painted() color.NRGBA { return color.NRGBAModel.Convert(s.color).(color.NRGBA) }
