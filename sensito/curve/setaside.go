package curve

import (
	"cmp"
	"math"
	"slices"

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

// maxSlips is how many readings of n may be set aside.
func maxSlips(n int) int { return max(1, n/6) }

// withoutSlips looks for readings that do not belong to the curve: the single
// one, or else the pair, whose leaving improves the fit by more than its price,
// or else the densest where it is surprising; and again until nothing does.
func (r *readings) withoutSlips(s *fit.Solver, best candidate) candidate {
	spare := func(more int) bool {
		return len(best.drop)+more <= maxSlips(r.count()) && len(r.X)-len(best.drop)-more >= MinReadings
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
			for _, set := range r.suspects(best, size, few) {
				c := r.choose(s, set.drop, near)
				densest := size == 1 && used && slices.Contains(set.drop, last)
				if c.score < next.score && (!densest || r.surprise(s, c, best) > surprising) {
					next = c
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
				if beside := r.choose(s, also(last-1), &best); beside.score < c.score && beside.RSS < c.RSS-room {
					next = beside
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
	var sets []suspect
	add := func(gain float64, more ...int) {
		drop := slices.Clone(c.drop)
		for _, i := range more {
			drop = append(drop, index[i])
		}
		slices.Sort(drop)
		sets = append(sets, suspect{gain, drop})
	}
	e, free := l.Residuals, make([]float64, len(index))
	for i := range index {
		free[i] = math.Max(1-l.Hat(i, i), 1e-9)
	}
	for i, a := range free {
		if size == 1 {
			add(e[i]*e[i]/a, i)
			continue
		}
		for j := i + 1; j < len(index); j++ {
			b, h := free[j], l.Hat(i, j)
			add((e[i]*e[i]*b+e[j]*e[j]*a+2*e[i]*e[j]*h)/math.Max(a*b-h*h, 1e-9), i, j)
		}
	}
	slices.SortStableFunc(sets, func(a, b suspect) int { return cmp.Compare(b.gain, a.gain) })
	return sets[:min(few, len(sets))]
}
