package control

import (
	"fmt"
	"math"

	"sensito/sensito"
	"sensito/sensito/control/chart"
	"sensito/sensito/development"

	"gonum.org/v1/gonum/stat"
)

// How many strips limits may rest on. Eight are few: their scatter is uncertain
// by a third (see rangeEfficiency).
const (
	LeastBaseline = 8
	usualBaseline = 12
	goodBaseline  = 20
)

// Options say how a log is judged. The zero value is the recommended run.
type Options struct {
	// Baseline is the number of strips, from the first, that limits rest on
	// where the log does not state them. 0 means those marked as baseline, or
	// else the first 12; of a log that is not yet as long, all.
	Baseline int

	Rules chart.RuleSet // for single values; "" means chart.LimitsAlone
	Kinds []chart.Kind  // nil means all

	// Family tells what a change means in stops and in time; nil leaves that to
	// the log's own gradient.
	Family *development.Family
}

// Evaluation is a log with its charts and what they say.
type Evaluation struct {
	Log      *Log
	Rules    chart.RuleSet
	Baseline Baseline
	Charts   []Chart // by quantity, then by kind

	// First is the earliest signal since the process was last set right, nil
	// when there is none. Moving ranges do not count for it: they pass their
	// limit about once in a hundred strips of a steady process, and show little
	// that single values do not.
	First *Signal

	Levels []Level // where each quantity is now

	// What the change means, each part apart from the others; nil when that
	// cannot be told.
	TimePercent *sensito.Estimate[float64] // by which to develop longer to come back to the contrast of the aim
	SpeedStops  *sensito.Estimate[float64] // of speed at net density 0.10 that the film has gained beside it; negative is a loss
	Fog         *sensito.Estimate[float64] // density that base plus fog has gained beside it

	// SpeedUnchanged is the stops by which speed at net density 0.10 has changed
	// where the time is not corrected: SpeedStops and what the rate does.
	SpeedUnchanged *sensito.Estimate[float64]

	Advice   []Advice
	Warnings []sensito.Warning

	kinds      []chart.Kind
	tolerances Tolerances // stated, or by the repeatability
	run        int        // where the present run begins, from 0
}

// Baseline says where centre lines and limits come from.
type Baseline struct {
	Center string // "aim", "reference" or "baseline"
	Limits string // "given", "repeatability", "baseline", or "given and" one of the latter two
	From   string // which strips are the baseline: "marked", "first", or "" when none is needed
	Strips []int  // their numbers, from 1

	Repeatability sensito.Density // of a patch, where limits rest on it; 0 otherwise
}

// usualRepeatability is taken for a log with an aim that states none and has too
// few strips to show theirs: that of a densitometer which reads to 0.01, whose
// standard deviation is taken to be known to a quarter (common practice, no
// source).
const (
	usualRepeatability = 0.01
	usualDoF           = 8
)

// Evaluate charts the log and says whether the process is where it was. With an
// aim it does from the first strip. Without one the error is Unanswerable when
// there are too few strips for a baseline; it is a plain one for rules that are
// not known.
func (l *Log) Evaluate(o Options) (*Evaluation, error) {
	if o.Rules == "" {
		o.Rules = chart.LimitsAlone
	}
	if chart.Rules(o.Rules) == nil {
		return nil, fmt.Errorf("%q is not a set of rules", o.Rules)
	}
	if o.Kinds == nil {
		o.Kinds = chart.Kinds
	}
	runs := l.runs()
	c := &Evaluation{Log: l, Rules: o.Rules, kinds: o.Kinds, Warnings: []sensito.Warning{}, Advice: []Advice{}, run: runs[len(runs)-2]}
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
func (c *Evaluation) setBaseline(first int) error {
	l, b := c.Log, &c.Baseline
	c.tolerances = l.spec.Tolerances
	given := 0
	for _, q := range l.Quantities() {
		if l.spec.Tolerances.of(q) > 0 {
			given++
		}
	}
	limits := "baseline"
	if c.setRepeatability(first); b.Repeatability > 0 {
		limits = "repeatability"
	}
	switch given {
	case 0:
		b.Limits = limits
	case len(l.Quantities()):
		b.Limits, b.Repeatability = "given", 0
	default:
		b.Limits = "given and " + limits
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
	if b.Repeatability == usualRepeatability && l.spec.Repeatability == 0 {
		c.warn("usual_repeatability", "limits rest on a usual repeatability of %g, since the log states none and has fewer than %d strips to show their own: state repeatability in the log, or [limits]", usualRepeatability, LeastBaseline)
	}
	fromStrips := b.Limits == "baseline" || b.Limits == "given and baseline"
	if !fromStrips && b.Center != "baseline" {
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
	case fromStrips && n < goodBaseline:
		c.warn("few_baseline_strips", "limits rest on %d strips, whose scatter is uncertain by %.0f %%; a baseline of %d or more, or stated limits, give fewer false signals",
			n, 100/math.Sqrt(2*rangeDoF(n-1)), goodBaseline)
	}
	return nil
}

// setRepeatability fills the limits that the log does not state by its
// repeatability, or by the usual one where there is no other way to answer; first
// is the baseline asked for.
func (c *Evaluation) setRepeatability(first int) {
	l := c.Log
	r := l.spec.Repeatability
	if few := len(l.spec.Strips) < LeastBaseline; r == 0 && l.spec.Aim != nil && few && first == 0 {
		r = usualRepeatability
	}
	if c.Baseline.Repeatability = r; r == 0 {
		return
	}
	or := func(stated, sd sensito.Density) sensito.Density {
		if stated > 0 {
			return stated
		}
		return 3 * sd
	}
	t := &c.tolerances
	t.BaseFog, t.Low, t.Difference = or(t.BaseFog, r), or(t.Low, r), or(t.Difference, math.Sqrt2*r)
	others := map[string]sensito.Density{}
	for _, name := range l.others {
		others[name] = or(t.Others[name], r)
	}
	t.Others = others
}

func (c *Evaluation) chooseBaseline(first int) error {
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
			return &sensito.Unanswerable{
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
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("limits from the strips need a baseline of %d or more; this log has %d", LeastBaseline, len(b.Strips)),
			Hint:   fmt.Sprintf("%s %d more, or state [aim] and repeatability in the log", do, short),
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

func (c *Evaluation) standard(quantity string) standard {
	l := c.Log
	x := l.series(quantity)
	s := standard{quantity: quantity, dof: math.Inf(1)}
	if t := c.tolerances.of(quantity); t > 0 {
		if s.sigma = t / 3; l.spec.Repeatability == 0 && l.spec.Tolerances.of(quantity) == 0 {
			s.dof = usualDoF
		}
	} else {
		ranges := l.baselineRanges(x, c.Baseline.Strips)
		s.sigma, s.dof = chart.RangeSigma(ranges), rangeDoF(len(ranges))
		if !(s.sigma >= leastSigma) { // also where no two baseline strips are neighbours
			s.sigma, s.coarse = leastSigma, true
		}
	}
	if l.spec.Aim != nil {
		if s.center = l.spec.Aim.of(quantity); l.spec.AimStrips > 0 {
			s.centerSD = s.sigma / math.Sqrt(float64(l.spec.AimStrips))
		}
		return s
	}
	var base []float64
	for _, i := range c.Baseline.Strips {
		base = append(base, x[i-1])
	}
	s.center, s.centerSD = stat.Mean(base, nil), s.sigma/math.Sqrt(float64(len(base)))
	return s
}

// RunFrom returns the number of the strip at which the charts last began anew,
// 1 where they never did.
func (c *Evaluation) RunFrom() int { return c.run + 1 }

// Center returns where a charted quantity should be.
func (c *Evaluation) Center(quantity string) float64 { return c.standard(quantity).center }

// baselineRanges returns the moving ranges of strips that follow each other in
// the baseline and are not parted by a fresh start.
func (l *Log) baselineRanges(x []float64, strips []int) []float64 {
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
func (c *Evaluation) signalled(quantity string) bool {
	var charts []Chart
	for _, ch := range c.Charts {
		if ch.Quantity == quantity {
			charts = append(charts, ch)
		}
	}
	return firstSignal(charts, c.run) != nil
}

func (c *Evaluation) warn(code, format string, args ...any) {
	c.Warnings = append(c.Warnings, sensito.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
