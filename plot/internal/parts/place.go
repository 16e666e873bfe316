package parts

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Spread returns heights at least gap apart and within lo to hi, in the order
// of the wanted heights and as near to them as that allows. When there is no
// room for all at that gap they are spaced evenly.
func Spread(want []vg.Length, gap, lo, hi vg.Length) []vg.Length {
	n := len(want)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case want[a] < want[b]:
			return -1
		case want[a] > want[b]:
			return 1
		}
		return 0
	})
	if n > 1 {
		gap = min(gap, (hi-lo)/vg.Length(n-1))
	}
	// Pool neighbours that would touch into blocks about their common mean
	// (isotonic regression of want less rank times gap).
	type block struct {
		sum vg.Length
		n   int
	}
	mean := func(b block) vg.Length {
		return min(max(b.sum/vg.Length(b.n), lo), hi-gap*vg.Length(n-1))
	}
	var blocks []block
	for rank, i := range order {
		b := block{want[i] - vg.Length(rank)*gap, 1}
		for len(blocks) > 0 && mean(blocks[len(blocks)-1]) > mean(b) {
			last := blocks[len(blocks)-1]
			b = block{b.sum + last.sum, b.n + last.n}
			blocks = blocks[:len(blocks)-1]
		}
		blocks = append(blocks, b)
	}
	out := make([]vg.Length, n)
	rank := 0
	for _, b := range blocks {
		for range b.n {
			out[order[rank]] = mean(b) + vg.Length(rank)*gap
			rank++
		}
	}
	return out
}

// Note is a block of short lines that is set in an empty corner.
type Note []string

const (
	NoteLeading = 1.35 * SmallSize
	NoteMargin  = vg.Length(6)
)

func (n Note) Size() vg.Point {
	var w vg.Length
	for _, s := range n {
		w = max(w, TextWidth(SmallSize, s))
	}
	return vg.Point{X: w, Y: vg.Length(len(n)-1)*NoteLeading + CapHeight*SmallSize}
}

// Corner returns the corner of the canvas, top left, bottom right, top right
// or bottom left, where a note hides the fewest of the points, and how many;
// all of them when it does not fit.
func (n Note) Corner(c draw.Canvas, points []vg.Point) (vg.Rectangle, int) {
	size := n.Size()
	left, right := c.Min.X+NoteMargin, c.Max.X-NoteMargin-size.X
	low, high := c.Min.Y+NoteMargin, c.Max.Y-NoteMargin-size.Y
	var best vg.Rectangle
	fewest := len(points) + 1
	for _, at := range []vg.Point{{X: left, Y: high}, {X: right, Y: low}, {X: right, Y: high}, {X: left, Y: low}} {
		r := vg.Rectangle{Min: at, Max: at.Add(size)}
		hidden := Within(r, points, NoteMargin)
		if r.Min.X < c.Min.X || r.Max.Y > c.Max.Y || r.Min.Y < c.Min.Y {
			hidden = len(points) // it does not fit at all
		}
		if hidden < fewest {
			best, fewest = r, hidden
		}
	}
	return best, fewest
}

// Draw sets the note in a rectangle of its size, on paper.
func (n Note) Draw(c draw.Canvas, r vg.Rectangle) {
	if len(n) == 0 {
		return
	}
	c.SetColor(Paper)
	c.Fill(vg.Rectangle{
		Min: r.Min.Sub(vg.Point{X: NoteMargin / 2, Y: NoteMargin / 2}),
		Max: r.Max.Add(vg.Point{X: NoteMargin / 2, Y: NoteMargin / 2}),
	}.Path())
	for i, s := range n {
		Write(c, SmallSize, Ink, FromLeft, vg.Point{X: r.Min.X, Y: r.Max.Y - CapHeight*SmallSize - vg.Length(i)*NoteLeading}, s)
	}
}

// Within counts the points in a rectangle or close to it.
func Within(r vg.Rectangle, points []vg.Point, close vg.Length) int {
	n := 0
	for _, p := range points {
		if p.X > r.Min.X-close && p.X < r.Max.X+close && p.Y > r.Min.Y-close && p.Y < r.Max.Y+close {
			n++
		}
	}
	return n
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
