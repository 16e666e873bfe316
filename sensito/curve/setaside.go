package curve

import (
	"math"
	"slices"
	"sync"

	vec "gonum.org/v1/gonum/floats"

	"sensito/fit"
	"sensito/sensito"
)

// falseAlarms is the accepted rate of clean strips that lose a reading.
const falseAlarms = 0.001

// slipPrice returns what one of n readings set aside costs in the criterion for
// a curve of the given number of parameters: the gain at which its deleted
// studentised residual is just beyond the Bonferroni limit.
func slipPrice(n, params int) float64 {
	dof := float64(n + sensito.PriorReadings - params - 1)
	t := fit.StudentT(1-falseAlarms/float64(n), dof)
	return float64(n+sensito.PriorReadings) * math.Log1p(t*t/dof)
}

// warped is the scatter, in units of the stated variance, from which on a slip
// has so bent the curve that it is no place to start from, nor to judge by.
const warped = 6

// beaten is how many times the sum of squares that it must stay below a set of
// readings leaves to first order that is not fitted in earnest, or how many times less
// than it must it gains: of many readings a few are but a small part.
const beaten = 1.5

// maxSlips is how many readings of n may be set aside.
func maxSlips(n int) int { return max(1, n/6) }

// leftOver is how many readings must be left when one is set aside: of seven steps under a
// film with a soft shoulder four clean strips of ten would lose the densest, since six
// readings tell no shoulder (TestBlindShortStrips).
const leftOver = MinReadings + 1

// withoutSlips looks for readings that do not belong to the curve: the single
// one, or else the pair, whose leaving improves the fit by more than its price,
// or else the densest where it is surprising; and again until nothing does.
func (r *readings) withoutSlips(s *fit.Solver, best candidate) candidate {
	spare := func(more int) bool {
		return len(best.drop)+more <= maxSlips(r.count()) && len(r.X)-len(best.drop)-more >= leftOver
	}
	also := func(i int) []int { return slices.Sorted(slices.Values(append([]int{i}, best.drop...))) }
	for {
		next, last := best, len(r.X)-1
		next.score = best.least // no reading is a slip that any curve follows
		used := !slices.Contains(best.drop, last)
		for _, size := range []int{1, 2} {
			if !spare(size) || !r.scattered(best) && r.farthest(best) <= searchedFrom(r.count())*r.Sigma {
				break
			}
			near, few := &best, 2+size
			if best.rss > warped*best.dof(*r) {
				near, few = nil, r.count()
			}
			of := r.forecast(&best, best.drop) // of the best curve so far
			forms, times := of.prospects, beaten
			bent := best.rss > poorly*float64(r.count())
			for _, set := range r.suspects(best, forms[best.Form].Leverage, size, few) {
				beat := r.mostToBeat(next.score, len(set.drop))
				var has [3]room
				if near != nil {
					has = forms.without(set.more)
					if r.hopeless(has, next.score, len(set.drop)) {
						continue
					}
				}
				if len(next.drop) > len(best.drop) || near != nil && !(of.complete && bent) {
					left := of.left(set.drop, set.among)
					if left > times*beat || times*(best.RSS-left) < best.RSS-beat {
						continue
					}
				}
				c := r.chooseIf(s, set.drop, near, next.score, has, tried{})
				densest := size == 1 && used && slices.Contains(set.drop, last)
				if c.score < next.score && (!densest || r.surprise(s, c, best) > surprising) {
					next = c
					of = r.forecast(&next, best.drop)
					if of.complete && c.rss > poorly*float64(r.count()) {
						times = much // another slip still bends it
					}
				}
			}
			if len(next.drop) > len(best.drop) {
				break
			}
		}
		if len(next.drop) == len(best.drop) && used && spare(1) && r.leansOnDensest(best) {
			c := r.choose(s, also(last), &best)
			if !math.IsInf(c.score, 0) && r.surprise(s, c, best) > surprising {
				next = c
				const room = 2 // that the densest, of most leverage, has where its neighbour is left out
				if !slices.Contains(best.drop, last-1) {
					if beside := r.choose(s, also(last-1), &best); beside.score < c.score && beside.RSS < c.RSS-room {
						next = beside
					}
				}
			}
		}
		if len(next.drop) == len(best.drop) {
			return best
		}
		best = next
	}
}

// searchedFrom is how far from the curve, in standard deviations, one of n readings lies
// with which a search for slips begins: 3 up to a hundred readings, and of more so far as
// 27 in 100 clean strips have one by chance. What sets a reading aside is farther (see
// limit), but the curve follows each by its leverage, most at the ends.
func searchedFrom(n int) float64 {
	return math.Max(3, fit.StudentT(1-0.27/float64(n), math.Inf(1)))
}

// juts says whether a reading lies so far off the middle of its neighbours, as the curve
// has them, that noise does not explain it. It spares many a clean strip the rest of oneSlip.
func (r readings) juts(c candidate) bool {
	limit := math.Sqrt(1.5) * r.limit() // the variance of three readings, two of them halved
	var before, last float64
	for k := range r.count() { // those of the base first, and then from the faint end
		read, expected := r.reading((len(r.X)+k)%r.count(), c)
		e := read - expected
		if k > 1 && math.Abs(last-(before+e)/2) > limit {
			return true
		}
		before, last = last, e
	}
	return false
}

// hopeless says whether no form has room to score below so much with so many readings
// left out.
func (r readings) hopeless(has [3]room, below float64, drop int) bool {
	for f, m := range has {
		if !m.none(r.beat(below, fit.BendForm(f), drop)) {
			return false
		}
	}
	return true
}

// oneSlip returns the curve without slips, where one reading lies so far off that the
// curve may be fitted without it at once, and nothing else does better than that curve.
// That spares the fits of other forms to all readings, which the slip bends; the one of
// toe and line, which tells, is stored.
func (r *readings) oneSlip(s *fit.Solver, fits *tried) (c candidate, ok bool) {
	fits[fit.ToeLine] = fit.FitBend(s, r.BendData, fit.ToeLine, nil)
	all := candidate{BendFit: fits[fit.ToeLine], k: float64(fit.ToeLine.Params())}
	spoilt := beaten * float64(r.count())
	last := len(r.X) - 1
	if all.Status != fit.Converged || all.ReadingRSS < spoilt || last < leftOver || !r.juts(all) {
		return c, false
	}
	guide := r.guide(all, nil) // what other forms may leave
	if guide == nil || guide.RSS() < spoilt {
		return c, false
	}
	slip, left := last, guide.RSS()/3
	for i := range r.count() {
		if l := guide.Without(i); l < left {
			slip, left = i, l
		}
	}
	if slip == last {
		return c, false
	}
	r.scale = 1
	defer func() {
		if !ok {
			r.scale = 0
		}
	}()
	c, _ = r.chooseBelow(s, []int{slip}, search{below: math.Inf(1), hasty: true})
	const steep = 2 // its corners lie within steps: a curve does not tell what others do (TestSteepStripsKeepReadings)
	if c.poor || math.IsInf(c.score, 1) || slices.ContainsFunc(r.X, func(x float64) bool { return c.SlopeAt(x) > steep }) {
		return c, false
	}
	of := r.forecast(&c, nil)
	if of.left(nil, nil) < spoilt {
		return c, false
	}
	others := [][]int{nil}
	for i := range r.count() {
		if i != slip {
			others = append(others, []int{i})
		}
	}
	for _, set := range others {
		if of.left(set, set) > beaten*r.mostToBeat(c.score, len(set)) {
			continue
		}
		var before tried
		if set == nil {
			before = *fits
		}
		if r.chooseIf(s, set, &c, c.score, [3]room{}, before).least < c.score {
			return c, false
		}
	}
	return r.withoutSlips(s, c), true
}

// forecast tells to first order what sum of squares any form leaves of the readings less
// some, given a curve that leaves out others.
type forecast struct {
	*prospects
	complete bool              // of all forms, and enough
	drop     []int             // what the curve leaves out
	densest  int               // which bends a curve too far when it comes back
	guide    func() *fit.Spare // about the curve, less what all sets leave out; nil for none
}

// forecast returns that of c, for sets that leave out from and more.
func (r readings) forecast(c *candidate, from []int) forecast {
	ps := r.prospects(c)
	enough := r.count() >= 2*fit.ToeShoulder.Params() // fewer can be followed by a curve far off
	return forecast{prospects: ps, complete: enough && ps[0].Leverage != nil && ps[1].Leverage != nil && ps[2].Leverage != nil,
		drop: c.drop, densest: len(r.X) - 1, guide: sync.OnceValue(func() *fit.Spare { return r.guide(*c, from) })}
}

// left returns what is left without the readings of a set, at least; among are those of
// them that from has not, counted among the others. It is 0 where nothing is known.
func (f forecast) left(set, among []int) float64 {
	if f.complete && (!slices.Contains(f.drop, f.densest) || slices.Contains(set, f.densest)) {
		least := math.Inf(1)
		for _, p := range f.prospects {
			least = math.Min(least, p.rss+p.Change(less(f.drop, set), less(set, f.drop)))
		}
		return least
	}
	guide := f.guide()
	switch {
	case guide == nil:
		return 0
	case len(among) == 0:
		return guide.RSS()
	}
	return guide.Without(among[0], among[1:]...)
}

// less returns those of a that are not in b.
func less(a, b []int) []int {
	var out []int
	for _, i := range a {
		if !slices.Contains(b, i) {
			out = append(out, i)
		}
	}
	return out
}

// suspect is a set of readings to leave out, and what that promises.
type suspect struct {
	gain float64
	drop []int
	more []int // those of them that are in use

	among []int // the same, counted among the readings in use
}

// suspects returns the sets of readings, size more than c leaves out, whose
// leaving would lower the sum of squares most. For a straight model a set S
// lowers it by e' (I - H)^-1 e over S, residuals e and hat matrix H (Cook and
// Weisberg, Residuals and Influence in Regression, 1982, section 2.2); the few
// best are then fitted in earnest.
func (r readings) suspects(c candidate, l *fit.Leverage, size, few int) []suspect {
	index := r.inUse(c.drop)
	if l == nil { // the fit is no guide at all: try each
		if size > 1 {
			return nil
		}
		l = &fit.Leverage{Residuals: make([]float64, r.count())}
	}
	var sets []suspect // the best so far
	add := func(gain float64, more ...int) {
		at, _ := slices.BinarySearchFunc(sets, gain, func(s suspect, gain float64) int {
			if s.gain >= gain {
				return -1
			}
			return 1
		})
		if at < few {
			sets = slices.Insert(sets, at, suspect{gain: gain, among: slices.Clone(more)})
			sets = sets[:min(few, len(sets))]
		}
	}
	e, free := make([]float64, len(index)), make([]float64, len(index))
	most, least := 0.0, 1.0
	for i, at := range index {
		e[i] = l.Residuals[at]
		free[i] = math.Max(1-l.Hat(at, at), 1e-9)
		most, least = math.Max(most, e[i]*e[i]), math.Min(least, free[i])
	}
	for i, a := range free {
		if size == 1 {
			add(e[i]*e[i]/a, i)
			continue
		}
		for j := i + 1; j < len(index); j++ {
			// No pair gains more than the squares of its residuals over the least
			// eigenvalue of I - H, which spares most pairs of a long strip.
			if room := 2*least - 1; room > 0 && len(sets) == few {
				enough := sets[few-1].gain * room
				if e[i]*e[i]+most < enough {
					break
				}
				if e[i]*e[i]+e[j]*e[j] < enough {
					continue
				}
			}
			b, h := free[j], l.Hat(index[i], index[j])
			add((e[i]*e[i]*b+e[j]*e[j]*a+2*e[i]*e[j]*h)/math.Max(a*b-h*h, 1e-9), i, j)
		}
	}
	for k := range sets {
		sets[k].drop = slices.Clone(c.drop)
		for _, i := range sets[k].among {
			sets[k].more = append(sets[k].more, index[i])
		}
		sets[k].drop = append(sets[k].drop, sets[k].more...)
		slices.Sort(sets[k].drop)
	}
	return sets
}

// surprising is the square of the distance, in standard deviations, at which the
// densest reading is a slip. It has half of the false alarms for itself: slips
// hide there, where a shoulder can follow them or straighten unseen.
var surprising = math.Pow(fit.StudentT(1-falseAlarms/2, math.Inf(1)), 2)

// noShoulder is the weight of films without a shoulder near the densest reading
// where those with one weigh 60: of the latter one in a thousand then loses it.
const noShoulder = 12

// unlikeMost is the square of the distance, in standard deviations, of a curve from what is
// known beforehand, from which on its film is unlike most, and that is no case against a
// reading. TestStripsUnlikeMostKeepReadings holds it.
const unlikeMost = 6

// usualStep is that of the wedge that surprising was set for, in log H. TestBlindCleanStrips
// holds it.
const usualStep = 0.15

// leansOnDensest says whether the densest reading may be surprising.
func (r readings) leansOnDensest(c candidate) bool {
	if c.Form == fit.ToeShoulder && c.Shoulder > r.X[len(r.X)-4] {
		return true
	}
	if c.Status != fit.Converged || c.RSS <= surprising {
		return false
	}
	freed := c.freed
	if !c.straight {
		_, freed = c.promise(r.without(c.drop))
	}
	return freed > surprising
}

// surprise returns how far the densest reading lies from what the others lead to
// expect, as the square of a distance in standard deviations; c is the curve
// without it and all the one with it. What is known beforehand counts, unless the
// others by themselves are of a film unlike most. The form of c must do for all, but where
// that reading alone asks for a shoulder. Then it is -2 ln of the density that
// the others give it, over the top of a normal one: a mixture of what c predicts
// and of its ending in a shoulder, anywhere that they allow. A shoulder that
// follows one reading and touches no other is a coincidence, and priced so.
func (r readings) surprise(s *fit.Solver, c, all candidate) float64 {
	for _, o := range c.others {
		if math.IsInf(o.score, 1) && r.merit(o) < r.merit(c) {
			return 0 // a better curve without that reading leads to it
		}
	}
	variance := 1.0 // the stated one, unless the others scatter more
	if r.scattered(c) {
		variance = c.rss / c.dof(r)
	}
	d := r.without(all.drop)
	if c.Form == fit.ToeShoulder || all.Form != fit.ToeShoulder {
		left := func(b fit.BendFit) float64 { return b.RSS }
		if c.RSS-c.ReadingRSS > unlikeMost {
			left = func(b fit.BendFit) float64 { return b.ReadingRSS }
		}
		least := left(all.BendFit)
		if c.Form != all.Form {
			least = math.Min(least, left(fit.FitBend(s, d.BendData, c.Form, c.Params)))
		}
		for _, o := range all.others {
			least = math.Min(least, left(o.BendFit))
		}
		return (least - left(c.BendFit)) / variance
	}
	if c.Cov == nil {
		return 0
	}
	last := len(d.X) - 1
	seen := c.BendFit
	seen.M++ // the densest reading, which c has not seen
	l := seen.Leverage(d.BendData)
	var weights, density float64
	add := func(weight, off float64) {
		spread := variance * (1 + l.Hat(last, last))
		weights += weight
		density += weight * math.Exp(-off*off/(2*spread)) / math.Sqrt(spread)
	}
	e := l.Residuals
	add(noShoulder, e[last])
	z, rest := make([]float64, last+1), make([]float64, last+1) // what a shoulder takes off, and what is left of it
	step := d.X[last] - d.X[last-1]
	sharp := r.LeastShoulder / leastShoulder // less than 1 of steep film
	for _, w := range []float64{0.10, 0.14, 0.20, 0.28, 0.40} {
		w *= sharp
		typical := math.Log(w/r.ShoulderWidth.Typical) / r.ShoulderWidth.LnSD
		for place := -step - 0.45*sharp; place < 0.16*sharp; place += 0.05 * sharp { // from the densest reading
			at := d.X[last] + place
			taken := fit.Bend{Gradient: -c.SlopeAt(at) / r.Sigma, Toe: at, ToeWidth: w, Power: 1}
			for i, x := range d.X {
				z[i] = taken.At(x)
			}
			l.Unfitted(rest, z, last) // the curve moves to fit the others again
			misfit := vec.Dot(z[:last], rest[:last]) + 2*vec.Dot(z[:last], e[:last])
			add(math.Exp(-typical*typical/2-misfit/(2*variance)), e[last]+rest[last])
		}
	}
	// Under a coarse wedge readings lie anywhere in a longer reach.
	return -2 * math.Log(density/weights*math.Max(1, step/usualStep))
}

// reversalFall and reversalBefore are by how many standard deviations of a reading
// the last reading and the one before it lie below the densest part of a strip that
// reverses. A flat end of many steps has its largest median some two of them above
// the rest. TestReversal and the tests of slips hold them.
const (
	reversalFall   = 8
	reversalBefore = 4
)

// upTo returns the readings up to one of a step.
func (r readings) upTo(last int) readings {
	var beyond []int
	for i := last + 1; i < len(r.X); i++ {
		beyond = append(beyond, i)
	}
	return r.without(beyond)
}

// bestUpTo returns the readings up to the last before a reversal, or less where the
// film has turned already, the best curve for them, and the steps left out.
func (r readings) bestUpTo(last int) (readings, candidate, []int) {
	if last == len(r.X)-1 {
		return r, r.best(false), nil
	}
	for {
		up := r.upTo(last)
		up.LeastShoulder = leastPaperShoulder // the film ends as sharply as it turns
		c := up.best(false)
		if read, expected := up.reading(last, c); !slices.Contains(c.drop, last) || read > expected || last < MinReadings {
			return up, c, slices.Sorted(slices.Values(r.step[last+1:]))
		}
		last--
	}
}

// reversal returns the last reading before film reverses, the last one of all where
// it does not: film that is overexposed by far gets lighter again with more exposure
// (solarisation; common practice, no source). One low reading at the end is a slip,
// and readings that fall from the faint end on run against the order of the wedge.
func (r readings) reversal() int {
	n, peak, densest := len(r.Y), 0, 0.0
	for i := 1; i+1 < n; i++ { // a median of three, which one slip does not move
		three := []float64{r.Y[i-1], r.Y[i], r.Y[i+1]}
		slices.Sort(three)
		if three[1] > densest {
			peak, densest = i, three[1]
		}
	}
	last := n - 1
	if n < MinReadings || densest-r.Y[n-1] < reversalFall*r.Sigma || densest-r.Y[n-2] < reversalBefore*r.Sigma {
		return last
	}
	top := slices.Max(r.Y[peak-1 : peak+2])
	for r.Y[last] < top-2*r.Sigma {
		last--
	}
	if last+1 < MinReadings || top-r.Y[0] < reversalFall*r.Sigma {
		return n - 1
	}
	return last
}
