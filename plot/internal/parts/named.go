package parts

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Named is a short text that names a point of a drawing, beside it or joined to it
// by a thin line. Lines of the text are parted by "\n".
type Named struct {
	Text   string
	Colour Colour     // the zero value is ink
	At     vg.Point   // what it names
	Or     []vg.Point // other points that it may name as well, of a line
	Up     bool       // it stands above its point rather than below where both are free

	vg.Rectangle // where it stands, once it is placed
}

const (
	nameClear = vg.Length(6)   // from the point to a text without a leader
	nameApart = vg.Length(2)   // between a text and what it must not touch
	nameEdge  = vg.Length(2.5) // between a text and the frame
)

// Size returns the width and height of the text.
func (l Named) Size() vg.Point { return Note(strings.Split(l.Text, "\n")).Size() }

// PlaceNames returns the names, each in turn where it touches none placed
// before, hides the fewest of the points, its leader crosses the fewest, and it stands
// closest to what it names. One for which there is no place is left out.
func PlaceNames(c draw.Canvas, all []Named, points []vg.Point) []Named {
	var out []Named
	points = slices.Clone(points)
	for _, l := range all {
		if l.place(c, out, points) {
			out = append(out, l)
			points = append(points, l.outline()...)
		}
	}
	return out
}

// place finds the best place for the name and reports whether there is one.
func (l *Named) place(c draw.Canvas, others []Named, points []vg.Point) bool {
	const (
		directions = 24
		hides      = 1000 // the cost of a point hidden, in points of distance
		crosses    = 15
		strikes    = 150 // that of a leader through another name
		away       = 8   // of the side not wished for
	)
	size := l.Size()
	best, named, found := math.Inf(1), l.At, false
	for _, at := range append([]vg.Point{l.At}, l.Or...) {
		for _, far := range []vg.Length{0, 6, 14, 24, 36, 50, 66, 84, 110, 140, 180} {
			for i := range directions {
				sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / directions)
				near := at.Add(vg.Point{X: vg.Length(cos), Y: vg.Length(sin)}.Scale(nameClear + far))
				r := vg.Rectangle{Min: vg.Point{X: near.X - size.X*vg.Length(1-cos)/2, Y: near.Y - size.Y*vg.Length(1-sin)/2}}
				r.Max = r.Min.Add(size)
				if r.Min.X < c.Min.X+nameEdge || r.Max.X > c.Max.X-nameEdge || r.Min.Y < c.Min.Y+nameEdge || r.Max.Y > c.Max.Y-nameEdge {
					continue
				}
				cost := float64(far)
				if l.Up != (sin > 0) {
					cost += away
				}
				if cost >= best || touching(r, others) {
					continue
				}
				if cost += hides * float64(Within(r, points, nameApart)); cost >= best {
					continue
				}
				cost += crosses * float64(crossed(at, closest(r, at), points))
				for _, o := range others {
					if Within(o.Rectangle, Between([]vg.Point{at, closest(r, at)}), 0) > 0 {
						cost += strikes
					}
				}
				if cost < best {
					l.Rectangle, named, best, found = r, at, cost, true
				}
			}
		}
	}
	l.At = named
	return found
}

// Draw sets the text, with a leader where it stands off.
func (l Named) Draw(c draw.Canvas) {
	if from := closest(l.Rectangle, l.At); distance(from, l.At) > 1.4*nameClear {
		toward := l.At.Sub(from)
		toward = toward.Scale(1 / distance(from, l.At))
		c.StrokeLines(Leader, []vg.Point{from.Add(toward), l.At.Sub(toward.Scale(nameClear / 2))})
	}
	colour := l.Colour
	if colour == (Colour{}) {
		colour = Ink
	}
	for i, s := range strings.Split(l.Text, "\n") {
		Write(c, SmallSize, colour, FromLeft, vg.Point{X: l.Min.X, Y: l.Max.Y - CapHeight*SmallSize - vg.Length(i)*NoteLeading}, s)
	}
}

// outline returns points along the rectangle of the text and of its leader.
func (l Named) outline() []vg.Point {
	from := closest(l.Rectangle, l.At)
	var out []vg.Point
	const n = 12
	size := l.Rectangle.Size()
	for i := range n + 1 {
		part := vg.Length(i) / n
		along := size.Scale(part)
		out = append(out, l.Min.Add(vg.Point{X: along.X}), l.Max.Sub(vg.Point{X: along.X}), l.Min.Add(vg.Point{Y: along.Y}), l.Max.Sub(vg.Point{Y: along.Y}),
			from.Add(l.At.Sub(from).Scale(part)))
	}
	return out
}

// closest returns the place of a rectangle that is nearest to a point.
func closest(r vg.Rectangle, to vg.Point) vg.Point {
	return vg.Point{X: min(max(to.X, r.Min.X), r.Max.X), Y: min(max(to.Y, r.Min.Y), r.Max.Y)}
}

func distance(a, b vg.Point) vg.Length {
	return vg.Length(math.Hypot(float64(a.X-b.X), float64(a.Y-b.Y)))
}

func touching(r vg.Rectangle, others []Named) bool {
	for _, o := range others {
		if r.Min.X < o.Max.X+2*nameApart && o.Min.X < r.Max.X+2*nameApart && r.Min.Y < o.Max.Y+2*nameApart && o.Min.Y < r.Max.Y+2*nameApart {
			return true
		}
	}
	return false
}

// crossed counts the points that a line from one point to another meets, but for those
// at its beginning.
func crossed(from, to vg.Point, points []vg.Point) int {
	const near = 1.5
	d := to.Sub(from)
	length := distance(from, to)
	if length <= nameClear {
		return 0
	}
	n := 0
	for _, p := range points {
		q := p.Sub(from)
		along := (q.X*d.X + q.Y*d.Y) / length
		across := (q.X*d.Y - q.Y*d.X) / length
		if along > nameClear && along < length && across > -near && across < near {
			n++
		}
	}
	return n
}
