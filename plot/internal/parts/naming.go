package parts

import (
	"cmp"
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
	data = slices.Clone(data)
	onto := func(m Mark, r vg.Rectangle) []vg.Point { return []vg.Point{m.At, nearest(r, m.At)} } // the leader
	const off = vg.Length(5)
	const hidden = 3 // the most points that a name may hide
	for _, m := range marks {
		w, h := TextWidth(LeastSize, m.Label), vg.Length(CapHeight*LeastSize)
		best, fewest := vg.Rectangle{}, hidden+1
		for _, by := range []vg.Length{off, off + h, off + 2.5*h, off + 4*h, off + 6*h, off + 8*h} {
			for _, at := range []vg.Point{
				{X: m.At.X - w/2, Y: m.At.Y + by}, {X: m.At.X - w/2, Y: m.At.Y - by - h},
				{X: m.At.X - by - w, Y: m.At.Y - h/2}, {X: m.At.X + by, Y: m.At.Y - h/2},
				{X: m.At.X - off - w, Y: m.At.Y - by - h}, {X: m.At.X - off - w, Y: m.At.Y + by},
			} {
				at.X = min(max(at.X, c.Min.X+2), c.Max.X-w-2)
				r := vg.Rectangle{Min: at, Max: at.Add(vg.Point{X: w, Y: h})}
				if r.Min.Y < c.Min.Y+1 || r.Max.Y > c.Max.Y-1 || slices.ContainsFunc(taken, func(o vg.Rectangle) bool { return overlap(r, o, 2) || Within(o, Between(onto(m, r)), 0) > 0 }) {
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
		if line := onto(m, best); distance(line[0], line[1]) > 1.5*off {
			c.StrokeLines(Leader, line)
			data = append(data, Between(line)...)
		}
		Write(c, LeastSize, Ink, FromLeft, best.Min, m.Label)
	}
}

func overlap(a, b vg.Rectangle, apart vg.Length) bool {
	return a.Min.X < b.Max.X+apart && b.Min.X < a.Max.X+apart && a.Min.Y < b.Max.Y+apart && b.Min.Y < a.Max.Y+apart
}

// Callout is a note that names a point. It stands as near to the point as nothing
// is in the way, with a leader to it.
type Callout struct {
	Note
	At vg.Point
}

// Place returns where the note stands on a canvas that already holds points, and
// false where there is no room near its point that a leader reaches across nothing.
func (k Callout) Place(c draw.Canvas, taken []vg.Point) (vg.Rectangle, bool) {
	const step, apart, farthest = vg.Length(4), vg.Length(4), 70
	size := k.Size()
	var at []vg.Point // lower left corners
	for x := c.Min.X + apart; x+size.X+apart <= c.Max.X; x += step {
		for y := c.Min.Y + apart; y+size.Y+apart <= c.Max.Y; y += step {
			at = append(at, vg.Point{X: x, Y: y})
		}
	}
	box := func(p vg.Point) vg.Rectangle { return vg.Rectangle{Min: p, Max: p.Add(size)} }
	away := func(p vg.Point) float64 {
		way := nearest(box(p), k.At).Sub(k.At)
		return math.Hypot(float64(way.X), float64(way.Y))
	}
	slices.SortStableFunc(at, func(a, b vg.Point) int { return cmp.Compare(away(a), away(b)) })
	for _, p := range at {
		if away(p) > farthest {
			break
		}
		if Within(box(p), taken, apart) == 0 && !k.crosses(box(p), taken) {
			return box(p), true
		}
	}
	return vg.Rectangle{}, false
}

// crosses says whether the leader would run over points, other than about its own.
func (k Callout) crosses(r vg.Rectangle, taken []vg.Point) bool {
	const own, apart = 14, 1.5
	for _, p := range Between([]vg.Point{k.At, nearest(r, k.At)}) {
		away := p.Sub(k.At)
		if math.Hypot(float64(away.X), float64(away.Y)) > own && Within(vg.Rectangle{Min: p, Max: p}, taken, apart) > 0 {
			return true
		}
	}
	return false
}

// Draw sets the note in its rectangle.
func (k Callout) Draw(c draw.Canvas, r vg.Rectangle) {
	const close, gap = 5, 2
	end := nearest(r, k.At)
	way := end.Sub(k.At)
	if length := vg.Length(math.Hypot(float64(way.X), float64(way.Y))); length > close {
		c.StrokeLines(Leader, []vg.Point{k.At.Add(way.Scale(gap / length)), end.Sub(way.Scale(gap / length))})
	}
	k.Note.Draw(c, r)
}

// nearest returns the point of a rectangle nearest to another.
func nearest(r vg.Rectangle, p vg.Point) vg.Point {
	return vg.Point{X: min(max(p.X, r.Min.X), r.Max.X), Y: min(max(p.Y, r.Min.Y), r.Max.Y)}
}

// Filled returns points all over a rectangle, close enough for no text to slip between.
func Filled(r vg.Rectangle) []vg.Point {
	const each = vg.Length(4)
	across, up := 1+int(r.Size().X/each), 1+int(r.Size().Y/each)
	var out []vg.Point
	for i := range across + 1 {
		for j := range up + 1 {
			out = append(out, vg.Point{X: r.Min.X + r.Size().X*vg.Length(i)/vg.Length(across), Y: r.Min.Y + r.Size().Y*vg.Length(j)/vg.Length(up)})
		}
	}
	return out
}

// Between returns points along lines, close enough for no text to slip between.
func Between(lines ...[]vg.Point) []vg.Point {
	const each = 3
	var out []vg.Point
	for _, line := range lines {
		for i, p := range line {
			if i == 0 {
				continue
			}
			way := p.Sub(line[i-1])
			n := 1 + int(math.Hypot(float64(way.X), float64(way.Y))/each)
			for k := range n {
				out = append(out, line[i-1].Add(way.Scale(vg.Length(k)/vg.Length(n))))
			}
		}
		if len(line) > 0 {
			out = append(out, line[len(line)-1])
		}
	}
	return out
}
