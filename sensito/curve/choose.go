package curve

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"sensito/fit"
	"sensito/fit/smooth"
	"sensito/sensito"
)

// reading returns reading i and what the curve has there.
func (r readings) reading(i int, c candidate) (read, expected float64) {
	if i < len(r.X) {
		return r.Y[i], c.at(r.X[i])
	}
	return r.Base[i-len(r.X)], c.base()
}

// solvers are those not in use, with their workspaces.
var solvers = sync.Pool{New: func() any { return new(fit.Solver) }}

// best returns the curve for the readings: a bend, without the readings that
// cannot belong to it; or a spline, where no bend follows the readings as well.
func (r *readings) best(keepAll bool) candidate {
	s := solvers.Get().(*fit.Solver)
	defer solvers.Put(s)
	return r.bestBy(s, keepAll)
}

func (r *readings) bestBy(s *fit.Solver, keepAll bool) candidate {
	var first tried
	if !keepAll {
		if c, ok := r.oneSlip(s, &first); ok {
			return r.smoothed(c)
		}
	}
	all, fits := r.chooseBelow(s, nil, search{below: math.Inf(1), before: first, hasty: true})
	if all.poor {
		c := all
		if !keepAll {
			c = r.withoutSlips(s, all)
		}
		if r.explains(c, all.score, fits) {
			return r.smoothed(c)
		}
		r.scale = 0
		again, _ := r.chooseBelow(s, nil, search{below: math.Inf(1), before: fits})
		if !(again.score < all.score) && len(c.drop) > 0 {
			return r.smoothed(c) // no other curve for all is better than that by which slips were judged
		}
		all = again
	}
	if r.quiet() {
		// The readings are better than stated, so what was known beforehand
		// counts for less against them.
		for _, p := range []*fit.Prior{&r.ToeWidth, &r.Power, &r.ShoulderWidth} {
			p.LnSD /= math.Sqrt(r.scale)
		}
		all = r.choose(s, nil, &all)
	}
	c := all
	if !keepAll {
		c = r.withoutSlips(s, all)
	}
	return r.smoothed(c)
}

// explains says whether a curve that leaves readings out follows the others so well that
// no curve through all of them can do better than it, or than the best of the fits to all,
// which scores so much.
func (r readings) explains(c candidate, all float64, fits tried) bool {
	if len(c.drop) == 0 || c.rss > poorly*float64(r.count()) {
		return false
	}
	if !r.quiet() && r.foresees(c, all, fits) {
		return true
	}
	guide := r.guide(c, nil)
	return guide != nil && guide.RSS() > beaten*r.mostToBeat(c.score, 0)
}

// foresees says whether the fits to all readings, the best of which scores so much, are
// where c and the forms beside it lead to with the readings that c leaves out, so that none
// is beside its minimum. Forms that cannot be as good as that do not matter.
func (r readings) foresees(c candidate, all float64, fits tried) bool {
	const near = 0.1 // of the sum of squares
	for f, p := range r.prospects(&c) {
		form := fit.BendForm(f)
		if p.Leverage == nil {
			if !c.hopeless[form] && !(c.straight && fits[form].Status == fit.Converged) {
				return false
			}
			continue
		}
		due := p.rss + p.Change(c.drop, nil)
		at := fits[form].Status == fit.Converged && math.Abs(fits[form].RSS-due) < near*due
		if due < beaten*r.beat(all, form, 0) && !at {
			return false
		}
	}
	return true
}

// smoothed returns the spline through the readings where it does better than a bend.
func (r *readings) smoothed(c candidate) candidate {
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
		score := c.score
		if slices.Contains(c.drop, len(r.X)-1) { // judged by surprise, not by price
			score -= slipPrice(r.count(), c.Form.Params())
		}
		if f.score < score {
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
	f, err := smooth.FitSpline(r.BendData, sensito.PriorReadings, r.scale)
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
	c, _ := r.chooseBelow(s, drop, search{near: near, below: math.Inf(1)})
	return c
}

// chooseIf is choose where the score can be below one that is known already; it is
// infinite otherwise. Fits that cannot win are given up, and those of forms that have
// no room to are not begun, nor those that were made before.
func (r *readings) chooseIf(s *fit.Solver, drop []int, near *candidate, below float64, has [3]room, before tried) candidate {
	how := search{near: near, below: below, before: before, has: has, matters: below}
	c, fits := r.chooseBelow(s, drop, how)
	if !(c.score < below) {
		c.score = math.Inf(1)
		return c
	}
	how.before, how.below, how.matters = fits, math.Inf(1), c.score+rivalry
	for f, b := range fits {
		if b.Status == fit.Beaten && !r.shut(fit.BendForm(f), len(drop), how) { // a rival, or where the next search begins
			c, _ = r.chooseBelow(s, drop, how)
			break
		}
	}
	return c
}

// shut says whether a form has no room to matter in a search, with so many readings left out.
func (r readings) shut(f fit.BendForm, drop int, how search) bool {
	return how.has[f].none(r.beat(how.matters, f, drop))
}

// tried are the fits of each form to the same readings; without Status those not tried.
type tried [3]fit.BendFit

// search says how forms are fitted: from where, and what need not be fitted in earnest.
type search struct {
	near    *candidate // nil for none
	below   float64    // a score that is known already: what cannot be less is given up
	before  tried      // goes on from there
	has     [3]room    // of each form
	matters float64    // the score from which on a form without room need not be fitted at all
	hasty   bool       // a curve that follows the readings poorly will do
}

// poorly is the sum of squares a reading of a curve that may be beside the minimum.
const poorly = 2

// chooseBelow is choose by a search; it returns all fits too.
func (r *readings) chooseBelow(s *fit.Solver, drop []int, how search) (c candidate, fits tried) {
	d := r.without(drop)
	forms := []fit.BendForm{fit.ToeLine, fit.ToeCurve, fit.ToeShoulder}
	for len(forms) > 1 && d.count() < forms[len(forms)-1].Params()+2 { // one to spare, and one for the choice
		forms = forms[:len(forms)-1]
	}
	cs := make([]candidate, 0, 2*len(forms))
	var all candidate // what is known of all forms
	attempt := func(form fit.BendForm, from func() []float64) candidate {
		c := candidate{drop: drop, k: float64(form.Params())}
		c.BendFit = how.before[form]
		how.before[form] = fit.BendFit{}
		open, begun := c.Status == 0 || c.Status == fit.Beaten, c.Params != nil
		if open && r.shut(form, len(drop), how) {
			c.Status = fit.Beaten
			all.hopeless[form], all.owed[form], all.starts[form] = true, true, c.Params
			if !begun {
				all.starts[form] = how.near.starts[form]
			}
			fits[form] = c.BendFit
			return c
		}
		if open {
			start := c.Params
			if !begun {
				start = from()
			}
			c.BendFit = fit.FitBendBelow(s, d.BendData, form, start, r.beat(how.below, form, len(drop)))
		}
		fits[form] = c.BendFit
		c.rss = c.ReadingRSS
		if c.Status == fit.Converged {
			all.starts[form] = c.Params
		}
		if form == fit.ToeLine || c.Status == fit.Converged && c.Cov != nil && d.rising(c.Bend) {
			cs = append(cs, c)
		}
		return c
	}
	poor := true
	for _, form := range forms {
		c := attempt(form, func() []float64 {
			if how.near != nil {
				if start := r.startOf(s, how.near, form); start != nil {
					return start
				}
			}
			if line := fits[fit.ToeLine]; form == fit.ToeCurve && line.Status == fit.Converged {
				return append(slices.Clone(line.Params), 0) // the line, not bent
			}
			return nil
		})
		poor = poor && !(c.Status == fit.Converged && c.rss < poorly*float64(d.count()))
		if form == fit.ToeLine && !all.hopeless[form] && !r.quiet() {
			held, freed := c.promise(d)
			if all.straight, all.freed = !r.bends(c.rss, held), freed; all.straight {
				break
			}
		}
	}
	poor = poor && how.near == nil
	if poor && !how.hasty && fits[fit.ToeLine].Status != fit.Beaten {
		// The search may have ended beside the minimum: once more from corners
		// much rounder.
		rounder := 4 * (d.X[len(d.X)-1] - d.X[0]) / float64(len(d.X)-1)
		for _, form := range forms {
			attempt(form, func() []float64 { return d.Start(form, rounder) })
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
	if len(cs) == 0 { // no form has room
		return candidate{score: math.Inf(1)}, fits
	}
	slices.SortStableFunc(cs, func(a, b candidate) int { return cmp.Compare(a.score, b.score) })
	best := cs[0]
	best.least = best.score
	for _, b := range fits {
		if b.Params != nil && b.Status != fit.Beaten {
			best.least = math.Min(best.least, r.score(candidate{BendFit: b, drop: drop, rss: b.ReadingRSS, k: float64(b.Form.Params())}))
		}
	}
	best.starts, best.hopeless, best.owed, best.poor = all.starts, all.hopeless, all.owed, poor
	best.straight, best.freed = all.straight, all.freed
	for i, c := range cs[1:] {
		if !slices.ContainsFunc(cs[:i+1], func(better candidate) bool { return better.Form == c.Form }) {
			best.others = append(best.others, c)
		}
	}
	return best, fits
}

// startOf returns the parameters of a form that a search near c begins from, nil for
// none: those of the fit to the readings that c is of, made now where it is owed.
func (r *readings) startOf(s *fit.Solver, c *candidate, form fit.BendForm) []float64 {
	if c.owed[form] {
		b := fit.FitBend(s, r.without(c.drop).BendData, form, c.starts[form])
		c.owed[form], c.starts[form] = false, nil
		if b.Status == fit.Converged {
			c.starts[form] = b.Params
		}
	}
	return c.starts[form]
}

// bends says whether the residuals about toe and line leave room for another
// form to be chosen, given their sum of squares and how much less they promise. It
// spares two fits of three for most strips.
func (r readings) bends(rss, promised float64) bool {
	n := float64(r.count() + sensito.PriorReadings)
	known := sensito.PriorReadings * math.Max(r.scale, r.rounding)
	return n*math.Log((rss+known)/(math.Max(rss-promised, 0)+known)) > 2
}

// quiet says that the readings are clearly better than stated, which takes a
// strip long enough not to look so by chance.
func (r readings) quiet() bool { return r.scale != 0 && r.scale < 0.42 && r.count() >= 15 }

// expect lowers r.scale to the scatter about a curve, but not below that of
// rounding.
func (r *readings) expect(c candidate) {
	scatter := c.rss / math.Max(c.dof(*r), 1)
	r.scale = math.Max(math.Min(r.scale, scatter), math.Min(r.scale, r.rounding))
}

// limit is how far a reading must lie from the curve for its repeatability alone not to
// explain it.
func (r readings) limit() float64 {
	return r.Sigma * fit.StudentT(1-falseAlarms/float64(r.count()), math.Inf(1))
}

// score returns the criterion for a bend. A reading left out counts as a free
// value with a price of its own, and must lie beyond the limit.
func (r readings) score(c candidate) float64 {
	limit := r.limit()
	for _, i := range c.drop {
		if read, expected := r.reading(i, c); math.Abs(read-expected) < limit {
			return math.Inf(1)
		}
	}
	return r.merit(c) + float64(len(c.drop))*slipPrice(r.count(), c.Form.Params())
}

// merit is the criterion for a bend and the readings that it has, those left out at no price.
func (r readings) merit(c candidate) float64 {
	if r.quiet() {
		return r.akaike(c.rss, c.k)
	}
	return r.akaike(c.RSS, c.k)
}

// splinePrice is what a spline must gain on a bend: films that no bend follows
// are far rarer than slips at the end of a strip, which a spline follows too.
// Readings better than stated leave less room for a slip to hide.
const splinePrice, quietSplinePrice = 15, 1

// akaike returns the corrected Akaike criterion for k curve parameters and an
// unknown variance, of which PriorReadings residuals of the expected size are
// known beforehand. On short strips that keeps a clear misfit from being taken
// for noise. rss is in units of the stated variance.
func (r readings) akaike(rss, k float64) float64 {
	k++ // the variance
	n := float64(r.count() + sensito.PriorReadings)
	return n*math.Log((rss+sensito.PriorReadings*r.scale)/n) + 2*k + 2*k*(k+1)/(n-k-1)
}

// beat returns the residual sum of squares that a form must stay below to score below
// so much with so many readings left out; 0 for none.
func (r readings) beat(below float64, f fit.BendForm, drop int) float64 {
	if math.IsInf(below, 1) || r.quiet() { // which counts the readings alone
		return 0
	}
	n := float64(r.count() + sensito.PriorReadings)
	ln := (below - r.akaike(0, float64(f.Params())) - float64(drop)*slipPrice(r.count(), f.Params())) / n
	// akaike adds what is known beforehand to the sum of squares.
	return math.Max(sensito.PriorReadings*r.scale*math.Expm1(ln), math.SmallestNonzeroFloat64)
}

// mostToBeat is beat of the form that has most room; +Inf for none.
func (r readings) mostToBeat(below float64, drop int) float64 {
	most := 0.0
	for _, f := range []fit.BendForm{fit.ToeLine, fit.ToeCurve, fit.ToeShoulder} {
		beat := r.beat(below, f, drop)
		if beat == 0 {
			return math.Inf(1)
		}
		most = math.Max(most, beat)
	}
	return most
}

// fallUnseen is by how many standard deviations of a reading a curve may fall below where it
// has been. TestBlindCleanStrips holds it.
const fallUnseen = 3

// rising says whether the curve rises over all readings, but for what they do not
// show; with unequal corners the model can turn down.
func (r readings) rising(b fit.Bend) bool {
	highest := math.Inf(-1)
	for _, x := range r.X {
		y := b.At(x)
		if y < highest-fallUnseen*r.Sigma {
			return false
		}
		highest = math.Max(highest, y)
	}
	return true
}
