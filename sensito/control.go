package sensito

import (
	"fmt"
	"math"
)

// The designs of the charts for slow drift, in standard deviations of a single
// strip. Both let a steady process run for nearly 500 strips on average, and
// call a shift of one standard deviation after ten (run lengths by R package
// spc 0.6.7, which TestRunLengths checks).
const (
	EWMAWeight    = 0.2
	EWMAWidth     = 2.962
	CUSUMAllow    = 0.5
	CUSUMInterval = 5
)

// How many strips limits may rest on. Eight are few: their scatter is uncertain
// by a third (see rangeEfficiency).
const (
	LeastBaseline = 8
	usualBaseline = 12
	goodBaseline  = 20
)

// ControlOptions say how a log is judged. The zero value is the recommended run.
type ControlOptions struct {
	// Baseline is the number of strips, from the first, that limits rest on
	// where the log does not state them. 0 means those marked as baseline, or
	// else the first 12; of a log that is not yet as long, all.
	Baseline int

	Rules RuleSet     // for single values; "" means RulesLimits
	Kinds []ChartKind // nil means all

	// Family tells what a change means in stops and in time; nil leaves that to
	// the log's own gradient.
	Family *Family
}

// Control is a log with its charts and what they say.
type Control struct {
	Log      *ControlLog
	Rules    RuleSet
	Baseline ControlBaseline
	Charts   []ControlChart // by quantity, then by kind

	// First is the earliest signal since the process was last set right, nil
	// when there is none. Moving ranges do not count for it: they pass their
	// limit about once in a hundred strips of a steady process, and show little
	// that single values do not.
	First *ControlSignal

	Levels []ControlLevel // where each quantity is now

	// What the change means; nil when that cannot be told.
	SpeedStops  *Estimate[float64] // negative is a loss
	TimePercent *Estimate[float64] // by which to develop longer to come back to the aim

	Advice   []ControlAdvice
	Warnings []Warning

	kinds []ChartKind
	run   int // where the present run begins, from 0
}

// ControlBaseline says where centre lines and limits come from.
type ControlBaseline struct {
	Center string // "aim", "reference" or "baseline"
	Limits string // "given", "baseline" or "given and baseline"
	From   string // which strips are the baseline: "marked", "first", or "" when none is needed
	Strips []int  // their numbers, from 1
}

// Evaluate charts the log and says whether the process is where it was. The
// error is Unanswerable when limits must come from the strips and there are too
// few, and a plain one for rules that are not known.
func (l *ControlLog) Evaluate(o ControlOptions) (*Control, error) {
	if o.Rules == "" {
		o.Rules = RulesLimits
	}
	if Rules(o.Rules) == nil {
		return nil, fmt.Errorf("%q is not a set of rules", o.Rules)
	}
	if o.Kinds == nil {
		o.Kinds = ChartKinds
	}
	runs := l.runs()
	c := &Control{Log: l, Rules: o.Rules, kinds: o.Kinds, Warnings: []Warning{}, Advice: []ControlAdvice{}, run: runs[len(runs)-2]}
	if err := c.setBaseline(o.Baseline); err != nil {
		return nil, err
	}
	for _, q := range l.Quantities() {
		s := c.standard(q)
		if s.coarse {
			c.warn("coarse_readings", "%s: the baseline varies less than a densitometer reads, so its limits are set to %.3f on both sides; state them in [limits]", q, 3*leastSigma)
		}
		for _, kind := range o.Kinds {
			c.Charts = append(c.Charts, newControlChart(kind, s, l.series(q), runs, o.Rules))
		}
	}
	c.First = firstSignal(c.Charts, c.run)
	for _, q := range l.Quantities() {
		c.Levels = append(c.Levels, c.level(q, c.signalled(q)))
	}
	c.watchBaseline()
	c.meaning(o.Family)
	c.advise()
	return c, nil
}

// setBaseline says where centre and limits come from and chooses the strips
// that they rest on, where any are needed. The choice never follows from what
// the strips read.
func (c *Control) setBaseline(first int) error {
	l, b := c.Log, &c.Baseline
	given := 0
	for _, q := range l.Quantities() {
		if l.spec.Tolerances.of(q) > 0 {
			given++
		}
	}
	switch given {
	case 0:
		b.Limits = "baseline"
	case len(l.Quantities()):
		b.Limits = "given"
	default:
		b.Limits = "given and baseline"
	}
	switch {
	case l.spec.Aim == nil:
		b.Center = "baseline"
	case l.spec.Reference:
		b.Center = "reference"
		c.warn("one_reference_strip", "the centre is one reference strip, and its own error shifts every chart, so that a drift may be called where there is none; read several strips and give their mean as the aim")
	default:
		b.Center = "aim"
	}
	if b.Limits == "given" && b.Center != "baseline" {
		if first > 0 {
			c.warn("baseline_not_needed", "the log states aim and limits, so that no baseline is used")
		}
		return nil
	}
	if err := c.chooseBaseline(first); err != nil {
		return err
	}
	switch n := len(b.Strips); {
	case first == 0 && b.From == "first" && n < usualBaseline:
		c.warn("limits_move", "all %d strips are the baseline, so the limits still move with every strip, and would follow a drift; they stand from the %dth strip on", n, usualBaseline)
	case n < goodBaseline:
		c.warn("few_baseline_strips", "limits rest on %d strips, whose scatter is uncertain by %.0f %%; a baseline of %d or more, or stated limits, give fewer false signals",
			n, 100/math.Sqrt(2*rangeDoF(n-1)), goodBaseline)
	}
	return nil
}

func (c *Control) chooseBaseline(first int) error {
	strips, b := c.Log.spec.Strips, &c.Baseline
	for i, s := range strips {
		if s.Baseline && first == 0 {
			b.From, b.Strips = "marked", append(b.Strips, i+1)
		}
	}
	if b.From == "" {
		b.From = "first"
		n := first
		if n == 0 {
			n = min(usualBaseline, len(strips))
		}
		if short := n - len(strips); short > 0 {
			return &Unanswerable{
				Reason: fmt.Sprintf("a baseline of %d strips was asked for, and the log has %d", n, len(strips)),
				Hint:   fmt.Sprintf("develop %d more, or take a shorter baseline", short),
			}
		}
		for i := range n {
			b.Strips = append(b.Strips, i+1)
		}
	}
	if short := LeastBaseline - len(b.Strips); short > 0 {
		do := map[string]string{"marked": "mark", "first": "develop"}[b.From]
		return &Unanswerable{
			Reason: fmt.Sprintf("limits from the strips need a baseline of %d or more; this log has %d", LeastBaseline, len(b.Strips)),
			Hint:   fmt.Sprintf("%s %d more, or state [aim] and [limits] in the log", do, short),
		}
	}
	return nil
}

// rangeEfficiency is how much of its degrees of freedom the mean of moving
// ranges keeps (Cryer and Ryan, J. Quality Technology 22, 187, 1990; from memory).
const rangeEfficiency = 0.605

// rangeDoF returns the degrees of freedom behind the mean of so many ranges.
func rangeDoF(ranges int) float64 { return math.Max(1, rangeEfficiency*float64(ranges)) }

// standard is where a quantity should be and how it scatters.
type standard struct {
	quantity      string
	center, sigma float64
	centerSD, dof float64 // of the centre; behind sigma
	coarse        bool    // sigma is the least one
}

// leastSigma is the least standard deviation that limits are made from: with it,
// a change of one step of a densitometer that reads to 0.01 passes no limit,
// wherever the centre lies between two steps.
const leastSigma = 0.02 / 3

func (c *Control) standard(quantity string) standard {
	l := c.Log
	x := l.series(quantity)
	s := standard{quantity: quantity, dof: math.Inf(1)}
	if t := l.spec.Tolerances.of(quantity); t > 0 {
		s.sigma = t / 3
	} else {
		ranges := l.baselineRanges(x, c.Baseline.Strips)
		s.sigma, s.dof = RangeSigma(ranges), rangeDoF(len(ranges))
		if !(s.sigma >= leastSigma) { // also where no two baseline strips are neighbours
			s.sigma, s.coarse = leastSigma, true
		}
	}
	if l.spec.Aim != nil {
		if s.center = l.spec.Aim.of(quantity); l.spec.Reference {
			s.centerSD = s.sigma
		}
		return s
	}
	var base []float64
	for _, i := range c.Baseline.Strips {
		base = append(base, x[i-1])
	}
	s.center, s.centerSD = mean(base), s.sigma/math.Sqrt(float64(len(base)))
	return s
}

// RunFrom returns the number of the strip at which the charts last began anew,
// 1 where they never did.
func (c *Control) RunFrom() int { return c.run + 1 }

// Center returns where a charted quantity should be.
func (c *Control) Center(quantity string) float64 { return c.standard(quantity).center }

// baselineRanges returns the moving ranges of strips that follow each other in
// the baseline and are not parted by a fresh start.
func (l *ControlLog) baselineRanges(x []float64, strips []int) []float64 {
	var out []float64
	for k := 1; k < len(strips); k++ {
		i := strips[k] - 1
		if strips[k-1] == i && !l.spec.Strips[i].Fresh {
			out = append(out, math.Abs(x[i]-x[i-1]))
		}
	}
	return out
}

// signalled says whether a chart of the quantity speaks in the present run.
func (c *Control) signalled(quantity string) bool {
	var charts []ControlChart
	for _, ch := range c.Charts {
		if ch.Quantity == quantity {
			charts = append(charts, ch)
		}
	}
	return firstSignal(charts, c.run) != nil
}

func (c *Control) warn(code, format string, args ...any) {
	c.Warnings = append(c.Warnings, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
