package chart

import "math"

// RuleSet names the tests that are applied to a chart of single values.
type RuleSet string

// The published sets.
const (
	LimitsAlone     RuleSet = "limits"           // the three-sigma limits alone (Shewhart 1931)
	WesternElectric RuleSet = "western-electric" // four tests
	Nelson          RuleSet = "nelson"           // eight tests
)

// RuleSets are the names in the order of their number of tests.
var RuleSets = []RuleSet{LimitsAlone, WesternElectric, Nelson}

// A Rule is one published test of the order of values.
type Rule struct {
	Name    string // such as "nelson_3"
	Meaning string // in words

	// since returns where the pattern that the last value completes began, or
	// -1 when there is none.
	since func(z []float64) int
}

// BeyondLimit is the name of the plain test of a chart: a value outside its
// limits, or a sum of a CUSUM beyond its decision interval.
const BeyondLimit = "beyond_limit"

// Rules returns the tests of a set: Western Electric, Statistical Quality
// Control Handbook, 1956, as listed in NIST/SEMATECH e-Handbook 6.3.2, and
// Nelson, J. Quality Technology 16, 237, 1984. They differ: eight in a row on
// one side (Western Electric) against nine (Nelson). Comparisons are strict,
// and where so many of so many must lie in a zone, the last must. It returns
// nil for a set that is not known.
func Rules(set RuleSet) []Rule {
	switch set {
	case LimitsAlone:
		return []Rule{{BeyondLimit, "beyond three sigma", zone(1, 1, 3)}}
	case WesternElectric:
		return []Rule{
			{"western_electric_1", "one beyond three sigma", zone(1, 1, 3)},
			{"western_electric_2", "two of three beyond two sigma on one side", zone(2, 3, 2)},
			{"western_electric_3", "four of five beyond one sigma on one side", zone(4, 5, 1)},
			{"western_electric_4", "eight in a row on one side of the centre", zone(8, 8, 0)},
		}
	case Nelson:
		return []Rule{
			{"nelson_1", "one beyond three sigma", zone(1, 1, 3)},
			{"nelson_2", "nine in a row on one side of the centre", zone(9, 9, 0)},
			{"nelson_3", "six in a row rising or falling", steady(6)},
			{"nelson_4", "fourteen in a row up and down by turns", turning(14)},
			{"nelson_5", "two of three beyond two sigma on one side", zone(2, 3, 2)},
			{"nelson_6", "four of five beyond one sigma on one side", zone(4, 5, 1)},
			{"nelson_7", "fifteen in a row within one sigma", alike(15, func(z float64) bool { return z < 1 })},
			{"nelson_8", "eight in a row beyond one sigma on either side", alike(8, func(z float64) bool { return z > 1 })},
		}
	}
	return nil
}

// MeaningOf returns in words what a rule of any set tests, "" for a name that
// is not known.
func MeaningOf(rule string) string {
	for _, set := range RuleSets {
		for _, r := range Rules(set) {
			if r.Name == rule {
				return r.Meaning
			}
		}
	}
	return ""
}

// Signals returns where the values z, in standard deviations from the centre,
// complete the rule's pattern, and where each pattern began; both count from 1.
func (r Rule) Signals(z []float64) []Signal {
	var out []Signal
	for i := range z {
		if since := r.since(z[:i+1]); since >= 0 {
			out = append(out, Signal{Rule: r.Name, Index: i + 1, Since: since + 1})
		}
	}
	return out
}

// zone is the test for m of n beyond a number of sigmas on the side of the last
// value. The pattern begins with the first of them.
func zone(m, n int, sigmas float64) func([]float64) int {
	return func(z []float64) int {
		side := math.Copysign(1, z[len(z)-1])
		if side*z[len(z)-1] <= sigmas {
			return -1
		}
		first, found := 0, 0
		for i := len(z) - 1; i >= max(0, len(z)-n); i-- {
			if side*z[i] > sigmas {
				first = i
				found++
			}
		}
		if found < m {
			return -1
		}
		return first
	}
}

// alike is the test for n in a row whose distance from the centre is in a zone.
func alike(n int, in func(distance float64) bool) func([]float64) int {
	return func(z []float64) int {
		first := len(z) - n
		if first < 0 {
			return -1
		}
		for _, v := range z[first:] {
			if !in(math.Abs(v)) {
				return -1
			}
		}
		return first
	}
}

// steady is the test for n in a row that rise or fall all the way.
func steady(n int) func([]float64) int {
	return stepwise(n, func(step, last float64) bool { return step*last > 0 })
}

// turning is the test for n in a row that rise and fall by turns.
func turning(n int) func([]float64) int {
	return stepwise(n, func(step, last float64) bool { return step*last < 0 })
}

// stepwise is the test for n in a row of which each step goes on as it should
// from the step before.
func stepwise(n int, on func(step, last float64) bool) func([]float64) int {
	return func(z []float64) int {
		first := len(z) - n
		if first < 0 {
			return -1
		}
		for i := first + 2; i < len(z); i++ {
			if !on(z[i]-z[i-1], z[i-1]-z[i-2]) {
				return -1
			}
		}
		return first
	}
}
