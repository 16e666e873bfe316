package overlay

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// A quad is a convex figure of four corners on the page, in order around it.
type quad [4]vg.Point

func (q quad) middle() vg.Point {
	return q[0].Add(q[1]).Add(q[2]).Add(q[3]).Scale(0.25)
}

// lines returns the outline, closed.
func (q quad) lines() []vg.Point { return append(q[:], q[0]) }

func dotProduct(p, q vg.Point) vg.Length { return p.X*q.X + p.Y*q.Y }

func unit(p vg.Point) vg.Point {
	if l := vg.Length(math.Hypot(float64(p.X), float64(p.Y))); l > 0 {
		return p.Scale(1 / l)
	}
	return vg.Point{}
}

// from returns the corners such that the first and the last are those at the beginning of a
// way.
func (q quad) from(way vg.Point) quad {
	best, least := 0, vg.Length(math.Inf(1))
	for i := range q {
		if at := dotProduct(q[i].Add(q[(i+3)%4]), way); at < least {
			best, least = i, at
		}
	}
	return quad{q[best], q[(best+1)%4], q[(best+2)%4], q[(best+3)%4]}
}

// meets says whether a rectangle and the quad overlap: they do not where some side of
// either has all of the other beyond it.
func (q quad) meets(r vg.Rectangle) bool {
	if b := q.bounds(); b.Max.X < r.Min.X || b.Max.Y < r.Min.Y || r.Max.X < b.Min.X || r.Max.Y < b.Min.Y {
		return false // as of nearly all
	}
	box := corners(r)
	for _, sides := range []quad{q, box} {
		for i := range sides {
			side := sides[(i+1)%4].Sub(sides[i])
			if side == (vg.Point{}) { // of a line
				continue
			}
			across := vg.Point{X: -side.Y, Y: side.X}
			lowQ, highQ := q.along(across)
			lowBox, highBox := box.along(across)
			if highQ <= lowBox || highBox <= lowQ {
				return false
			}
		}
	}
	return true
}

// along returns the ends of the quad along a direction.
func (q quad) along(way vg.Point) (low, high vg.Length) {
	low, high = vg.Length(math.Inf(1)), vg.Length(math.Inf(-1))
	for _, p := range q {
		at := dotProduct(p, way)
		low, high = min(low, at), max(high, at)
	}
	return low, high
}

// bounds returns the rectangle that holds the quad.
func (q quad) bounds() vg.Rectangle {
	r := vg.Rectangle{Min: q[0], Max: q[0]}
	for _, p := range q[1:] {
		r.Min = vg.Point{X: min(r.Min.X, p.X), Y: min(r.Min.Y, p.Y)}
		r.Max = vg.Point{X: max(r.Max.X, p.X), Y: max(r.Max.Y, p.Y)}
	}
	return r
}

func corners(r vg.Rectangle) quad {
	return quad{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}}
}

// stroke returns a line as a quad without width.
func stroke(line []vg.Point) quad { return quad{line[0], line[1], line[1], line[0]} }

func overlap(a, b vg.Rectangle) bool {
	return a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y
}

// inside says whether a rectangle lies in a frame.
func inside(r, frame vg.Rectangle) bool {
	return r.Min.X >= frame.Min.X && r.Min.Y >= frame.Min.Y && r.Max.X <= frame.Max.X && r.Max.Y <= frame.Max.Y
}
