package control

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"sensito/sensito"
	"sensito/sensito/control/chart"
)

// How many strips limits may rest on. Eight are few: their scatter is uncertain
// by a third (see rangeEfficiency).
const (
	LeastBaseline = 8
	usualBaseline = 12
	goodBaseline  = 20
)

// usualRepeatability is taken for a log with an aim that states none and has too
// few strips to show theirs: that of a densitometer which reads to 0.01, whose
// standard deviation is taken to be known to a quarter (common practice, no
// source).
const (
	usualRepeatability = 0.01
	usualDoF           = 8
)

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
		c.Warnings.Add("one_reference_strip")
	default:
		b.Center = "aim"
	}
	if b.Repeatability == usualRepeatability && l.spec.Repeatability == 0 {
		c.Warnings.Add("usual_repeatability", usualRepeatability, LeastBaseline)
	}
	fromStrips := b.Limits == "baseline" || b.Limits == "given and baseline"
	if !fromStrips && b.Center != "baseline" {
		if first > 0 {
			c.Warnings.Add("baseline_not_needed")
		}
		return nil
	}
	if err := c.chooseBaseline(first); err != nil {
		return err
	}
	switch n := len(b.Strips); {
	case first == 0 && b.From == "first" && n < usualBaseline:
		c.Warnings.Add("limits_move", n, usualBaseline)
	case fromStrips && n < goodBaseline:
		c.Warnings.Add("few_baseline_strips", n, 100/math.Sqrt(2*rangeDoF(n-1)), goodBaseline)
	}
	return nil
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

// rangeEfficiency is how much of its degrees of freedom the mean of moving
// ranges keeps (Cryer and Ryan, J. Quality Technology 22, 187, 1990; from memory).
const rangeEfficiency = 0.605

// rangeDoF returns the degrees of freedom behind the mean of so many ranges.
func rangeDoF(ranges int) float64 { return math.Max(1, rangeEfficiency*float64(ranges)) }

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
