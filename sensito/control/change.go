package control

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/control/chart"
	"sensito/sensito/development"
)

// lastStrips is how many strips show the present level where no chart signals.
const lastStrips = 5

// level finds the present level of a quantity in the present run; where a chart
// has spoken, by the most likely change (see chart.FindChange).
func (c *Evaluation) level(quantity string, signalled bool) Level {
	lv := c.levelOfSeries(c.standard(quantity), c.Log.series(quantity), signalled)
	lv.Quantity = quantity
	return lv
}

// levelOfSeries is level for any series with one value a strip.
func (c *Evaluation) levelOfSeries(s standard, series []float64, signalled bool) Level {
	x := fit.Each(series[c.run:], func(v float64) float64 { return v - s.center })
	lv := Level{Shape: ChangeNone}
	estimate := func(change, sd float64) sensito.Estimate[float64] {
		return sensito.Estimate[float64]{Value: change, StdErr: math.Hypot(sd, s.centerSD), DoF: s.dof}
	}
	if !signalled {
		last := x[max(0, len(x)-lastStrips):]
		lv.Change = estimate(stat.Mean(last, nil), s.sigma/math.Sqrt(float64(len(last))))
		return lv
	}
	ch := chart.FindChange(c.Log.days[c.run:], x, s.sigma)
	lv.Shape, lv.Since, lv.Change = ChangeStep, c.run+ch.From+1, estimate(ch.Level, ch.LevelSD)
	if ch.Length > 0 {
		const week = 7
		lv.Shape = ChangeDrift
		lv.PerWeek = &sensito.Estimate[float64]{Value: week * ch.Level / ch.Length, StdErr: week * ch.RateSD, DoF: s.dof}
	}
	return lv
}

// watchBaseline warns of a baseline that drifts, whose limits would hide it:
// the slope on the strips' order, by Student's t at 99 %.
func (c *Evaluation) watchBaseline() {
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
		m := stat.Mean(y, nil)
		for k := range t {
			tt, ty = tt+t[k]*t[k], ty+t[k]*y[k]
		}
		slope := ty / tt
		for k := range t {
			rss += math.Pow(y[k]-m-slope*t[k], 2)
		}
		dof := float64(len(b) - 2)
		if sd := math.Sqrt(rss / dof / tt); math.Abs(slope) > fit.StudentT(0.99, dof)*math.Max(sd, development.LeastSD) {
			c.Warnings.Add("baseline_drifts", Spoken(q), slope*float64(len(b)-1))
		}
	}
}
