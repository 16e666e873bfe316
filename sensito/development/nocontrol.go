package development

import (
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
)

// leastElasticity is how many per cent contrast must grow for each per cent of
// time, or time is no means to choose it: at 0.15 twice the time gives 11 % more.
// By first order it is passed where development is 95 % complete (LimitShare).
// TestTimeIsNoControl holds it.
const leastElasticity = 0.15

// mostElasticity returns the upper end of the interval, 95 % and one-sided, of
// d ln y / d ln t over the times; NaN where the times are one.
func mostElasticity(t, y, sd []float64) float64 {
	if len(fit.Distinct(t)) < 2 {
		return math.NaN()
	}
	share := make([]float64, len(y))
	for i := range y {
		share[i] = sd[i] / y[i]
	}
	line := fit.TrendOfDegree(fit.Logs(t), fit.Logs(y), share, 1)
	var mean, square, weights float64
	for i := range t {
		w := 1 / (share[i] * share[i])
		mean, weights = mean+w*math.Log(t[i]), weights+w
	}
	mean /= weights
	for i := range t {
		square += math.Pow(math.Log(t[i])-mean, 2) / (share[i] * share[i])
	}
	scatter := line.Scatter
	if line.DoF == 0 {
		scatter = UncheckedScatter
	}
	return line.Coef[1] + fit.StudentT(0.90, math.Inf(1))*scatter/math.Sqrt(square)
}

// NoControl says whether a contrast that grows so with time shows that time does
// not control it: it hardly grows, and strips do not differ either, as they would
// where some were mixed up.
func NoControl(t, y, sd []float64) bool {
	low, high := slices.Min(y), slices.Max(y)
	if low <= 0 {
		return false
	}
	const most = 3 // standard deviations
	unsure := 0.0
	for i := range y {
		unsure = math.Max(unsure, most*sd[i]/y[i])
	}
	if math.Log(high/low) > leastElasticity*math.Log(slices.Max(t)/slices.Min(t))+unsure {
		return false
	}
	return mostElasticity(t, y, sd) < leastElasticity
}

// Falls says whether the interval of how contrast goes with time, 95 % and one-sided,
// lies below no change.
func Falls(t, y, sd []float64) bool { return slices.Min(y) > 0 && mostElasticity(t, y, sd) < 0 }

// slowestLack is by how much chi squared of growth that slows down may exceed that of
// first order before the strips are taken to exclude it: two standard deviations.
// TestBlindSlowingGrowth holds it.
const slowestLack = 4

// Slowing is growth that slows down without end in sight, t / (A + B t) at a time t: so
// developers may go on for long after first order has ended.
type Slowing struct{ A, B float64 }

// FitSlowing returns that through values y of standard deviations sd; ok is false where
// the strips exclude it. The chi squared of growth of first order is given.
func FitSlowing(t, y, sd []float64, firstOrder float64) (s Slowing, ok bool) {
	if len(fit.Distinct(t)) < 2 || slices.Min(y) <= 0 {
		return s, false
	}
	ratio, unsure := make([]float64, len(t)), make([]float64, len(t))
	for i := range t {
		ratio[i], unsure[i] = t[i]/y[i], t[i]*sd[i]/(y[i]*y[i])
	}
	line := fit.TrendOfDegree(t, ratio, unsure, 1)
	s = Slowing{line.At(0), math.Max(line.Coef[1], 0)}
	chiSquared := 0.0
	for i := range t {
		chiSquared += math.Pow((y[i]-s.At(t[i]))/sd[i], 2)
	}
	return s, s.A > 0 && chiSquared < firstOrder+slowestLack
}

// At returns the value at a time.
func (s Slowing) At(t float64) float64 { return t / (s.A + s.B*t) }

// End returns the value that it comes near to, +Inf where it does not slow down.
func (s Slowing) End() float64 { return 1 / s.B }

// SpanText says between what values something lies, or that it stays at one.
func SpanText(low, high float64) string {
	if fmt.Sprintf("%.2f", low) == fmt.Sprintf("%.2f", high) {
		return fmt.Sprintf("stays at %.2f", low)
	}
	return fmt.Sprintf("only lies between %.2f and %.2f", low, high)
}

// OtherControls is what changes contrast where time does not.
const OtherControls = "dilution, temperature or agitation change contrast: test strips with one of them changed"

// NoGrowth says that what the strips show does not grow with time.
func NoGrowth(t, y []float64) error {
	shortest := sensito.Minutes(slices.Min(t))
	return &sensito.Unanswerable{
		Reason: fmt.Sprintf("the strips do not show contrast grow with time: at times from %s to %s it lies between %.2f and %.2f, the longer times not above the shorter",
			shortest.Clock(1), sensito.Minutes(slices.Max(t)).Clock(1), slices.Min(y), slices.Max(y)),
		Hint: fmt.Sprintf("check which time belongs to which strip; if they are right, develop a strip for %s, or change something else: %s", (shortest / 2).Clock(5), OtherControls),
	}
}

// LimitShare is the part of the final contrast beyond which no time is
// recommended: there time does little, and the law is least certain.
const LimitShare = 0.95
