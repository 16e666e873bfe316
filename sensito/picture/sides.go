package picture

import (
	"math"
	"slices"
)

// How the sides of a row are looked for. Lengths are in steps.
const (
	// sideReach is how far to either side of the marks (TestNarrowRow).
	sideReach = 12
	// sideSlope is what a side must differ by of the logarithm of light, and sideNoise by how many sd of what differs in
	// the middle of the step. Light that is uneven by a few hundredths has no sides (TestHardRows).
	sideSlope, sideNoise = 0.06, 4
	// maxTilt is how far, as a slope, the sides may turn from the marks: those of eleven steps are off by 1.5 degrees
	// where each is by a fifth of a step (TestMarksFound).
	maxTilt = 0.09
	// sideWithin of a step, or a pixel, a side may lie off a straight line, and so many steps must have it (TestHardRows,
	// TestMarksFound).
	sideWithin, fewestSides = 0.02, 2.5
	// innerCounts of the steps that the most have must have an inner side for it to be the row's: of film nearly all at base
	// few steps have one, and the others the film's edge (TestHardRows).
	innerCounts = 0.2
	// usedAcross is the share of the width that is read (TestHolesBesideSteps).
	usedAcross = 0.6
)

// sides are those of a row: its ends in the middle between them, and its width in pixels.
type sides struct {
	ends  Ends
	width float64
}

// sidesOf returns the sides of a row: where the light differs across in most steps, along a straight line. A row that goes
// on to the end of the picture, or further than is looked, ends there; what lies one-sidedly is as wide on the other side.
func sidesOf(r raster, e Ends, steps int) sides {
	f := frameOf(e)
	long := e.Last.minus(e.First).length()
	pitch := long / float64(steps)
	left, right := r.side(f, pitch, steps, -1), r.side(f, pitch, steps, 1)
	// The slope is that of the side that more steps tell.
	slope := (left.slope*left.count + right.slope*right.count) / max(1, left.count+right.count)
	at := func(l sideLine, sign float64) float64 { // where a side lies beside the middle of the row
		if l.count > 0 {
			return l.start + l.slope*long/2
		}
		return sign * sideReach * pitch
	}
	a, b := at(left, -1), at(right, 1)
	middle := (a + b) / 2
	if left.count == 0 || right.count == 0 {
		// The other side was not seen: the mark is in the middle.
		near := min(-a, b)
		a, b = max(a, -near), min(b, near)
		middle = 0
	}
	line := func(u float64) Point { return f.at(u, middle+slope*(u-long/2)) }
	return sides{ends: Ends{line(0), line(long)}, width: (b - a) / math.Hypot(1, slope)}
}

// A sideLine is a side: its place across at the beginning of the row, its slope, and how many steps have it there; none
// where it was not seen.
type sideLine struct{ start, slope, count float64 }

// side returns the side on one side of a row.
func (r raster) side(f frame, pitch float64, steps int, sign float64) sideLine {
	by := max(1, pitch/48)
	type place struct{ u, w float64 }
	var seen []place
	brightest := 0.0
	columns := make([][]float64, steps)
	for k := range columns {
		columns[k] = r.acrossStep(f, (float64(k)+0.5)*pitch, pitch, by, sign)
		for _, v := range columns[k] {
			brightest = max(brightest, v)
		}
	}
	for k, c := range columns {
		for i, v := range c {
			c[i] = math.Log(v + blackShare*brightest + 1.0/full)
		}
		if w := sideIn(c, pitch/by); w > 0 {
			seen = append(seen, place{(float64(k) + 0.5) * pitch, sign * w * by})
		}
	}
	// Any two steps tell a line; that on which most lie gives the direction, and the side, unless a part of the steps have one
	// further in: of a film with holes the holes, not its edge.
	tolerance := max(1, sideWithin*pitch)
	weigh := func(l sideLine) (weight float64) {
		for _, p := range seen {
			off := (p.w - l.start - l.slope*p.u) / tolerance
			weight += max(0, 1-off*off)
		}
		return weight
	}
	var lines []sideLine
	most := 0.0
	for i, a := range seen {
		for _, b := range seen[i+1:] {
			l := sideLine{slope: (b.w - a.w) / (b.u - a.u)}
			if math.Abs(l.slope) > maxTilt {
				continue
			}
			l.start = a.w - l.slope*a.u
			l.count = weigh(l)
			most = max(most, l.count)
			lines = append(lines, l)
		}
	}
	if most < max(fewestSides, float64(steps)/6) {
		return sideLine{}
	}
	best := slices.MaxFunc(lines, func(a, b sideLine) int { return compare(a.count, b.count) })
	// The line of least squares through the steps that have it.
	for range 2 {
		var n, su, sw, suu, suw float64
		for _, p := range seen {
			if math.Abs(p.w-best.start-best.slope*p.u) <= tolerance {
				n, su, sw, suu, suw = n+1, su+p.u, sw+p.w, suu+p.u*p.u, suw+p.u*p.w
			}
		}
		if det := n*suu - su*su; det > 0 {
			best.slope = (n*suw - su*sw) / det
			best.start = (sw - best.slope*su) / n
		}
	}
	// An inner side of the same direction that a part of the steps have.
	var inner []float64
	for _, p := range seen {
		inner = append(inner, sign*(p.w-best.slope*p.u))
	}
	slices.Sort(inner)
	fewest := max(3, int(innerCounts*best.count+0.5))
	for i := 0; i+fewest <= len(inner) && inner[i] < sign*best.start-2*tolerance; i++ {
		last := i
		for last+1 < len(inner) && inner[last+1] <= inner[i]+2*tolerance {
			last++
		}
		if last-i+1 >= fewest {
			best.start = sign * mean(inner[i:last+1])
			break
		}
	}
	return best
}

// acrossStep returns the light across a step, from the middle of the row to one side, as far as the picture goes: the mean of
// the middle half of the step's length.
func (r raster) acrossStep(f frame, middle, pitch, by, sign float64) []float64 {
	const along = 24
	n := max(4, min(along, int(pitch/2)))
	var out []float64
	// It begins on the other side, so that the level of the middle is known.
	for w := -0.3 * pitch; w <= sideReach*pitch; w += by {
		sum := 0.0
		for i := range n {
			p := f.at(middle+pitch/2*((float64(i)+0.5)/float64(n)-0.5), sign*w)
			if p.X < 0 || p.Y < 0 || p.X > float64(r.width) || p.Y > float64(r.height) {
				return out
			}
			sum += r.at(p)
		}
		out = append(out, sum/float64(n))
	}
	return out
}

// sideIn returns how far from the middle of the row the logarithms across a step have their first side, in values; 0 where
// they have none. A step is so many values long. The end of the picture is a side.
func sideIn(logs []float64, pitch float64) float64 {
	reach := max(2, int(0.1*pitch))
	begin := int(0.3 * pitch) // the middle of the row
	if len(logs) < begin+reach {
		return 0
	}
	sums := make([]float64, len(logs)+1)
	for i, v := range logs {
		sums[i+1] = sums[i] + v
	}
	slope := func(i int) float64 {
		return (sums[i+reach] - 2*sums[i] + sums[i-reach]) / float64(reach)
	}
	var about []float64
	for i := reach; i <= min(2*begin, len(logs)-reach); i++ {
		about = append(about, math.Abs(slope(i)))
	}
	least := sideSlope
	if len(about) > 0 {
		// The lowest quarter, 0.32 sd of noise, since a row that is narrow has its sides among these.
		slices.Sort(about)
		least = max(least, sideNoise/0.32*about[len(about)/4])
	}
	for i := max(begin, reach); i+reach <= len(logs); i++ {
		if math.Abs(slope(i)) < least {
			continue
		}
		best := i
		for j := i; j < min(i+reach+1, len(logs)-reach+1); j++ {
			if math.Abs(slope(j)) > math.Abs(slope(best)) {
				best = j
			}
		}
		at := float64(best) - 0.5 // between two values
		if best > reach && best+1+reach <= len(logs) {
			before, here, after := math.Abs(slope(best-1)), math.Abs(slope(best)), math.Abs(slope(best+1))
			if bend := before - 2*here + after; bend < 0 {
				at += (before - after) / (2 * bend)
			}
		}
		return at - 0.3*pitch
	}
	if len(logs) < int((sideReach+0.2)*pitch) {
		return float64(len(logs)) - 0.5 - 0.3*pitch
	}
	return 0
}
