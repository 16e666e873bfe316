package curve

import (
	"math"
	"slices"

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
		used := !slices.Contains(best.drop, last)
		for _, size := range []int{1, 2} {
			if !spare(size) || !r.scattered(best) && r.farthest(best) <= 3*r.Sigma {
				break
			}
			near, few := &best, 2+size
			if best.rss > warped*best.dof(*r) {
				near, few = nil, r.count()
			}
			var guide *fit.Spare
			if near != nil {
				guide = r.guide(best, best.drop)
			}
			for _, set := range r.suspects(best, size, few) {
				if guide != nil {
					left, beat := guide.Without(set.more[0], set.more[1:]...), r.mostToBeat(next.score, len(set.drop))
					if left > beaten*beat || beaten*(best.RSS-left) < best.RSS-beat {
						continue
					}
				}
				c := r.chooseIf(s, set.drop, near, next.score)
				densest := size == 1 && used && slices.Contains(set.drop, last)
				if c.score < next.score && (!densest || r.surprise(s, c, best) > surprising) {
					next = c
					guide = r.guide(c, best.drop)
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

// suspect is a set of readings to leave out, and what that promises.
type suspect struct {
	gain float64
	drop []int
	more []int // those of them that are in use, counted among the readings in use
}

// suspects returns the sets of readings, size more than c leaves out, whose
// leaving would lower the sum of squares most. For a straight model a set S
// lowers it by e' (I - H)^-1 e over S, residuals e and hat matrix H (Cook and
// Weisberg, Residuals and Influence in Regression, 1982, section 2.2); the few
// best are then fitted in earnest.
func (r readings) suspects(c candidate, size, few int) []suspect {
	d := r.without(c.drop)
	var index []int // of d's readings in r
	for i := range r.count() {
		if !slices.Contains(c.drop, i) {
			index = append(index, i)
		}
	}
	l := c.Leverage(d.BendData)
	if l == nil { // the fit is no guide at all: try each
		if size > 1 {
			return nil
		}
		l = &fit.Leverage{Residuals: make([]float64, len(index))}
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
			sets = slices.Insert(sets, at, suspect{gain: gain, more: slices.Clone(more)})
			sets = sets[:min(few, len(sets))]
		}
	}
	e, free := l.Residuals, make([]float64, len(index))
	most, least := 0.0, 1.0
	for i := range index {
		free[i] = math.Max(1-l.Hat(i, i), 1e-9)
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
			b, h := free[j], l.Hat(i, j)
			add((e[i]*e[i]*b+e[j]*e[j]*a+2*e[i]*e[j]*h)/math.Max(a*b-h*h, 1e-9), i, j)
		}
	}
	for k := range sets {
		sets[k].drop = slices.Clone(c.drop)
		for _, i := range sets[k].more {
			sets[k].drop = append(sets[k].drop, index[i])
		}
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

// leansOnDensest says whether the densest reading may be surprising.
func (r readings) leansOnDensest(c candidate) bool {
	return c.Form == fit.ToeShoulder && c.Shoulder > r.X[len(r.X)-4] ||
		c.Status == fit.Converged && c.RSS > surprising && c.promise(r.without(c.drop), true) > surprising
}

// surprise returns how far the densest reading lies from what the others lead to
// expect, as the square of a distance in standard deviations; c is the curve
// without it and all the one with it. The form of c must do for all, but where
// that reading alone asks for a shoulder. Then it is -2 ln of the density that
// the others give it, over the top of a normal one: a mixture of what c predicts
// and of a line that ends in a shoulder, anywhere that they allow. A shoulder that
// follows one reading and touches no other is a coincidence, and priced so.
func (r readings) surprise(s *fit.Solver, c, all candidate) float64 {
	variance := 1.0 // the stated one, unless the others scatter more
	if r.scattered(c) {
		variance = c.rss / c.dof(r)
	}
	d, line := r.without(all.drop), c.BendFit
	if c.Form == fit.ToeShoulder || all.Form != fit.ToeShoulder {
		if c.Form != all.Form {
			all.RSS = math.Min(all.RSS, fit.FitBend(s, d.BendData, c.Form, c.Params).RSS)
		}
		return (all.RSS - c.RSS) / variance
	}
	if c.Form != fit.ToeLine {
		line = fit.FitBend(s, r.without(c.drop).BendData, fit.ToeLine, nil)
	}
	if c.Cov == nil || line.Cov == nil {
		return 0
	}
	last := len(d.X) - 1
	about := func(b fit.BendFit) *fit.Leverage {
		b.M++ // the densest reading, which b has not seen
		return b.Leverage(d.BendData)
	}
	var weights, density float64
	add := func(l *fit.Leverage, weight, off float64) {
		spread := variance * (1 + l.Hat(last, last))
		weights += weight
		density += weight * math.Exp(-off*off/(2*spread)) / math.Sqrt(spread)
	}
	l := about(c.BendFit)
	add(l, noShoulder, l.Residuals[last])
	l = about(line)
	e := l.Residuals
	behind := line.RSS - c.RSS - 2*(c.k-4)                      // with Akaike's price of a power
	z, rest := make([]float64, last+1), make([]float64, last+1) // what a shoulder takes off, and what is left of it
	for _, w := range []float64{0.10, 0.14, 0.20, 0.28, 0.40} {
		typical := math.Log(w/r.ShoulderWidth.Typical) / r.ShoulderWidth.LnSD
		for place := -0.60; place < 0.16; place += 0.05 { // from the densest reading
			taken := fit.Bend{Gradient: -line.Gradient / r.Sigma, Toe: d.X[last] + place, ToeWidth: w, Power: 1}
			for i, x := range d.X {
				z[i] = taken.At(x)
			}
			l.Unfitted(rest, z, last) // the line moves to fit the others again
			misfit := behind + vec.Dot(z[:last], rest[:last]) + 2*vec.Dot(z[:last], e[:last])
			add(l, math.Exp(-typical*typical/2-misfit/(2*variance)), e[last]+rest[last])
		}
	}
	return -2 * math.Log(density/weights)
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
