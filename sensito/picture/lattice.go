package picture

import (
	"math"
	"slices"
)

// How a lattice is looked for. Lengths are in steps.
const (
	// startRange is how far from its mark an end is looked for: beyond half a step it is another's (TestMarksFarOff).
	startRange = 0.45
	// slopeReach is how far before and after an edge its slope is taken (TestHardRows).
	slopeReach = 0.15
	// firstReach is half of the width across of the first look, before the sides are known: well within any row whose
	// marks are about in the middle. It is not tuned.
	firstReach = 0.3
	// beyondEnds is how much of what lies beyond the marks is looked at (TestStepBeyondMark).
	beyondEnds = 1.7
	// beyondWithin is how near to a whole step beyond the ends an edge is one of a step (TestStepBeyondMark).
	beyondWithin = 0.06
	// maxLean is how far, as a slope, the edges may lean from the upright to the row (TestLeaningEdges).
	maxLean = 0.06
	// seenNoise times the sd of the slopes within steps an edge must have to be seen (TestFewEdges, TestMarksFound).
	seenNoise = 4
)

// placed is where a lattice lies along a band.
type placed struct {
	start, pitch float64 // pixels along the band
	seen         int     // edges of the lattice that were seen
	between      int     // edges that were seen elsewhere
	spread       float64 // sd of the seen about the lattice, in steps
	blur         float64 // sd of an edge, pixels
	beyond       [2]bool // whether an edge was seen a step before the first and after the last
	turned       [2]bool // whether the inner edge of the first and of the last step goes against the others
}

// sharpest returns the lean of edges, a slope, at which the profile has the highest squares of slopes between the ends.
func (b *band) sharpest(pitch float64) float64 {
	reach := max(1, int(0.04*pitch/b.by))
	from, to := int(-b.from/b.by+0.3*pitch/b.by), len(b.lines[0])-int(-b.from/b.by+0.3*pitch/b.by)
	sharpness := func(lean float64) float64 {
		logs := b.logs(b.profile(lean, false))
		sum := 0.0
		for i := max(from, reach); i < min(to, len(logs)-reach); i++ {
			d := logs[i+reach] - logs[i-reach]
			sum += d * d
		}
		return sum
	}
	// A move of a third of a pixel or of a fiftieth of a step at the side of the band is told.
	by := max(1.0/3, pitch/50) / b.across[len(b.across)-1]
	n := int(math.Ceil(maxLean / by))
	if n > mostLeans {
		n, by = mostLeans, maxLean/mostLeans
	}
	values := make([]float64, 2*n+1)
	best := 0
	for i := range values {
		values[i] = sharpness(float64(i-n) * by)
		if values[i] > values[best] {
			best = i
		}
	}
	lean := float64(best - n)
	if best > 0 && best < 2*n {
		before, at, after := values[best-1], values[best], values[best+1]
		if bend := before - 2*at + after; bend < 0 {
			lean += (before - after) / (2 * bend)
		}
	}
	return lean * by
}

// mostLeans to either side are tried at most (BenchmarkLargePicture).
const mostLeans = 24

// place returns the lattice of a number of steps that the band has: that which lies best, moved to its edges, or where it
// is no longer looked for, that which begins and ends with the band, moved to its edges.
func (b *band) place(lean float64, steps int, look bool) *placed {
	light := b.profile(lean, true)
	logs := b.seriesOf(b.logs(light))
	n := float64(steps)
	marked := (float64(len(light)-1)*b.by + 2*b.from) / n
	reach := max(slopeReach*marked, 2)
	slopes := make([]float64, len(light))
	for i := range slopes {
		slopes[i] = logs.slope(b.from+float64(i)*b.by, reach)
	}
	// Steps grow darker or brighter along the row.
	sign := 1.0
	if s := b.seriesOf(light); s.mean(n/2*marked, n*marked) < s.mean(0, n/2*marked) {
		sign = -1
	}
	p := &placed{pitch: marked}
	if look {
		p.start, p.pitch = b.best(slopes, sign, marked, steps)
	}
	p.fromEdges(b, light, slopes, sign, steps)
	p.judge(b, slopes, sign, steps)
	return p
}

// at returns what a list of a band has at a place, by a straight line between two.
func (b *band) at(values []float64, u float64) float64 {
	x := max(0, min((u-b.from)/b.by, float64(len(values)-1)))
	i := min(int(x), len(values)-2)
	return values[i] + (x-float64(i))*(values[i+1]-values[i])
}

// best returns start and pitch of the lattice of the highest mean root slope, whose ends lie as near to the marks as is looked.
func (b *band) best(slopes []float64, sign, marked float64, steps int) (start, pitch float64) {
	roots, either := make([]float64, len(slopes)), make([]float64, len(slopes))
	for i, s := range slopes {
		roots[i], either[i] = math.Sqrt(max(0, sign*s)), math.Sqrt(math.Abs(s))
	}
	n := float64(steps)
	score := func(start, pitch float64) float64 {
		// Beyond an outer edge there may be anything, darker or brighter, so that its slope counts by its size, and
		// not by more than that of an edge inside.
		sum, highest := 0.0, 0.0
		for k := 1; k < steps; k++ {
			r := b.at(roots, start+float64(k)*pitch)
			sum += r
			highest = max(highest, r)
		}
		for _, end := range []float64{start, start + n*pitch} {
			sum += min(b.at(either, end), highest)
		}
		return sum
	}
	const grid = 0.02
	start, pitch = 0, marked
	highest := score(start, pitch)
	for s := -startRange; s <= startRange; s += grid {
		for e := -startRange; e <= startRange; e += grid {
			at, by := s*marked, marked*(1+(e-s)/n)
			if v := score(at, by); v > highest {
				start, pitch, highest = at, by, v
			}
		}
	}
	return start, pitch
}

// compare orders numbers.
func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// An edge is where one was seen: its place, how sure, and its blur.
type edge struct{ number, at, sd, blur float64 }

// fromEdges moves the lattice to the edges inside it, each found for itself between the levels on either side. The line
// through them is one of weights that far ones lose, so that a scratch beside an edge does not count.
func (p *placed) fromEdges(b *band, light, slopes []float64, sign float64, steps int) {
	var edges []edge
	s := b.seriesOf(light)
	for k := 1; k < steps; k++ {
		if e, ok := edgeAt(b, light, s, p.start+float64(k)*p.pitch, p.pitch, sign); ok {
			e.number = float64(k)
			edges = append(edges, e)
		}
	}
	if len(edges) == 0 {
		return
	}
	var blurs []float64
	for _, e := range edges {
		blurs = append(blurs, e.blur)
	}
	slices.Sort(blurs)
	p.blur = mean(blurs[:(len(blurs)+1)/2])
	start, pitch, spread, ok := lineThrough(edges, p.start, p.pitch)
	if !ok {
		return
	}
	p.start, p.pitch, p.spread = start, pitch, spread/pitch
}

// edgeAt returns the edge near a place: where the light passes the middle between the levels before and after it.
func edgeAt(b *band, light []float64, s series, near, pitch, sign float64) (edge, bool) {
	before, after := s.mean(near-0.42*pitch, near-0.22*pitch), s.mean(near+0.22*pitch, near+0.42*pitch)
	contrast := after - before
	if sign*contrast <= 0 {
		return edge{}, false
	}
	i0, i1 := int(math.Ceil((near-0.42*pitch-b.from)/b.by)), int((near+0.42*pitch-b.from)/b.by)
	if i0 < 0 || i1 >= len(light) {
		return edge{}, false
	}
	// The noise is that of the levels, whose slope within a step counts as noise too.
	var noise float64
	count := 0
	for i := i0; i <= i1; i++ {
		u := b.from + float64(i)*b.by - near
		if math.Abs(u) < 0.22*pitch {
			continue
		}
		level := before
		if u > 0 {
			level = after
		}
		noise += (light[i] - level) * (light[i] - level)
		count++
	}
	noise = math.Sqrt(noise / float64(max(1, count-2)))
	if sign*contrast < 3*noise {
		return edge{}, false
	}
	// The place by which the area under the edge is that of a sharp one, which noise moves least.
	cross := func(share float64) float64 {
		level := before + share*contrast
		at, least := math.NaN(), math.Inf(1)
		for i := max(i0, 0); i < i1; i++ {
			a, c := sign*(light[i]-level), sign*(light[i+1]-level)
			if a > 0 || c <= 0 {
				continue
			}
			u := b.from + (float64(i)+a/(a-c))*b.by
			if d := math.Abs(u - near); d < least {
				at, least = u, d
			}
		}
		return at
	}
	e := edge{at: cross(0.5)}
	low, high := cross(0.16), cross(0.84)
	if math.IsNaN(e.at) || math.Abs(e.at-near) > 0.3*pitch {
		return edge{}, false
	}
	e.blur = math.Abs(high-low) / 2
	if math.IsNaN(e.blur) {
		return edge{}, false
	}
	e.sd = math.Hypot(0.005*pitch, noise/math.Abs(contrast)*max(2.5*e.blur, b.by))
	return e, true
}

// lineThrough returns start and pitch of the line through the edges, and their weighted sd about it. Edges further than
// six sd count for nothing (Beaton and Tukey 1974, from memory). ok is false where fewer than four count.
func lineThrough(edges []edge, start, pitch float64) (s, p, spread float64, ok bool) {
	s, p = start, pitch
	for range 8 {
		var off []float64
		for _, e := range edges {
			off = append(off, math.Abs(e.at-s-e.number*p)/e.sd)
		}
		scale := max(1, median(slices.Clone(off))/0.6745)
		var w0, w1, w2, y0, y1, count float64
		for i, e := range edges {
			x := off[i] / (6 * scale)
			if x >= 1 {
				continue
			}
			w := (1 - x*x) * (1 - x*x) / (e.sd * e.sd)
			w0, w1, w2 = w0+w, w1+w*e.number, w2+w*e.number*e.number
			y0, y1 = y0+w*e.at, y1+w*e.number*e.at
			count++
		}
		det := w0*w2 - w1*w1
		if count < 4 || det <= 1e-9*w0*w2 {
			return 0, 0, 0, false
		}
		s, p = (w2*y0-w1*y1)/det, (w0*y1-w1*y0)/det
		var rest float64
		for i, e := range edges {
			if x := off[i] / (6 * scale); x < 1 {
				d := e.at - s - e.number*p
				rest += (1 - x*x) * (1 - x*x) / (e.sd * e.sd) * d * d
			}
		}
		spread = math.Sqrt(rest / w0)
	}
	return s, p, spread, true
}

// judge counts the edges that were seen: on the lattice, between, and a step beyond its ends.
func (p *placed) judge(b *band, slopes []float64, sign float64, steps int) {
	var within []float64
	for i, s := range slopes {
		k := (b.from + float64(i)*b.by - p.start) / p.pitch
		if k < 0.25 || k > float64(steps)-0.25 {
			continue
		}
		if off := math.Abs(k - math.Round(k)); off > 0.25 {
			within = append(within, math.Abs(s))
		}
	}
	least := seenNoise * median(within) / 0.6745
	var sizes []float64
	for k := 0; k <= steps; k++ {
		s := b.at(slopes, p.start+float64(k)*p.pitch)
		if k == 0 || k == steps {
			s = math.Abs(s)
		} else {
			s *= sign
		}
		if s > least {
			p.seen++
			sizes = append(sizes, s)
		}
	}
	if p.seen == 0 {
		return
	}
	usual := median(sizes)
	for i, k := range []float64{1, float64(steps - 1)} {
		p.turned[i] = -sign*b.at(slopes, p.start+k*p.pitch) > max(least, usual/2)
	}
	// An edge elsewhere is a highest slope, half as high as those on the lattice or more, a fifth of a step off it. A step
	// beyond the ends may be the last, with an edge of either sign to what surrounds the row.
	reach := int(slopeReach * p.pitch / b.by)
	for i, s := range slopes {
		k := (b.from + float64(i)*b.by - p.start) / p.pitch
		inner := k > 0.25 && k < float64(steps)-0.25
		size := func(s float64) float64 {
			if inner {
				return sign * s
			}
			return math.Abs(s)
		}
		if size(s) < max(least, usual/2) || slices.ContainsFunc(slopes[max(0, i-reach):min(len(slopes), i+reach+1)], func(o float64) bool { return size(o) > size(s) }) {
			continue
		}
		off := math.Abs(k - math.Round(k))
		switch {
		case inner && off > 0.2:
			p.between++
		case off > beyondWithin:
		case math.Round(k) == -1:
			p.beyond[0] = true
		case math.Round(k) == float64(steps+1):
			p.beyond[1] = true
		}
	}
}
