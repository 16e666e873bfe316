package picture

import (
	"fmt"
	"math"
	"slices"

	"sensito/sensito"
)

// How a row is looked for without marks.
const (
	// proposalPixels of the longer side the picture is made smaller to (TestProposals).
	proposalPixels = 900
	// maxSkew, degrees, and how fine it is looked for (TestProposedSkew).
	maxSkew, skewBy = 5, 0.25
	// proposalBands a picture is cut into across a row, each overlapping half of the next (TestProposals).
	proposalBands = 24
	// shortestRow is the least part of the picture that a row is long (TestProposals).
	shortestRow = 0.3
	// tried is how many candidates are looked at closely (TestProposals).
	tried = 12
	// asGood times the score of the best row another must have to be proposed too (TestProposals).
	asGood = 0.5
	// highestStep is the slope, of the logarithm of light, from which on an edge counts for no more: a step of 0.35 of density.
	// Film beside black has far higher ones (TestProposals).
	highestStep = 0.8
)

// Propose returns where rows of so many steps seem to lie, to be shown and agreed to: those that look as good as the best,
// or nearly, from the top left on. Which end is the first it cannot know: it takes the left one, or the upper one. Where
// steps vanish into base plus fog, and where something beside the row looks like a step, a row may be off by whole steps,
// so that none is ever to be taken unasked. The error is Unanswerable where nothing looks like such a row.
func Propose(im *Image, plane, steps int) ([]Ends, error) {
	if plane < 0 || plane >= len(im.Planes) {
		return nil, fmt.Errorf("the picture has no channel %d", plane+1)
	}
	small := smaller(im, plane, proposalPixels)
	skew := small.skew()
	best := func(a, b proposal) int { return compare(b.score, a.score) }
	var settled []proposal
	for _, upright := range []bool{false, true} { // each in its own right: strips side by side look like a row across them
		all := small.rows(skew, upright, steps)
		slices.SortFunc(all, best)
		var looked []Ends
		for _, p := range all {
			if len(looked) == tried {
				break
			}
			if slices.ContainsFunc(looked, func(e Ends) bool { return alike(e, p.ends, steps) }) {
				continue
			}
			looked = append(looked, p.ends)
			if l, score := small.settle(p.ends, steps); l != nil {
				settled = append(settled, proposal{l.Ends, score})
			}
		}
	}
	slices.SortFunc(settled, best)
	var found []*Lattice
	var out []Ends
	for _, p := range settled {
		if p.score < asGood*settled[0].score {
			break
		}
		origin := Point{}
		e := Ends{origin.plus(p.ends.First, small.scale), origin.plus(p.ends.Last, small.scale)}
		if d := e.Last.minus(e.First); d.X+d.Y < 0 {
			e.First, e.Last = e.Last, e.First
		}
		l, _, err := Find(im, plane, Row{Ends: e, Steps: steps})
		if err != nil || slices.ContainsFunc(found, func(o *Lattice) bool { return sameRow(o, l) || cross(o.Ends, l.Ends) }) {
			continue
		}
		found, out = append(found, l), append(out, l.Ends)
	}
	if len(out) == 0 {
		return nil, &sensito.Unanswerable{Reason: fmt.Sprintf("nothing in the picture looks like a row of %d even steps", steps),
			Hint: "mark the middles of the outer edges of the first and of the last step"}
	}
	slices.SortStableFunc(out, func(a, b Ends) int { return compare(a.First.X+a.First.Y, b.First.X+b.First.Y) })
	return out, nil
}

// offOf returns how far a place lies across a row, less than 0 on one side.
func offOf(p Point, row Ends) float64 {
	across, d := frameOf(row).across, p.minus(row.First)
	return d.X*across.X + d.Y*across.Y
}

// sameRow says whether the middle of one of two rows lies within the other.
func sameRow(a, b *Lattice) bool {
	within := func(a Ends, b *Lattice) bool {
		return math.Abs(offOf(a.First, b.Ends)+offOf(a.Last, b.Ends)) < b.Width
	}
	return within(a.Ends, b) || within(b.Ends, a)
}

// cross says whether one row runs across another, as strips that lie side by side do not.
func cross(a, b Ends) bool {
	return offOf(b.First, a)*offOf(b.Last, a) <= 0 && offOf(a.First, b)*offOf(a.Last, b) <= 0
}

// alike says whether two proposals are of one row: their ends lie within a third of a step along it and two steps across.
func alike(a, b Ends, steps int) bool {
	f := frameOf(a)
	pitch := a.Last.minus(a.First).length() / float64(steps)
	for _, d := range []Point{a.First.minus(b.First), a.Last.minus(b.Last)} {
		if math.Abs(d.X*f.along.X+d.Y*f.along.Y) > pitch/3 || math.Abs(d.X*f.across.X+d.Y*f.across.Y) > 2*pitch {
			return false
		}
	}
	return true
}

// settle returns the lattice about ends that may be off by a few whole steps, and how much of a row it is; nil for none.
func (s *reduced) settle(e Ends, steps int) (*Lattice, float64) {
	var best *Lattice
	var highest, score float64
	moved := func(e Ends, by float64) Ends {
		step := Point{}.plus(e.Last.minus(e.First), by/float64(steps))
		return Ends{e.First.plus(step, 1), e.Last.plus(step, 1)}
	}
	for _, begin := range []float64{0, 1, -1} {
		if best != nil {
			break // one step on either side is for ends that lie at the border of the picture
		}
		at := moved(e, begin)
		for range 5 {
			l, _, err := Find(s.image, 0, Row{Ends: at, Steps: steps})
			if err != nil {
				break
			}
			b := bandOf(of(s.image, 0), l.Ends, l.PatchWidth/2, beyondEnds*l.Pitch(), max(1, coarse*l.Pitch()))
			f := frameOf(l.Ends)
			lean := (l.Across.X*f.along.X + l.Across.Y*f.along.Y) / (l.Across.X*f.across.X + l.Across.Y*f.across.Y)
			move, lies, is := b.ends(lean, steps)
			if lies > highest {
				best, highest, score = l, lies, is
			}
			if move == 0 {
				break
			}
			at = moved(l.Ends, move)
		}
	}
	return best, score
}

// ends returns by which whole step a lattice lies better, -1, 0 or 1, and how well it lies: the root slopes of its edges,
// with both ends counted endCounts times, less those in the middle of the steps. The score is that without what film beside
// black has more than steps do: strips below each other, masked, have such edges across them.
func (b *band) ends(lean float64, steps int) (move, lies, score float64) {
	logs := b.logs(b.profile(lean, true))
	s := b.seriesOf(logs)
	long := float64(len(logs)-1)*b.by + 2*b.from
	pitch := long / float64(steps)
	sign := 1.0
	if s.mean(long/2, long) < s.mean(0, long/2) {
		sign = -1
	}
	root := func(k float64, signed bool, most float64) float64 {
		v := min(most, max(-most, s.slope(k*pitch, slopeReach*pitch)))
		if !signed {
			return math.Sqrt(math.Abs(v))
		}
		if sign*v < 0 {
			return -math.Sqrt(-sign * v)
		}
		return math.Sqrt(sign * v)
	}
	at := func(shift, most float64) float64 {
		sum := 0.0
		for k := 0; k <= steps; k++ {
			inner := k > 0 && k < steps
			r := root(float64(k)+shift, inner, most)
			if !inner {
				r *= endCounts
			}
			sum += r
			if k < steps {
				sum -= root(float64(k)+0.5+shift, false, most)
			}
		}
		return sum
	}
	lies = at(0, math.Inf(1))
	highest := lies
	for _, m := range []float64{-1, 1} {
		if other := at(m, math.Inf(1)); other > highest {
			move, highest = m, other
		}
	}
	return move, lies, at(0, highestStep)
}

// endCounts is how many edges inside an outer edge counts for (TestProposals).
const endCounts = 1.5

// A proposal is where a row may lie, and how well.
type proposal struct {
	ends  Ends
	score float64
}

// A reduced picture is one made smaller, with the logarithms of its light.
type reduced struct {
	image         *Image
	width, height int
	scale         float64 // pixels of the picture for one of this
	logs          []float32
}

// smaller returns a picture with so many pixels of the longer side, or as many as it has, each the mean of those it is made of.
func smaller(im *Image, plane, longer int) *reduced {
	by := max(1, (max(im.Width, im.Height)+longer-1)/longer)
	s := &reduced{width: im.Width / by, height: im.Height / by, scale: float64(by)}
	values := make([]uint16, s.width*s.height)
	s.image = &Image{Width: s.width, Height: s.height, Bits: 16, Planes: []Plane{{Values: values}}}
	sums := make([]uint64, s.width)
	for j := range s.height {
		clear(sums)
		for y := j * by; y < (j+1)*by; y++ {
			line := im.Planes[plane].Values[y*im.Width : y*im.Width+s.width*by]
			for i := range sums {
				for _, v := range line[i*by : (i+1)*by] {
					sums[i] += uint64(v)
				}
			}
		}
		for i, sum := range sums {
			values[j*s.width+i] = uint16(sum / uint64(by*by))
		}
	}
	s.logs = make([]float32, len(values))
	floor := blackShare*float64(slices.Max(append([]uint16{0}, values...))) + 1
	for i, v := range values {
		s.logs[i] = float32(math.Log(float64(v) + floor))
	}
	return s
}

// skew returns by how many degrees the picture is turned: there the means of its lines and of its columns differ most
// sharply from one to the next.
func (s *reduced) skew() float64 {
	sharpness := func(degrees float64) float64 {
		slope := math.Tan(degrees * math.Pi / 180)
		// A column leans the other way than a line.
		sum := 0.0
		for _, upright := range []bool{false, true} {
			n, m := s.height, s.width
			if upright {
				n, m = m, n
			}
			sums, counts := make([]float64, n), make([]float64, n)
			for j := range m {
				shift := int(math.Floor((float64(j)-float64(m)/2)*slope + 0.5))
				for i := range n {
					at := i - shift
					x, y := j, i
					if upright {
						at = i + shift
						x, y = i, j
					}
					if at < 0 || at >= n {
						continue
					}
					sums[at] += float64(s.logs[y*s.width+x])
					counts[at]++
				}
			}
			for i := 1; i < n; i++ {
				if counts[i] > float64(m)/2 && counts[i-1] > float64(m)/2 {
					d := sums[i]/counts[i] - sums[i-1]/counts[i-1]
					sum += d * d
				}
			}
		}
		return sum
	}
	best, highest := 0.0, 0.0
	for d := -float64(maxSkew); d <= maxSkew; d += skewBy {
		if v := sharpness(d); v > highest {
			best, highest = d, v
		}
	}
	return best
}

// rows returns the best row of each band across the picture, of rows that run along its lines or, where upright is set, along
// its columns.
func (s *reduced) rows(skew float64, upright bool, steps int) []proposal {
	sin, cos := math.Sincos(skew * math.Pi / 180)
	along, across := Point{cos, sin}, Point{-sin, cos}
	long, wide := s.width, s.height
	if upright {
		along, across = across, Point{}.plus(along, -1)
		long, wide = wide, long
	}
	middle := Point{float64(s.width) / 2, float64(s.height) / 2}
	half := max(2, wide/proposalBands)
	var out []proposal
	for k := 1; k < proposalBands; k++ {
		w := (float64(k)/proposalBands - 0.5) * float64(wide)
		origin := middle.plus(across, w).plus(along, -float64(long)/2)
		profile := make([]float64, long)
		for i := range profile {
			n := 0.0
			for j := -half / 2; j <= half/2; j++ {
				p := origin.plus(along, float64(i)+0.5).plus(across, float64(j))
				if x, y := int(math.Floor(p.X)), int(math.Floor(p.Y)); x >= 0 && y >= 0 && x < s.width && y < s.height {
					profile[i] += float64(s.logs[y*s.width+x])
					n++
				}
			}
			if n > 0 {
				profile[i] /= n
			} else if i > 0 {
				profile[i] = profile[i-1]
			}
		}
		b := &band{from: 0.5, by: 1}
		series := b.seriesOf(profile)
		if p, ok := latticeAlong(series, float64(long), steps); ok {
			place := func(u float64) Point { return origin.plus(along, u) }
			out = append(out, proposal{Ends{place(p.start), place(p.start + float64(steps)*p.pitch)}, p.score})
		}
	}
	return out
}

// candidate is a lattice and how well it lies.
type candidate struct{ start, pitch, score float64 }

// latticeAlong returns the lattice of a number of steps that lies best along a profile, without any marks.
func latticeAlong(s series, long float64, steps int) (candidate, bool) {
	n := float64(steps)
	var best candidate
	first := max(shortestRow*long/n, 4)
	count := int(long)
	up, down := make([]float64, count+1), make([]float64, count+1)
	was := 0.0
	for pitch := first; pitch*n <= long; pitch *= 1 + 0.2/n {
		// Root slopes of this reach, of either sign; a reach that is nearly the same has nearly the same.
		if reach := max(2, slopeReach*pitch); reach > 1.05*was {
			for i := range up {
				v := s.slope(float64(i), reach)
				up[i], down[i] = math.Sqrt(min(highestStep, max(0, v))), math.Sqrt(min(highestStep, max(0, -v)))
			}
			was = reach
		}
		for start := 0.0; start+n*pitch <= long; start++ {
			for _, roots := range [][]float64{up, down} {
				sum := 0.0
				for k := 0; k <= steps; k++ {
					sum += roots[int(start+float64(k)*pitch+0.5)]
					if k < steps {
						sum -= roots[int(start+(float64(k)+0.5)*pitch+0.5)]
					}
				}
				if sum > best.score {
					best = candidate{start, pitch, sum}
				}
			}
		}
	}
	return best, best.score > 0
}
