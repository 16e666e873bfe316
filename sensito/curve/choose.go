package curve

import (
	"cmp"
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"

	"sensito/fit"
	"sensito/sensito"
)

// candidate is one curve fitted to the readings with some left out: a bend, or
// a spline where that is set.
type candidate struct {
	fit.BendFit
	spline *fit.SplineFit
	drop   []int   // readings left out, counted as readings.count does
	rss    float64 // of the readings, in units of Sigma
	k      float64 // parameters, effective ones of a spline
	score  float64 // lower is better

	starts [3][]float64 // of all forms fitted beside it, their parameters
}

// at returns the curve at x.
func (c candidate) at(x float64) float64 {
	if c.spline != nil {
		return c.spline.At(x)
	}
	return c.At(x)
}

// base returns the level of the curve far to the left.
func (c candidate) base() float64 {
	if c.spline != nil {
		return c.spline.Coef[0]
	}
	return c.Base
}

// dof returns the degrees of freedom of the readings; priors are not counted.
func (c candidate) dof(r readings) float64 {
	free := c.k
	if c.spline == nil {
		free = float64(c.Free())
	}
	return float64(r.count()-len(c.drop)) - free
}

// count returns the number of readings. They are counted through: those of the
// steps first, then those of the base.
func (r readings) count() int { return len(r.X) + len(r.Base) }

// reading returns reading i and what the curve has there.
func (r readings) reading(i int, c candidate) (read, expected float64) {
	if i < len(r.X) {
		return r.Y[i], c.at(r.X[i])
	}
	return r.Base[i-len(r.X)], c.base()
}

// best returns the curve for the readings: a bend, without the readings that
// cannot belong to it; or a spline, where no bend follows the readings as well.
func (r *readings) best(keepAll bool) candidate {
	var s fit.Solver
	all := r.choose(&s, nil, nil)
	if r.quiet() {
		// The readings are better than stated, so what was known beforehand
		// counts for less against them.
		for _, p := range []*fit.Prior{&r.ToeWidth, &r.Power, &r.ShoulderWidth} {
			p.LnSD /= math.Sqrt(r.scale)
		}
		all = r.choose(&s, nil, &all)
	}
	c := all
	if !keepAll {
		c = r.withoutSlips(&s, all)
	}
	// Misfit shows as scatter beyond the repeatability or as neighbouring
	// residuals of one sign; where the readings are better than stated it may
	// not.
	if r.scattered(c) || r.quiet() || r.waviness(c) > 0.25 {
		f := r.splined()
		r.smooth = &f
		if r.quiet() && !math.IsInf(f.score, 0) {
			r.expect(f)
			c.score, f.score = r.score(c), r.akaike(f.rss, f.k)+quietSplinePrice
		} else {
			f.score += splinePrice
		}
		if slices.Contains(c.drop, len(r.X)-1) { // judged by surprise, not by price
			c.score -= slipPrice(r.count(), c.Form.Params())
		}
		if f.score < c.score {
			return f
		}
	}
	return c
}

// scattered says that the readings lie farther from the curve than their
// repeatability explains.
func (r readings) scattered(c candidate) bool { return fit.TailProbability(c.rss, c.dof(r)) < 0.05 }

// farthest returns the largest distance of a reading in use from the curve.
func (r readings) farthest(c candidate) float64 {
	var far float64
	for i := range r.count() {
		if read, expected := r.reading(i, c); !slices.Contains(c.drop, i) {
			far = math.Max(far, math.Abs(read-expected))
		}
	}
	return far
}

// waviness returns the correlation of neighbouring residuals.
func (r readings) waviness(c candidate) float64 {
	var product, square, last float64
	for i, x := range r.X {
		if slices.Contains(c.drop, i) {
			continue
		}
		e := r.Y[i] - c.at(x)
		square, product, last = square+e*e, product+e*last, e
	}
	return product / math.Max(square, 1e-12)
}

// splined returns the spline through the readings, with an infinite score when
// there is none.
func (r readings) splined() candidate {
	if r.smooth != nil {
		return *r.smooth
	}
	f, err := fit.FitSpline(r.BendData, sensito.PriorReadings, r.scale)
	c := candidate{spline: &f, score: math.Inf(1)}
	if err == nil && f.EDF < float64(r.count()-2) {
		c.rss, c.k = f.RSS, f.EDF
		c.score = r.akaike(f.RSS, f.EDF)
	}
	return c
}

// choose fits the readings less drop in every form and returns the best by the
// corrected Akaike criterion (Hurvich and Tsai, Biometrika 76, 297, 1989).
// Near, when it is not nil, is a fit to almost the same readings to start from.
//
// The first call sets r.scale, the variance that is expected of a reading in
// units of the stated one: the stated one, or less where a curve follows the
// readings more closely than that.
func (r *readings) choose(s *fit.Solver, drop []int, near *candidate) candidate {
	d := r.without(drop)
	forms := []fit.BendForm{fit.ToeLine, fit.ToeCurve, fit.ToeShoulder}
	if len(d.X) < 8 {
		forms = forms[:1]
	}
	cs := make([]candidate, 0, 2*len(forms))
	var starts [3][]float64
	attempt := func(form fit.BendForm, start []float64) candidate {
		c := candidate{BendFit: fit.FitBend(s, d.BendData, form, start), drop: drop, k: float64(form.Params())}
		c.rss = c.ReadingRSS
		if c.Status == fit.Converged {
			starts[form] = c.Params
		}
		if form == fit.ToeLine || c.Status == fit.Converged && c.Cov != nil && d.rising(c.Bend) {
			cs = append(cs, c)
		}
		return c
	}
	poor := true
	for _, form := range forms {
		var start []float64
		switch {
		case near != nil && near.starts[form] != nil:
			start = near.starts[form]
		case form == fit.ToeCurve && cs[0].Status == fit.Converged:
			start = append(slices.Clone(cs[0].Params), 0) // the line, not bent
		}
		c := attempt(form, start)
		poor = poor && !(c.Status == fit.Converged && c.rss < 2*float64(d.count()))
		if form == fit.ToeLine && !r.quiet() && !r.bends(c, d) {
			break
		}
	}
	if poor && near == nil {
		// The search may have ended beside the minimum: once more from corners
		// much rounder.
		rounder := 4 * (d.X[len(d.X)-1] - d.X[0]) / float64(len(d.X)-1)
		for _, form := range forms {
			attempt(form, d.Start(form, rounder))
		}
	}
	if r.scale == 0 {
		r.scale = 1
		for _, c := range cs {
			r.expect(c)
		}
	}
	for i := range cs {
		cs[i].score = r.score(cs[i])
	}
	best := slices.MinFunc(cs, func(a, b candidate) int { return cmp.Compare(a.score, b.score) })
	best.starts = starts
	return best
}

// bends says whether the residuals about toe and line leave room for another
// form to be chosen. It spares two fits of three for most strips.
func (r readings) bends(c candidate, d readings) bool {
	n := float64(r.count() + sensito.PriorReadings)
	known := sensito.PriorReadings * math.Max(r.scale, sensito.RoundingVariance/(r.Sigma*r.Sigma))
	return n*math.Log((c.rss+known)/(math.Max(c.rss-c.promise(d, false), 0)+known)) > 2
}

// promise returns how much less the sum of squares of the readings d may be for
// another form than for c, and with the densest reading free if so told. A form
// that adds a direction z to a straight model lowers it by (e z)^2 / z'(I - H)z,
// residuals e and hat matrix H; the directions tried are those of a line that
// bends and of shoulders at several places. A fit that is no guide promises all.
func (c candidate) promise(d readings, free bool) float64 {
	l := c.Leverage(d.BendData)
	if c.Status != fit.Converged || l == nil {
		return math.Inf(1)
	}
	e, last := l.Residuals, len(d.X)-1
	var most, freed float64
	if free {
		freed = 1 / math.Max(1-l.Hat(last, last), 1e-9)
	}
	z := make([]float64, last+1)
	try := func(direction func(x float64) float64) {
		for i, x := range d.X {
			z[i] = direction(x)
		}
		rest := l.Unfitted(z, last+1)
		ez := vec.Dot(e[:last+1], z) - e[last]*rest[last]*freed
		if zz := vec.Dot(z, rest) - rest[last]*rest[last]*freed; zz > 1e-9 {
			most = math.Max(most, ez*ez/zz)
		}
	}
	corner := func(u, w float64) float64 { return math.Max(u, 0) + w*math.Log1p(math.Exp(-math.Abs(u)/w)) }
	try(func(x float64) float64 {
		s := corner(x-c.Toe, c.ToeWidth)
		return s * math.Log(math.Max(s, 1e-9))
	})
	for at := range 6 {
		from := d.X[last] - (d.X[last]-c.Toe)*float64(at)/6
		try(func(x float64) float64 { return corner(x-from, shoulderWidthPrior.Typical) })
	}
	return 1.5 * (most + e[last]*e[last]*freed) // what one direction promises, two may exceed
}

// quiet says that the readings are clearly better than stated, which takes a
// strip long enough not to look so by chance.
func (r readings) quiet() bool { return r.scale != 0 && r.scale < 0.42 && r.count() >= 15 }

// expect lowers r.scale to the scatter about a curve, but not below that of
// rounding.
func (r *readings) expect(c candidate) {
	scatter := c.rss / math.Max(c.dof(*r), 1)
	r.scale = math.Max(math.Min(r.scale, scatter), math.Min(r.scale, sensito.RoundingVariance/(r.Sigma*r.Sigma)))
}

// score returns the criterion for a bend. A reading left out counts as a free
// value with a price of its own, and must lie so far from the curve that its
// repeatability alone cannot explain it.
func (r readings) score(c candidate) float64 {
	limit := r.Sigma * fit.StudentT(1-falseAlarms/float64(r.count()), math.Inf(1))
	for _, i := range c.drop {
		if read, expected := r.reading(i, c); math.Abs(read-expected) < limit {
			return math.Inf(1)
		}
	}
	rss := c.RSS
	if r.quiet() {
		rss = c.rss
	}
	return r.akaike(rss, c.k) + float64(len(c.drop))*slipPrice(r.count(), c.Form.Params())
}

// splinePrice is what a spline must gain on a bend: films that no bend follows
// are far rarer than slips at the end of a strip, which a spline follows too.
// Readings better than stated leave less room for a slip to hide.
const splinePrice, quietSplinePrice = 15, 1

// akaike returns the corrected Akaike criterion for k curve parameters and an
// unknown variance, of which priorReadings residuals of the expected size are
// known beforehand. On short strips that keeps a clear misfit from being taken
// for noise. rss is in units of the stated variance.
func (r readings) akaike(rss, k float64) float64 {
	k++ // the variance
	n := float64(r.count() + sensito.PriorReadings)
	return n*math.Log((rss+sensito.PriorReadings*r.scale)/n) + 2*k + 2*k*(k+1)/(n-k-1)
}

// rising says whether the curve rises over all readings, but for what no
// densitometer shows; with unequal corners the model can turn down.
func (r readings) rising(b fit.Bend) bool {
	return !slices.ContainsFunc(r.X, func(x float64) bool { return b.SlopeAt(x) < -0.01 })
}

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
