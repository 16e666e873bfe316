package control

import (
	"sensito/sensito"
	"sensito/sensito/control/chart"
)

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
	Warnings sensito.Warnings

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

// Advice is a pattern that the charts show and what it usually means, both in words.
type Advice struct {
	Pattern, Usually string
}

// The shapes of a change.
const (
	ChangeNone  = "none"  // no chart signals
	ChangeStep  = "step"  // at once, and level since
	ChangeDrift = "drift" // steadily, by the day
)

// Level is where a quantity is now, against where it should be.
type Level struct {
	Quantity string // QuantityBaseFog and so on, or the name of a further patch
	Shape    string // ChangeNone, ChangeStep or ChangeDrift
	Since    int    // the first strip of the change, from 1; 0 for ChangeNone

	// Change is the present level less the centre, in density: of the mean
	// since a step, the end of a drift, or the mean of the last strips of the
	// run, at most five, when no chart signals.
	Change  sensito.Estimate[float64]
	PerWeek *sensito.Estimate[float64] // of a drift; nil otherwise
}

// changeLevel is the confidence at which a change counts as one.
const changeLevel = 0.95

// Direction returns 1 or -1 where the level is surely above or below the
// centre, at 95 %, and 0 otherwise.
func (l Level) Direction() int {
	low, high := l.Change.Interval(changeLevel)
	switch {
	case l.Shape == ChangeNone:
		return 0
	case low > 0:
		return 1
	case high < 0:
		return -1
	}
	return 0
}

// RunFrom returns the number of the strip at which the charts last began anew,
// 1 where they never did.
func (c *Evaluation) RunFrom() int { return c.run + 1 }

// Center returns where a charted quantity should be.
func (c *Evaluation) Center(quantity string) float64 { return c.standard(quantity).center }
