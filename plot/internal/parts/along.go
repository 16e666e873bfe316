package parts

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Along is a label that lies on a line, turned as the line runs there.
type Along struct {
	Text  string
	Size  vg.Length
	Color color.Color
	at    vg.Point // its middle
	angle float64
}

// Fit places the label on a line of points, near a part of its length (0 the begin, 1
// the end), and reports whether the line is long and straight enough there.
func (l *Along) Fit(line []vg.Point, part float64) bool {
	lengths := make([]vg.Length, len(line))
	for i := 1; i < len(line); i++ {
		d := line[i].Sub(line[i-1])
		lengths[i] = lengths[i-1] + vg.Length(math.Hypot(float64(d.X), float64(d.Y)))
	}
	if len(line) < 2 {
		return false
	}
	width := TextWidth(l.Size, l.Text)
	whole := lengths[len(lengths)-1]
	if whole < 1.2*width {
		return false
	}
	middle := min(max(vg.Length(part)*whole, 0.6*width), whole-0.6*width)
	a, b := pointAt(line, lengths, middle-width/2), pointAt(line, lengths, middle+width/2)
	if a.X > b.X { // upside down
		a, b = b, a
	}
	chord := b.Sub(a)
	l.at, l.angle = a.Add(b).Scale(0.5), math.Atan2(float64(chord.Y), float64(chord.X))
	const bent = 0.06 // of the width, the most that the line leaves the chord by
	on := pointAt(line, lengths, middle).Sub(l.at)
	return math.Hypot(float64(on.X), float64(on.Y)) <= math.Max(bent*float64(width), 1)
}

// pointAt returns the point at a length along a line.
func pointAt(line []vg.Point, lengths []vg.Length, at vg.Length) vg.Point {
	for i := 1; i < len(line); i++ {
		if lengths[i] >= at && lengths[i] > lengths[i-1] {
			t := (at - lengths[i-1]) / (lengths[i] - lengths[i-1])
			return line[i-1].Add(line[i].Sub(line[i-1]).Scale(t))
		}
	}
	return line[len(line)-1]
}

// corners returns the corners of the paper on which the label stands.
func (l *Along) corners() []vg.Point {
	half := vg.Point{X: TextWidth(l.Size, l.Text)/2 + 1.5, Y: CapHeight*l.Size/2 + 1}
	sin, cos := math.Sincos(l.angle)
	turned := func(x, y vg.Length) vg.Point {
		return l.at.Add(vg.Point{X: x*vg.Length(cos) - y*vg.Length(sin), Y: x*vg.Length(sin) + y*vg.Length(cos)})
	}
	return []vg.Point{turned(-half.X, -half.Y), turned(half.X, -half.Y), turned(half.X, half.Y), turned(-half.X, half.Y)}
}

// Box returns the upright rectangle about the label.
func (l *Along) Box() vg.Rectangle {
	box := vg.Rectangle{Min: l.at, Max: l.at}
	for _, p := range l.corners() {
		box.Min = vg.Point{X: min(box.Min.X, p.X), Y: min(box.Min.Y, p.Y)}
		box.Max = vg.Point{X: max(box.Max.X, p.X), Y: max(box.Max.Y, p.Y)}
	}
	return box
}

// Draw sets the label on a strip of paper that breaks the line.
func (l *Along) Draw(c draw.Canvas) {
	c.FillPolygon(Paper, l.corners())
	c.Push()
	c.Rotate(l.angle)
	sin, cos := math.Sincos(-l.angle)
	at := vg.Point{X: l.at.X*vg.Length(cos) - l.at.Y*vg.Length(sin), Y: l.at.X*vg.Length(sin) + l.at.Y*vg.Length(cos)}
	Write(c, l.Size, l.Color, Centred, vg.Point{X: at.X, Y: at.Y - CapHeight*l.Size/2}, l.Text)
	c.Pop()
}
