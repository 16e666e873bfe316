package control

import (
	"fmt"

	"sensito/sensito"
	"sensito/sensito/control/chart"
	"sensito/sensito/development"
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

// Evaluate charts the log and says whether the process is in control. With an
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
	c := &Evaluation{Log: l, Rules: o.Rules, kinds: o.Kinds, Warnings: sensito.Warnings{}, Advice: []Advice{}, run: runs[len(runs)-2]}
	if err := c.setBaseline(o.Baseline); err != nil {
		return nil, err
	}
	for _, q := range l.Quantities() {
		s := c.standard(q)
		if s.coarse {
			c.Warnings.Add("coarse_readings", Spoken(q), 3*leastSigma)
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
