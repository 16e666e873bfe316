package sensito

import (
	"math"
	"slices"
)

// ChartKind is one of the charts that are drawn of a quantity.
type ChartKind string

// The charts.
const (
	ChartIndividuals ChartKind = "individuals"
	ChartMovingRange ChartKind = "moving_range"
	ChartEWMA        ChartKind = "ewma"
	ChartCUSUM       ChartKind = "cusum"
)

// ChartKinds are all charts, in order.
var ChartKinds = []ChartKind{ChartIndividuals, ChartMovingRange, ChartEWMA, ChartCUSUM}

// ControlChart is one chart of one quantity. Values have one entry a strip, NaN
// where the chart has none.
type ControlChart struct {
	Quantity string
	Kind     ChartKind
	Limits   ChartLimits // those of an EWMA are where they settle; see Control.LimitsAt
	Sigma    float64     // of a single strip
	Values   []float64   // of a CUSUM, the rising sums
	Falling  []float64   // of a CUSUM, the falling sums with a minus; nil otherwise
	Signals  []ChartSignal
}

// ControlSignal is a signal with its chart.
type ControlSignal struct {
	Quantity string
	Kind     ChartKind
	ChartSignal
}

// newControlChart charts x; each run of it begins anew.
func newControlChart(kind ChartKind, s standard, x []float64, runs []int, set RuleSet) ControlChart {
	ch := ControlChart{Quantity: s.quantity, Kind: kind, Sigma: s.sigma, Signals: []ChartSignal{}}
	var chart func(x []float64) []ChartSignal
	switch kind {
	case ChartIndividuals:
		ch.Limits = IndividualsLimits(s.center, s.sigma)
		chart = func(x []float64) []ChartSignal { return ch.individuals(x, set) }
	case ChartMovingRange:
		ch.Limits, chart = MovingRangeLimits(s.sigma), ch.ranges
	case ChartEWMA:
		ch.Limits, chart = EWMALimits(s.center, s.sigma, EWMAWeight, EWMAWidth, 0), ch.averages
	case ChartCUSUM:
		h := CUSUMInterval * s.sigma
		ch.Limits = ChartLimits{-h, 0, h}
		chart = func(x []float64) []ChartSignal { return ch.sums(x, s.center) }
	default:
		panic("sensito: no such chart: " + kind)
	}
	for k, from := range runs[:len(runs)-1] {
		for _, sig := range chart(x[from:runs[k+1]]) {
			sig.Index, sig.Since = sig.Index+from, sig.Since+from
			ch.Signals = append(ch.Signals, sig)
		}
	}
	return ch
}

func (ch *ControlChart) individuals(x []float64, set RuleSet) []ChartSignal {
	ch.Values = append(ch.Values, x...)
	z := each(x, func(v float64) float64 { return settled((v - ch.Limits.Center) / ch.Sigma) })
	var out []ChartSignal
	for _, r := range Rules(set) {
		out = append(out, r.Signals(z)...)
	}
	slices.SortStableFunc(out, func(a, b ChartSignal) int { return a.Index - b.Index })
	return out
}

func (ch *ControlChart) ranges(x []float64) []ChartSignal {
	ch.Values = append(ch.Values, math.NaN())
	var out []ChartSignal
	for i, v := range each(MovingRanges(x), settled) {
		ch.Values = append(ch.Values, v)
		if ch.Limits.beyond(v) > 0 {
			out = append(out, ChartSignal{BeyondLimit, i + 2, i + 2})
		}
	}
	return out
}

func (ch *ControlChart) averages(x []float64) []ChartSignal {
	z := EWMA(x, ch.Limits.Center, EWMAWeight)
	ch.Values = append(ch.Values, z...)
	var out []ChartSignal
	since, last := 0, 0.0 // where the averages came to the side they are on
	for i, v := range z {
		side := settled(v - ch.Limits.Center)
		if side*last <= 0 {
			since = i
		}
		last = side
		if ch.averageLimits(i+1).beyond(z[i]) != 0 {
			out = append(out, ChartSignal{BeyondLimit, i + 1, since + 1})
		}
	}
	return out
}

// averageLimits returns the limits of the nth average of a run.
func (ch *ControlChart) averageLimits(n int) ChartLimits {
	return EWMALimits(ch.Limits.Center, ch.Sigma, EWMAWeight, EWMAWidth, n)
}

func (ch *ControlChart) sums(x []float64, target float64) []ChartSignal {
	rising, falling := CUSUM(x, target, CUSUMAllow*ch.Sigma)
	ch.Values = append(ch.Values, rising...)
	ch.Falling = append(ch.Falling, each(falling, func(v float64) float64 { return 0 - v })...)
	var out []ChartSignal
	for i := range x {
		for _, sums := range [][]float64{rising, falling} {
			if sums[i] > ch.Limits.Upper {
				out = append(out, ChartSignal{BeyondLimit, i + 1, cusumSince(sums, i) + 1})
			}
		}
	}
	return out
}

// LimitsAt returns the limits of a chart's ith value, counting from 1; those of
// an EWMA widen after every fresh start.
func (c *Control) LimitsAt(ch *ControlChart, i int) ChartLimits {
	if ch.Kind != ChartEWMA {
		return ch.Limits
	}
	start := 0
	for _, run := range c.Log.runs() {
		if run < i {
			start = run
		}
	}
	return ch.averageLimits(i - start)
}

// firstSignal returns the earliest signal after a place, moving ranges aside. Of
// several on one strip it is that of the chart that best tells when the change
// began: a CUSUM, then single strips.
func firstSignal(charts []ControlChart, after int) *ControlSignal {
	rank := map[ChartKind]int{ChartCUSUM: 1, ChartIndividuals: 2, ChartEWMA: 3}
	var first *ControlSignal
	for _, ch := range charts {
		if rank[ch.Kind] == 0 {
			continue
		}
		for _, s := range ch.Signals {
			sooner := first == nil || s.Index < first.Index || s.Index == first.Index && rank[ch.Kind] < rank[first.Kind]
			if s.Index > after && sooner {
				first = &ControlSignal{ch.Quantity, ch.Kind, s}
			}
		}
	}
	return first
}
