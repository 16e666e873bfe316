package control

import "sensito/sensito/control/chart"

// Chart is one chart of one quantity, which is that of Level; its values have one
// entry a strip.
type Chart struct {
	Quantity string
	chart.Chart
}

// Signal is a signal with the quantity and the kind of its chart.
type Signal struct {
	Quantity string
	Kind     chart.Kind
	chart.Signal
}

// standard is where a quantity should be and how it scatters.
type standard struct {
	quantity      string
	center, sigma float64
	centerSD, dof float64 // of the centre; behind sigma
	coarse        bool    // sigma is the least one
}

// newControlChart charts x; each run of it begins anew.
func newControlChart(kind chart.Kind, s standard, x []float64, runs []int, set chart.RuleSet) Chart {
	return Chart{Quantity: s.quantity, Chart: chart.New(kind, s.center, s.sigma, x, runs, set)}
}

// firstSignal returns the earliest signal after a place, moving ranges aside. Of
// several on one strip it is that of the chart that best tells when the change
// began: a CUSUM, then single strips.
func firstSignal(charts []Chart, after int) *Signal {
	rank := map[chart.Kind]int{chart.KindCUSUM: 1, chart.KindIndividuals: 2, chart.KindEWMA: 3}
	var first *Signal
	for _, ch := range charts {
		if rank[ch.Kind] == 0 {
			continue
		}
		for _, s := range ch.Signals {
			sooner := first == nil || s.Index < first.Index || s.Index == first.Index && rank[ch.Kind] < rank[first.Kind]
			if s.Index > after && sooner {
				first = &Signal{ch.Quantity, ch.Kind, s}
			}
		}
	}
	return first
}
