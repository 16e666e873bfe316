package parts

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Mark is a point with its name.
type Mark struct {
	At    vg.Point
	Label string
}

// NameMarks sets names of marks above, below or beside their points, where they
// hide the fewest of the data. Those that would hide many or another name are left
// out.
func NameMarks(c draw.Canvas, data []vg.Point, marks []Mark) {
	var taken []vg.Rectangle
	const off = vg.Length(5)
	const hidden = 9 // the most points that a name may hide
	for _, m := range marks {
		w, h := TextWidth(LeastSize, m.Label), vg.Length(CapHeight*LeastSize)
		best, fewest := vg.Rectangle{}, hidden+1
		for _, by := range []vg.Length{off, off + h, off + 2.5*h, off + 4*h} {
			for _, at := range []vg.Point{
				{X: m.At.X - w/2, Y: m.At.Y + by}, {X: m.At.X - w/2, Y: m.At.Y - by - h},
				{X: m.At.X - by - w, Y: m.At.Y - h/2}, {X: m.At.X + by, Y: m.At.Y - h/2},
				{X: m.At.X - off - w, Y: m.At.Y - by - h}, {X: m.At.X - off - w, Y: m.At.Y + by},
			} {
				at.X = min(max(at.X, c.Min.X+2), c.Max.X-w-2)
				r := vg.Rectangle{Min: at, Max: at.Add(vg.Point{X: w, Y: h})}
				if r.Min.Y < c.Min.Y+1 || r.Max.Y > c.Max.Y-1 || slices.ContainsFunc(taken, func(o vg.Rectangle) bool { return overlap(r, o, 2) }) {
					continue
				}
				if n := Within(r, data, 1.5); n < fewest {
					best, fewest = r, n
				}
			}
		}
		if fewest > hidden {
			continue
		}
		taken = append(taken, best)
		near := vg.Point{X: min(max(m.At.X, best.Min.X), best.Max.X), Y: min(max(m.At.Y, best.Min.Y), best.Max.Y)}
		if d := near.Sub(m.At); math.Hypot(float64(d.X), float64(d.Y)) > 1.5*float64(off) {
			c.StrokeLine2(Leader, m.At.X, m.At.Y, near.X, near.Y)
		}
		Write(c, LeastSize, Ink, FromLeft, best.Min, m.Label)
	}
}

func overlap(a, b vg.Rectangle, apart vg.Length) bool {
	return a.Min.X < b.Max.X+apart && b.Min.X < a.Max.X+apart && a.Min.Y < b.Max.Y+apart && b.Min.Y < a.Max.Y+apart
}
