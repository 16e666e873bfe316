package curve

import (
	"cmp"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve/internal/sigmoid"
)

// trace is a curve fitted to the readings of a strip of paper.
type trace struct {
	chosen
	free  float64 // parameters, effective ones of a smooth curve
	score float64 // lower is better
}

func (t trace) curve() Curve { return t.vary(t.params, nil) }

// bestPaper returns the curve for the readings of a paper, without the readings
// that cannot belong to it. Papers have more shapes than films, so more forms
// compete: by the corrected Akaike criterion, as for films (see choose).
func (r *readings) bestPaper(keepAll bool) chosen {
	r.scale = 1
	all := r.traces(nil, paperForms)
	for limit := quietPaper; ; limit = r.scale / 2 {
		least := r.scale
		for _, t := range all {
			if t.model != modelSpline || r.quiet() {
				least = min(least, max(t.rss/max(t.dof, 1), r.leastScale()))
			}
		}
		if least > limit || r.count() < 15 { // see quiet
			break
		}
		for _, p := range []*fit.Prior{&r.ToeWidth, &r.Power, &r.ShoulderWidth} {
			p.LnSD *= math.Sqrt(r.scale / least) // see best
		}
		// The less scatter is expected, the closer a smooth curve follows, which
		// may leave less.
		r.scale = least
		all = r.traces(nil, paperForms)
	}
	r.pick(all)
	best := all[0]
	for !keepAll && len(best.drop) < maxSlips(r.count()) && len(r.X)-len(best.drop) > MinReadings {
		next := best
		others := all
		for _, i := range r.strangers(best, all) {
			drop := append(slices.Clone(best.drop), i)
			slices.Sort(drop)
			ts := r.traces(drop, paperForms)
			if r.pick(ts); ts[0].score < next.score {
				next, others = ts[0], ts
			}
		}
		if len(next.drop) == len(best.drop) {
			break
		}
		best, all = next, others
	}
	return believed(all, 1)
}

// quietPaper is the variance of the readings of a paper, in units of the stated
// one, from which on they are clearly better than stated. It is less than for a
// film, since the least scatter about one of many forms is small by chance.
const quietPaper = 0.25

// paperSplinePrice is splinePrice for papers, of which the forms leave fewer out.
const paperSplinePrice = 25

// leastScale returns the variance that rounding alone gives a reading, in units
// of the stated one: of the last place that the readings were noted to, 0.01 or
// finer.
func (r readings) leastScale() float64 {
	least := r.rounding
	for _, y := range r.Y {
		if math.Abs(y-math.Round(100*y)/100) > 1e-9 {
			return least / 100
		}
	}
	return least
}

// paperForms are the forms of curve for paper beside those for film.
var paperForms = []sigmoid.Form{sigmoid.LongToe, sigmoid.LongShoulder, sigmoid.ToeFirst, sigmoid.ShoulderFirst, sigmoid.EvenSweep, sigmoid.TwoLayers}

// filmEvidence is the share of the evidence for a form of film that is believed. What
// a form misses is alike in neighbouring readings, which tell less of it than as many
// apart.
const filmEvidence = 0.5

// leastWeight is that of a rival; rivalry is how much more than the best one a curve scores
// that has less.
const leastWeight = 0.01

var rivalry = -2 / filmEvidence * math.Log(leastWeight)

// among returns the best curve for the readings of a film that are better than
// stated, less those that c leaves out, with its rivals. Against such readings
// what a film has of no form counts, and the forms that compete show how much.
func (r *readings) among(c candidate) chosen {
	all := r.traces(c.drop, []sigmoid.Form{sigmoid.EvenSweep})
	r.pick(all)
	return believed(all, filmEvidence)
}

// traces fits the forms for film, those named, and a smooth curve to the readings
// less drop.
func (r *readings) traces(drop []int, forms []sigmoid.Form) []trace {
	d := r.without(drop)
	lo, hi := sensito.LogExposure(r.X[0]), sensito.LogExposure(r.X[len(r.X)-1])
	var out []trace
	add := func(c chosen, free float64) {
		c.drop, c.least = drop, r.leastScale()
		if c.dof < 1 {
			return
		}
		out = append(out, trace{chosen: c, free: free})
	}
	var s fit.Solver
	for _, form := range []fit.BendForm{fit.ToeLine, fit.ToeCurve, fit.ToeShoulder} {
		b := fit.FitBend(&s, d.BendData, form, nil)
		if form == fit.ToeLine || b.Status == fit.Converged && b.Cov != nil && d.rising(b.Bend) && !d.turnsBack(b.Bend) {
			add(candidate{BendFit: b, drop: drop, rss: b.ReadingRSS}.chosen(*r, lo, hi), float64(form.Params()))
		}
	}
	for _, form := range forms {
		if sol, ok := form.Fit(&s, d.BendData); ok {
			c := chosen{model: form.String(), names: form.Names(), params: sol.Params, cov: sol.Cov, status: sol.Status,
				vary: func(p []float64, _ Curve) Curve { return sCurve{form: form, params: slices.Clone(p), lo: lo, hi: hi} }}
			c.rss = d.squares(c.vary(c.params, nil))
			c.dof = float64(d.count() - sol.Free() - 1) // one for the choice of the form
			// A form of fewer parameters is no likelier to be that of a paper.
			add(c, float64(max(form.Params(), sigmoid.ToeFirst.Params())))
		}
	}
	if f := d.splined(); !math.IsInf(f.score, 0) {
		f.drop = drop
		add(f.chosen(*r, lo, hi), f.k)
	}
	return out
}

// turnsBack says whether a bend falls again beyond the last reading, as one with
// unequal corners can: it ends at a density that the paper has passed.
func (r readings) turnsBack(b fit.Bend) bool {
	const unseen = 0.01 // what no densitometer shows
	last := r.X[len(r.X)-1]
	return float64((&bendCurve{Bend: b}).MaxDensity()) < b.At(last)-unseen
}

// squares returns the sum of squares of the readings about a curve, in units of
// their stated variance.
func (r readings) squares(c Curve) float64 {
	var s float64
	for i := range r.count() {
		read, expected := pair(r.BendData, i, c)
		s += (read - expected) * (read - expected)
	}
	return s / (r.Sigma * r.Sigma)
}

// pick sorts curves by their score, the best first. A reading left out counts as
// in score; a smooth curve has its price, as in best.
func (r *readings) pick(ts []trace) {
	limit := r.Sigma * fit.StudentT(1-falseAlarms/float64(r.count()), math.Inf(1))
	for i := range ts {
		t := &ts[i]
		t.score = r.akaike(t.rss, t.free) + float64(len(t.drop))*slipPrice(r.count(), int(math.Ceil(t.free)))
		switch {
		case t.model != modelSpline:
		case r.quiet():
			t.score += quietSplinePrice
		default:
			t.score += paperSplinePrice
		}
		for _, i := range t.drop {
			if read, expected := pair(r.BendData, i, t.curve()); math.Abs(read-expected) < limit {
				t.score = math.Inf(1)
			}
		}
	}
	slices.SortStableFunc(ts, func(a, b trace) int { return cmp.Compare(a.score, b.score) })
}

// believed returns the first of the curves, which pick has sorted, with the
// others as its rivals by Akaike's weights, of which the given share of the
// evidence is believed.
func believed(ts []trace, evidence float64) chosen {
	best, all := ts[0].chosen, 0.0
	weight := func(t trace) float64 { return math.Exp(evidence * (ts[0].score - t.score) / 2) }
	for _, t := range ts {
		all += weight(t)
	}
	best.rivals = make([]rival, 0, len(ts)-1)
	for _, t := range ts[1:] {
		if w := weight(t) / all; w > leastWeight && t.cov != nil {
			best.rivals = append(best.rivals, rival{chosen: t.chosen, weight: w})
		}
	}
	return best
}

// strangers returns readings in use that may not belong to the curve: those
// that lie far from the best one, and those that lie farthest from others that
// are not much worse, which a richer curve may have bent to reach.
func (r readings) strangers(best trace, all []trace) []int {
	const far, most, worse = 2.5, 3, 40
	var out []int
	for k, t := range all {
		if k > 0 && t.score > best.score+worse {
			break
		}
		c := t.curve()
		by := func(i int) float64 {
			read, expected := pair(r.BendData, i, c)
			return math.Abs(read - expected)
		}
		var off []int
		for i := range r.count() {
			if !slices.Contains(best.drop, i) && by(i) > far*r.Sigma {
				off = append(off, i)
			}
		}
		slices.SortStableFunc(off, func(a, b int) int { return cmp.Compare(by(b), by(a)) })
		take := most
		if k > 0 {
			take = 1
		}
		for _, i := range off[:min(take, len(off))] {
			if !slices.Contains(out, i) {
				out = append(out, i)
			}
		}
	}
	return out
}
