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

// Slowest returns when growth that slows down without end in sight, t / (a + b t) at a
// time t, reaches an aim, and where it ends: so developers may go on for long after first
// order has ended. What is reached after the time until counts as never, +Inf, and what is
// there as the end. It is +Inf and 0 where the values y of standard deviations sd exclude
// such growth; the chi squared of growth of first order through them is given.
func Slowest(t, y, sd []float64, firstOrder, aim, until float64) (reached, end float64) {
	if len(fit.Distinct(t)) < 2 || slices.Min(y) <= 0 {
		return math.Inf(1), 0
	}
	ratio, unsure := make([]float64, len(t)), make([]float64, len(t))
	for i := range t {
		ratio[i], unsure[i] = t[i]/y[i], t[i]*sd[i]/(y[i]*y[i])
	}
	line := fit.TrendOfDegree(t, ratio, unsure, 1)
	a, b := line.At(0), math.Max(line.Coef[1], 0)
	at := func(t float64) float64 { return t / (a + b*t) }
	chiSquared := 0.0
	for i := range t {
		chiSquared += math.Pow((y[i]-at(t[i]))/sd[i], 2)
	}
	switch {
	case a <= 0 || chiSquared > firstOrder+slowestLack:
		return math.Inf(1), 0
	case at(until) < aim:
		return math.Inf(1), at(until)
	}
	return a * aim / (1 - b*aim), 1 / b
}

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

// Shouldered says that what the strips show does not grow with time, since the lightest tone
// lies on the shoulder of the film; flare lifts the darkest tone by lift.
func Shouldered(what string, t, y []float64, lift sensito.LogRange) error {
	hint := "film that steep holds a short scene: ask for a shorter one"
	if lift > 0.05 {
		hint += fmt.Sprintf(", with the flare that it really has: what is assumed lifts the darkest tone by %.2f log H", float64(lift))
	}
	return &sensito.Unanswerable{
		Reason: fmt.Sprintf("%s does not grow with time: at times from %s to %s it %s, for the lightest tone lies on the shoulder of the film",
			what, sensito.Minutes(slices.Min(t)).Clock(1), sensito.Minutes(slices.Max(t)).Clock(1), SpanText(slices.Min(y), slices.Max(y))),
		Hint: hint,
	}
}

// LimitShare is the part of the final contrast beyond which no time is
// recommended: there time does little, and the law is least certain.
const LimitShare = 0.95
