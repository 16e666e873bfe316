package development

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
)

// GrowthModel names the law by which a contrast grows with development time.
type GrowthModel string

const (
	FirstOrder          GrowthModel = "first order"                // from time 0 on
	FirstOrderInduction GrowthModel = "first order with induction" // from a time on that is fitted as well
	TwoTimes            GrowthModel = "two times"                  // first order through two times, which nothing checks
	OneTime             GrowthModel = "one time"                   // first order with induction, at a rate that is usual
)

// Growth is a contrast-like quantity against development time, by first-order
// kinetics (Hurter and Driffield 1890; Sheppard and Mees 1907):
// G = Limit (1 - exp(-Rate (t - Induction))).
type Growth struct {
	fit.Kinetics
	Model   GrowthModel
	Scatter float64     // by how much more the strips scatter about the law than their errors say, Scatter included
	Repeats float64     // by what share one development differs from the next, as the strips have it
	warp    float64     // ln q10 beyond that of the times; 0 unless fitted
	DoF     int         // strips less parameters
	excess  float64     // see fit.Scatter
	dof     float64     // behind Scatter
	mixed   fit.Mixture // what Scatter may be
	stated  sensito.Repeating
	before  []float64 // what differs of what is known beforehand; see Table.Beforehand
	near    *nearby
}

// Development measures a development time by the contrast it gives, on which
// speed depends more simply than on the time: ln G.
func (g Growth) Development(minutes float64) float64 {
	const least = 1e-3 // before the induction time there is none
	return math.Log(math.Max(g.At(minutes), least))
}

// What is known of the induction time before strips are developed, as a share of the
// geometric mean of their times (common practice, no source): it is short, and few
// strips tell it. Weighed so, no law of growth is chosen over another; what is not
// known of the beginning of development is in the error of what follows from it.
// TestInductionKnownNearly holds them.
const inductionShare, inductionShareSD = 0.03, 0.06

// What is not known of the law itself where two strips tell only its rate, as an induction
// on either side of time 0 and a share of their mean time: another law, such as a rate that
// falls as 1/t (Nietz, The Theory of Development, 1922, from restatements) or a power of
// time, lies above it between the strips or below. TestBlindLaws holds it.
const otherLawSD = 0.08

// What is known of the rate where strips of one time tell none: times the time it is
// 0.9, since tests span about one time constant whatever the pace of the developer, give
// or take a factor of two (common practice, no source). TestBlindOneTime holds them.
const usualGrowth, usualGrowthLnSD = 0.9, 0.7

// known returns what is known beforehand of the growth of strips developed for times t,
// moved as before has it. The two-times method has no induction.
func (g Growth) known(t []float64) fit.Beforehand {
	mean := geometricMean(t)
	b := fit.Beforehand{Induction: inductionShare * mean, InductionSD: inductionShareSD * mean}
	switch g.Model {
	case TwoTimes:
		return fit.Beforehand{InductionSD: otherLawSD * mean, EitherSide: true}
	case OneTime:
		b.LnRate, b.LnRateSD = math.Log(usualGrowth/mean), usualGrowthLnSD
		if len(g.before) > runsFaster {
			b.LnRate += g.before[runsFaster] * b.LnRateSD
		}
	}
	b.Induction += g.later() * b.InductionSD
	return b
}

// later returns by how many standard deviations development begins later than expected.
func (g Growth) later() float64 {
	if len(g.before) == 0 {
		return 0
	}
	return g.before[beginsLater]
}

func geometricMean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += math.Log(x)
	}
	return math.Exp(sum / float64(len(v)))
}

// FitGrowth fits the law to values g with standard deviations sd at times t. Of values
// that differ by a small part of their errors it is that of like, whose scatter it
// keeps; the zero Growth is like none. The error is Unanswerable for one time alone,
// and where contrast does not grow or no law fits.
func FitGrowth(t, g, sd []float64, like Growth) (Growth, error) {
	if like.Model == TwoTimes {
		k, err := like.twoTimes(t, g)
		like.Kinetics = k
		return like, err
	}
	if like.Model != "" {
		if like.near.moves(&like, t, g, sd, nil) {
			return like, nil
		}
		f, err := like.refit(t, g, sd, &like.Kinetics)
		like.Kinetics = f.Kinetics
		like.near = newNearby(like, f.Solution, f.Influence, t, g, sd, nil)
		return like, err
	}
	switch {
	case len(t) == 0:
		return Growth{}, &sensito.Unanswerable{Reason: "no strip shows its contrast", Hint: "expose a strip so that its curve rises well inside the wedge"}
	case len(fit.Distinct(t)) < 2:
		return growthOf(t, g, sd, Growth{Model: OneTime, stated: like.stated})
	case len(t) == 2:
		out := Growth{Model: TwoTimes, stated: like.stated}
		var err error
		if out.Kinetics, err = out.twoTimes(t, g); err != nil {
			return Growth{}, &sensito.Unanswerable{
				Reason: fmt.Sprintf("two times do not give a rate: %v", err),
				Hint:   "check both strips, or develop a third",
			}
		}
		out.scatter(t, g, sd)
		return out, nil
	}
	return growthOf(t, g, sd, Growth{Model: FirstOrderInduction, stated: like.stated})
}

// twoTimes returns the kinetics through two strips by the two-times method.
func (g Growth) twoTimes(t, y []float64) (fit.Kinetics, error) {
	i, j := 0, 1
	if t[i] > t[j] {
		i, j = j, i
	}
	later := g.later() * g.known(t).InductionSD
	k, err := fit.TwoTimes(t[i]-later, y[i], t[j]-later, y[j])
	k.Induction = later
	return k, err
}

// growthOf fits the law of out's model to contrasts g with standard deviations sd at
// times t in minutes. The error is Unanswerable where contrast does not grow, or no law
// fits.
func growthOf(t, g, sd []float64, out Growth) (Growth, error) {
	f, err := out.refit(t, g, sd, nil)
	if errors.Is(err, fit.ErrRateUnknown) {
		return Growth{}, NoGrowth(t, g)
	}
	if err != nil {
		return Growth{}, err
	}
	if f.Status != fit.Converged {
		return Growth{}, &sensito.Unanswerable{
			Reason: fmt.Sprintf("contrast against time could not be fitted (%v)", f.Status),
			Hint:   "check the strips for one that does not belong",
		}
	}
	out.Kinetics, out.DoF = f.Kinetics, len(t)-2
	if out.Model == OneTime {
		out.DoF = len(t) - 1
	}
	out.near = newNearby(out, f.Solution, f.Influence, t, g, sd, nil)
	out.excess = fit.Scatter(f.RSS, out.DoF)
	out.scatter(t, g, sd)
	return out, nil
}

// Refit fits the law of g to other values, as FitGrowth.
func (g Growth) Refit(t, y, sd []float64) (fit.KineticsFit, error) { return g.refit(t, y, sd, nil) }

// refit is Refit with a place where the search begins, nil for none.
func (g Growth) refit(t, y, sd []float64, near *fit.Kinetics) (fit.KineticsFit, error) {
	if g.Model == FirstOrder {
		return fit.FitKinetics(t, y, sd, false)
	}
	return fit.FitKineticsBegun(t, y, sd, g.known(t), near)
}

// fitWarpedGrowth is FitGrowth with times that count as t exp(warp u), the warp
// fitted as well; the search for it begins at each of the starts.
func fitWarpedGrowth(t, g, sd, u []float64, like Growth, starts ...float64) (Growth, error) {
	if like.Model != "" && like.near.moves(&like, t, g, sd, u) {
		return like, nil
	}
	before := like.known(t)
	if like.Model != "" {
		f, err := fit.FitWarpedBegun(t, g, sd, u, before, &like.Kinetics, like.warp)
		like.Kinetics, like.warp = f.Kinetics, f.Warp
		like.near = newNearby(like, f.Solution, f.Influence, t, g, sd, u)
		return like, err
	}
	f, err := fit.FitWarpedBegun(t, g, sd, u, before, nil, starts...)
	if errors.Is(err, fit.ErrRateUnknown) {
		return Growth{}, NoGrowth(t, g)
	}
	if err != nil || f.Status != fit.Converged || f.Cov == nil || f.AtBound[3] {
		return Growth{}, &sensito.Unanswerable{
			Reason: "contrast against time and temperature could not be fitted together",
			Hint:   "develop two strips or more for different times at one temperature",
		}
	}
	out := Growth{Kinetics: f.Kinetics, Model: FirstOrderInduction, DoF: len(t) - 3, warp: f.Warp, stated: like.stated}
	out.excess = fit.Scatter(f.RSS, out.DoF)
	out.near = newNearby(out, f.Solution, f.Influence, t, g, sd, u)
	warped := make([]float64, len(t))
	for i := range t {
		warped[i] = t[i] * math.Exp(out.warp*u[i])
	}
	out.scatter(warped, g, sd)
	return out, nil
}

// nearby tells how the parameters of a law follow the values that it was fitted to, so
// that those of values hardly different need no fit.
type nearby struct {
	t, y, sd, u []float64
	column      *nearColumn // the values are that of a table; nil for others
	before      []float64
	params      []float64
	by          [][]float64 // the parameters, by each value
	byBefore    [][]float64
}

// hardly is how far values may differ from those fitted, in their standard deviations.
const hardly = 0.1

// newNearby returns that of a law with the solution and its influence, nil for none.
func newNearby(g Growth, s fit.Solution, influence func() (byValue, byBefore [][]float64), t, y, sd, u []float64) *nearby {
	if s.Cov == nil || s.Status != fit.Converged {
		return nil
	}
	n := &nearby{t: t, y: y, sd: sd, u: u, before: g.before, params: s.Params}
	if n.by, n.byBefore = influence(); n.by == nil {
		return nil
	}
	return n
}

// moves brings g to other values, and says whether it could: where they hardly differ from
// those fitted, and a law of growth goes through them.
func (n *nearby) moves(g *Growth, t, y, sd, u []float64) bool {
	if n == nil || !slices.Equal(t, n.t) || !slices.Equal(sd, n.sd) || !slices.Equal(u, n.u) {
		return false
	}
	params := n.begun(g.before)
	for i, v := range y {
		if !n.move(params, i, v-n.y[i]) {
			return false
		}
	}
	return n.give(g, params)
}

// begun returns the parameters for what differs of what is known beforehand.
func (n *nearby) begun(before []float64) []float64 {
	params := slices.Clone(n.params)
	for k, by := range n.byBefore {
		off := 0.0
		if k < len(before) {
			off += before[k]
		}
		if k < len(n.before) {
			off -= n.before[k]
		}
		addScaled(params, off, by)
	}
	return params
}

// move brings parameters to a value that is off by so much, and says whether that is
// hardly.
func (n *nearby) move(params []float64, i int, off float64) bool {
	if !(math.Abs(off) <= hardly*n.sd[i]) {
		return false
	}
	addScaled(params, off, n.by[i])
	return true
}

// to returns what is nearby other values, nil where they are not hardly different.
func (n *nearby) to(y, before []float64) *nearby {
	out := *n
	out.y, out.before, out.column, out.params = y, before, nil, n.begun(before)
	for i, v := range y {
		if !n.move(out.params, i, v-n.y[i]) {
			return nil
		}
	}
	return &out
}

// give gives g the parameters, and says whether a law of growth has them.
func (n *nearby) give(g *Growth, params []float64) bool {
	if !(params[0] > 0) {
		return false
	}
	g.Kinetics = fit.Growing(params)
	if n.u != nil {
		g.warp = params[3]
	}
	return true
}

// nearColumn says which column of a table a law of growth was fitted to, every strip
// giving it, so that a change of some strips is followed without a look at the others.
type nearColumn struct {
	i      int
	rows   [][]float64
	moves  int // directions of the errors of the table, to which Unsteady adds
	placed *PlacedColumns

	// Where the column follows the speed points: the parameters of growth by each
	// coefficient of their law, and by how many of its standard deviations a value
	// moves at most.
	law   fit.Trend
	byLaw [][]float64
	most  []float64
}

// changed returns the first and the last but one of the strips whose rows are others.
func changed(of, rows [][]float64) (from, to int) {
	to = len(of)
	for from < to && &of[from][0] == &rows[from][0] {
		from++
	}
	for to > from && &of[to-1][0] == &rows[to-1][0] {
		to--
	}
	return from, to
}

// note returns a law of growth that was fitted to y, column i of the table, which it keeps.
func (tb *Table) note(i int, rows [][]float64, y []float64, g Growth) Growth {
	if g.near == nil || len(y) == 0 || len(y) != len(tb.Rows) {
		return g
	}
	if c := g.near.column; c != nil {
		if &rows[0] != &tb.Rows[0] || &c.rows[0] == &tb.Rows[0] {
			return g
		}
		g.near = g.near.to(y, g.before) // the law follows the values of another table
	}
	if g.near == nil || !slices.Equal(y, g.near.y) {
		return g
	}
	c := &nearColumn{i: i, rows: rows[:len(tb.Rows)], moves: len(tb.Moves), placed: tb.Placed}
	g.near.column = c
	slopes := tb.placed(i)
	if slopes == nil {
		return g
	}
	c.law = c.placed.lawOf(tb, c.rows)
	for j, slope := range slopes {
		for k, v := range c.placed.law.ByCoef(c.placed.u[j]) {
			if j == 0 {
				c.byLaw, c.most = append(c.byLaw, make([]float64, len(g.near.params))), append(c.most, 0)
			}
			addScaled(c.byLaw[k], slope*v, g.near.by[j])
			c.most[k] = math.Max(c.most[k], math.Abs(slope*v)/g.near.sd[j])
		}
	}
	return g
}

// grown brings a law that was fitted to column i to rows of which a few strips hardly
// differ, and says whether it could.
func (tb *Table) grown(i int, rows [][]float64, g *Growth) bool {
	n := g.near
	if n == nil || n.column == nil {
		return false
	}
	c := n.column
	if c.i != i || len(c.rows) != len(tb.Rows) || &c.rows[0] != &tb.Rows[0] || c.moves != len(tb.Moves) ||
		c.placed != tb.Placed && tb.Placed != nil || (n.u == nil) != (tb.Warp == nil) {
		return false
	}
	params := n.begun(g.before)
	from, to := changed(c.rows, rows)
	for j := from; j < to; j++ {
		if !n.move(params, j, rows[j][i]-c.rows[j][i]) {
			return false
		}
	}
	if tb.placed(i) != nil {
		is := c.placed.lawOf(tb, rows)
		far := 0.0
		for k, by := range c.byLaw {
			off := is.Coef[k] - c.law.Coef[k]
			addScaled(params, off, by)
			far += math.Abs(off) * c.most[k]
		}
		if !(far <= hardly) {
			return false
		}
	}
	return n.give(g, params)
}

func addScaled(to []float64, by float64, v []float64) {
	for i, x := range v {
		to[i] += by * x
	}
}

// Limits returns the interval of the time at which the growth reaches g, by
// profile likelihood: near the end of development the error of a time is far
// from symmetric, and may have no upper end (TestTimeCoverage in package fit:
// beyond 90 % of the limit an interval from the standard deviation covers 79 to
// 91 of 100 where the profile covers 95). dof are the degrees of freedom behind
// the standard deviations. ok is false where there is no profile.
func (g Growth) Limits(t, y, sd []float64, aim, dof, level float64) (low, high float64, ok bool) {
	wide := g.Scatter * fit.StudentT(level, dof) / fit.StudentT(level, math.Inf(1))
	f, err := g.Refit(t, y, fit.Each(sd, func(v float64) float64 { return wide * v }))
	if err != nil {
		return 0, 0, false
	}
	low, high = f.TimeInterval(aim, level)
	return low, high, low > 0 && high > low
}

// Less returns what is left of an error without an independent part of it.
func Less(sd, part float64) float64 {
	if part == 0 {
		return sd
	}
	return math.Sqrt(math.Max(sd*sd-part*part, 0))
}

// AlsoOff returns the ends of the interval of a time at which the growth reaches g, where
// contrast is also off by a factor on all strips alike, which gives the time sd in ln t: the
// time moves with the factor as with the aim. An end is open where either is.
func (g Growth) AlsoOff(minutes, low, high, aim, sd, level float64) (from, to float64) {
	by := fit.StudentT(level, math.Inf(1)) * sd / g.PerAim(aim)
	further := func(end, aim float64) float64 {
		other, err := g.Time(aim)
		if err != nil {
			other = math.Inf(1)
		}
		apart := math.Log(end / minutes)
		return minutes * math.Exp(math.Copysign(math.Hypot(apart, math.Log(other/minutes)), apart))
	}
	return further(low, aim-by), further(high, aim+by)
}

// PerAim returns how far ln t moves with the contrast aimed at, at g: the rate
// at which an error of the aim becomes one of the time. It is infinite where
// development has ended.
func (g Growth) PerAim(aim float64) float64 {
	const by = 1e-4
	low, errLow := g.Time(aim - by)
	high, errHigh := g.Time(aim + by)
	if errLow != nil || errHigh != nil {
		return math.Inf(1)
	}
	return math.Log(high/low) / (2 * by)
}
