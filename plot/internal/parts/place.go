package parts

import (
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

// Label is a short text and where it is written.
type Label struct {
	vg.Rectangle
	Name string
}

// Touches says whether a rectangle comes closer to one of the labels than apart.
func Touches(r vg.Rectangle, others []Label, apart vg.Length) bool {
	for _, o := range others {
		if overlap(r, o.Rectangle, apart) {
			return true
		}
	}
	return false
}
