package chart

import (
	"fmt"
	"math"
	"slices"
)

// The designs of the charts for slow drift, in standard deviations of a single
// value. Both let a steady process run for nearly 500 values on average, and
// call a shift of one standard deviation after ten (run lengths by R package
// spc 0.6.7, which TestRunLengths checks).
const (
	EWMAWeight    = 0.2
	EWMAWidth     = 2.962
	CUSUMAllow    = 0.5
	CUSUMInterval = 5
)

// Kind is one of the charts that are drawn of a series.
type Kind string

// The charts.
const (
	KindIndividuals Kind = "individuals"
	KindMovingRange Kind = "moving_range"
	KindEWMA        Kind = "ewma"
	KindCUSUM       Kind = "cusum"
)

// Kinds are all charts, in order.
var Kinds = []Kind{KindIndividuals, KindMovingRange, KindEWMA, KindCUSUM}

// Chart is one chart of a series. It is made by New; its values have one entry for
// each of the series, NaN where the chart has none.
type Chart struct {
	Kind    Kind
	Limits  Limits    // those of an EWMA are where they settle; see LimitsAt
	Sigma   float64   // standard deviation of a single value
	Values  []float64 // of a CUSUM, the rising sums
	Falling []float64 // of a CUSUM, the falling sums with a minus; nil otherwise
	Signals []Signal  // in order

	runs []int
}

// A Signal is one point at which a chart signals. Index and Since, where
// the pattern began, count from 1.
type Signal struct {
	Rule         string // BeyondLimit, or such as "nelson_3"
	Index, Since int
}

// New returns the chart of the series x about the centre, by the standard deviation
// sigma of a single value. A run begins at each place of runs, which are from 0 and
// end with the length of x, and the chart begins anew with it. The set of rules
// counts for single values. New panics for a kind that is not one of Kinds.
func New(kind Kind, center, sigma float64, x []float64, runs []int, set RuleSet) Chart {
	ch := Chart{Kind: kind, Sigma: sigma, Signals: []Signal{}, runs: slices.Clone(runs)}
	var add func(x []float64) []Signal
	switch kind {
	case KindIndividuals:
		ch.Limits = IndividualsLimits(center, sigma)
		add = func(x []float64) []Signal { return ch.individuals(x, set) }
	case KindMovingRange:
		ch.Limits, add = MovingRangeLimits(sigma), ch.ranges
	case KindEWMA:
		ch.Limits, add = EWMALimits(center, sigma, EWMAWeight, EWMAWidth, 0), ch.averages
	case KindCUSUM:
		h := CUSUMInterval * sigma
		ch.Limits = Limits{-h, 0, h}
		add = func(x []float64) []Signal { return ch.sums(x, center) }
	default:
		panic(fmt.Sprintf("chart: no such chart: %s", kind))
	}
	for k, from := range runs[:len(runs)-1] {
		for _, s := range add(x[from:runs[k+1]]) {
			s.Index, s.Since = s.Index+from, s.Since+from
			ch.Signals = append(ch.Signals, s)
		}
	}
	return ch
}

// LimitsAt returns the limits of the ith value, counting from 1; those of an
// EWMA widen after the start of every run.
func (ch *Chart) LimitsAt(i int) Limits {
	if ch.Kind != KindEWMA {
		return ch.Limits
	}
	after, _ := slices.BinarySearch(ch.runs, i) // the first run is from 0
	return ch.averageLimits(i - ch.runs[after-1])
}

func (ch *Chart) individuals(x []float64, set RuleSet) []Signal {
	ch.Values = append(ch.Values, x...)
	z := make([]float64, len(x))
	for i, v := range x {
		z[i] = Settled((v - ch.Limits.Center) / ch.Sigma)
	}
	var out []Signal
	for _, r := range Rules(set) {
		out = append(out, r.Signals(z)...)
	}
	slices.SortStableFunc(out, func(a, b Signal) int { return a.Index - b.Index })
	return out
}

func (ch *Chart) ranges(x []float64) []Signal {
	ch.Values = append(ch.Values, math.NaN())
	var out []Signal
	for i, v := range MovingRanges(x) {
		v = Settled(v)
		ch.Values = append(ch.Values, v)
		if ch.Limits.beyond(v) > 0 {
			out = append(out, Signal{BeyondLimit, i + 2, i + 2})
		}
	}
	return out
}

func (ch *Chart) averages(x []float64) []Signal {
	z := EWMA(x, ch.Limits.Center, EWMAWeight)
	ch.Values = append(ch.Values, z...)
	var out []Signal
	since, last := 0, 0.0 // where the averages came to the side they are on
	for i, v := range z {
		side := Settled(v - ch.Limits.Center)
		if side*last <= 0 {
			since = i
		}
		last = side
		if ch.averageLimits(i+1).beyond(z[i]) != 0 {
			out = append(out, Signal{BeyondLimit, i + 1, since + 1})
		}
	}
	return out
}

// averageLimits returns the limits of the nth average of a run.
func (ch *Chart) averageLimits(n int) Limits {
	return EWMALimits(ch.Limits.Center, ch.Sigma, EWMAWeight, EWMAWidth, n)
}

func (ch *Chart) sums(x []float64, target float64) []Signal {
	rising, falling := CUSUM(x, target, CUSUMAllow*ch.Sigma)
	ch.Values = append(ch.Values, rising...)
	for _, v := range falling {
		ch.Falling = append(ch.Falling, 0-v)
	}
	rises, falls := cusumRises(rising), cusumRises(falling)
	var out []Signal
	for i := range x {
		if rising[i] > ch.Limits.Upper {
			out = append(out, Signal{BeyondLimit, i + 1, rises[i] + 1})
		}
		if falling[i] > ch.Limits.Upper {
			out = append(out, Signal{BeyondLimit, i + 1, falls[i] + 1})
		}
	}
	return out
}

// Settled rounds away what binary fractions add to readings in hundredths, so
// that equal readings are equal.
func Settled(v float64) float64 { return math.Round(v*1e9) / 1e9 }
