package sensito

import "math"

// The shapes of a change.
const (
	ChangeNone  = "none"  // no chart speaks
	ChangeStep  = "step"  // at once, and level since
	ChangeDrift = "drift" // steadily, by the day
)

// ControlLevel is where a quantity is now, against where it should be.
type ControlLevel struct {
	Quantity string
	Shape    string // ChangeNone, ChangeStep or ChangeDrift
	Since    int    // the first strip of the change, from 1; 0 for ChangeNone

	// Change is the present level less the centre, in density: of the mean
	// since a step, the end of a drift, or the mean of the last strips of the
	// run, at most five, when no chart speaks.
	Change  Estimate[float64]
	PerWeek *Estimate[float64] // of a drift; nil otherwise
}

// changeLevel is the confidence at which a change counts as one.
const changeLevel = 0.95

// Direction returns 1 or -1 where the level is surely above or below the
// centre, at 95 %, and 0 otherwise.
func (l ControlLevel) Direction() int {
	low, high := l.Change.Interval(changeLevel)
	switch {
	case l.Shape == ChangeNone:
		return 0
	case low > 0:
		return 1
	case high < 0:
		return -1
	}
	return 0
}

// lastStrips is how many strips show the present level where no chart speaks.
const lastStrips = 5

// level finds the present level of a quantity in the present run. Where a chart
// has spoken, the change is the step or the drift of greatest likelihood under
// normal errors (Samuel, Pignatiello and Calvin, Quality Engineering 10, 521,
// 1998, for a step; Perry, Pignatiello and Simpson, Quality and Reliability
// Engineering International 22, 671, 2006, for a drift; from memory). Its error
// is the second moment about it of all steps and drifts by their likelihoods,
// since neither the shape nor the start of the change is known.
func (c *Control) level(quantity string, signalled bool) ControlLevel {
	lv := c.levelOfSeries(c.standard(quantity), c.Log.series(quantity), signalled)
	lv.Quantity = quantity
	return lv
}

// levelOfSeries is level for any series with one value a strip.
func (c *Control) levelOfSeries(s standard, series []float64, signalled bool) ControlLevel {
	x := each(series[c.run:], func(v float64) float64 { return v - s.center })
	lv := ControlLevel{Shape: ChangeNone}
	estimate := func(change, sd float64) Estimate[float64] {
		return Estimate[float64]{Value: change, StdErr: math.Hypot(sd, s.centerSD), DoF: s.dof}
	}
	if !signalled {
		last := x[max(0, len(x)-lastStrips):]
		lv.Change = estimate(mean(last), s.sigma/math.Sqrt(float64(len(last))))
		return lv
	}
	all := changes(c.Log.days[c.run:], x)
	best := all[0]
	for _, ch := range all {
		if ch.gain > best.gain {
			best = ch
		}
	}
	var sum, level, driftSum, slope float64
	for _, ch := range all {
		w := math.Exp((ch.gain - best.gain) / (2 * s.sigma * s.sigma))
		sum += w
		level += w * (math.Pow(s.sigma*ch.share, 2) + math.Pow(ch.level-best.level, 2))
		if ch.length > 0 && best.length > 0 {
			driftSum += w
			slope += w * (math.Pow(s.sigma*ch.share/ch.length, 2) + math.Pow(ch.level/ch.length-best.level/best.length, 2))
		}
	}
	lv.Shape, lv.Since, lv.Change = ChangeStep, c.run+best.from+1, estimate(best.level, math.Sqrt(level/sum))
	if best.length > 0 {
		const week = 7
		lv.Shape = ChangeDrift
		lv.PerWeek = &Estimate[float64]{Value: week * best.level / best.length, StdErr: week * math.Sqrt(slope/driftSum), DoF: s.dof}
	}
	return lv
}

// change is one way in which deviations from a centre may have changed.
type change struct {
	from   int     // the first of them that has
	level  float64 // at the end
	share  float64 // standard deviation of level in those of a deviation
	gain   float64 // by how much it lessens the sum of squares
	length float64 // days over which it drifted; 0 for a step
}

// driftDays is how many days with strips a drift must have been seen on.
const driftDays = 3

// changes returns every step and every drift from the centre that deviations x
// may show; a drift starts on the day before its first strip.
func changes(days, x []float64) []change {
	var out []change
	for from := range x {
		n, m := float64(len(x)-from), mean(x[from:])
		out = append(out, change{from: from, level: m, share: 1 / math.Sqrt(n), gain: n * m * m})
		start := max(0, from-1)
		if len(distinct(days[start:])) <= driftDays {
			continue
		}
		var tt, tx float64
		for i := start; i < len(x); i++ {
			t := days[i] - days[start]
			tt += t * t
			tx += t * x[i]
		}
		length := days[len(days)-1] - days[start]
		out = append(out, change{from: from, level: tx / tt * length, share: length / math.Sqrt(tt), gain: tx * tx / tt, length: length})
	}
	return out
}

// watchBaseline warns of a baseline that drifts, whose limits would hide it:
// the slope on the strips' order, by Student's t at 99 %.
func (c *Control) watchBaseline() {
	b := c.Baseline.Strips
	if len(b) == 0 {
		return
	}
	for _, q := range c.Log.Quantities() {
		x := c.Log.series(q)
		var t, y []float64
		for k, i := range b {
			t, y = append(t, float64(k)-float64(len(b)-1)/2), append(y, x[i-1])
		}
		var tt, ty, rss float64
		m := mean(y)
		for k := range t {
			tt, ty = tt+t[k]*t[k], ty+t[k]*y[k]
		}
		slope := ty / tt
		for k := range t {
			rss += math.Pow(y[k]-m-slope*t[k], 2)
		}
		dof := float64(len(b) - 2)
		if sd := math.Sqrt(rss / dof / tt); math.Abs(slope) > studentT(0.99, dof)*math.Max(sd, leastSD) {
			c.warn("baseline_drifts", "%s changes by %+.3f over the baseline itself, so its centre is that of no steady process: state an aim, or mark other strips", q, slope*float64(len(b)-1))
		}
	}
}
