package scene

import (
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/development"
)

// Today is how film is developed today, where that is not as in the trial. The
// zero value is as in the trial.
type Today struct {
	Conditions development.Conditions // of the bath

	// Control is a log of control strips of the film and developer, which tells how
	// far the process is from the trial's; nil without one. With Correct times and
	// speeds are corrected for it.
	Control *control.Log
	Correct bool
}

// Adjustment is what today makes of the times and speeds of a family. Nil leaves
// them as they are.
type Adjustment struct {
	Change  *development.Change // nil under the conditions of the trial
	Drift   *Drift              // nil without a control log
	Correct bool                // by it, as Today has it; see Corrects
}

// For returns what today makes of a family's times and speeds, nil where it is as
// in the trial. The error is that of Family.Under and NewDrift, or Unanswerable
// where a correction is wanted and the log does not tell it.
func (t Today) For(f *development.Family) (*Adjustment, error) {
	if !t.Conditions.Changed() && t.Control == nil {
		return nil, nil
	}
	a := &Adjustment{Correct: t.Correct}
	var err error
	if t.Conditions.Changed() {
		if a.Change, err = f.Under(t.Conditions); err != nil {
			return nil, err
		}
	}
	if t.Control != nil {
		if a.Drift, err = NewDrift(f, t.Control); err != nil {
			return nil, err
		}
		if t.Correct {
			if err := a.Drift.Correctable(); err != nil {
				return nil, err
			}
		}
	}
	return a, nil
}

// Under returns how the conditions differ from the trial's, nil where they do not.
func (a *Adjustment) Under() *development.Change {
	if a == nil {
		return nil
	}
	return a.Change
}

// Corrects says whether times and speeds are corrected by the control log.
func (a *Adjustment) Corrects() bool {
	return a != nil && a.Correct && a.Drift != nil && !a.Drift.InControl
}

// Minutes returns a development time of the trial as it is today, with the errors
// of what today changes added as though they were independent. Nil stays nil.
func (a *Adjustment) Minutes(e *sensito.Estimate[sensito.Minutes]) *sensito.Estimate[sensito.Minutes] {
	return a.corrected(a.changed(e))
}

// changed is Minutes before the correction by the control log.
func (a *Adjustment) changed(e *sensito.Estimate[sensito.Minutes]) *sensito.Estimate[sensito.Minutes] {
	if a == nil || a.Change == nil {
		return e
	}
	return a.Change.Minutes(e)
}

func (a *Adjustment) corrected(e *sensito.Estimate[sensito.Minutes]) *sensito.Estimate[sensito.Minutes] {
	if !a.Corrects() {
		return e
	}
	return a.Drift.Minutes(e)
}

// Speed returns a speed or an exposure index at a time of the trial as it is at
// that of Minutes today: conditions leave it, since the film is brought to the
// same contrast. Nil stays nil.
func (a *Adjustment) Speed(e *sensito.Estimate[sensito.Speed]) *sensito.Estimate[sensito.Speed] {
	if !a.Corrects() {
		return e
	}
	return a.Drift.Speed(e)
}

// Unsure returns the standard deviations of the logarithm that today's conditions,
// and the correction by a control log, leave in a time, or in an index: what no
// strip of the trial's own process narrows.
func (a *Adjustment) Unsure(index bool) (conditions, process float64) {
	if a == nil {
		return 0, 0
	}
	if a.Change != nil && !index {
		conditions = timeUnder(a.Change).lnSD
	}
	if a.Corrects() {
		switch {
		case !index:
			process = a.Drift.time().lnSD
		case a.Drift.SpeedStops != nil:
			process = math.Ln2 * a.Drift.SpeedStops.StdErr
		}
	}
	return conditions, process
}

// ofTrial returns warnings with those marked that name times of the trial.
func ofTrial(all sensito.Warnings) sensito.Warnings {
	const mark = "in times of the trial"
	out := slices.Clone(all)
	for i, w := range out {
		if (w.Code == "extrapolated" || w.Code == "other_paper" || w.Code == "other_index") && w.Of != mark {
			out[i] = w.Within(mark)
		}
	}
	return out
}

// timeUnder returns how well the time under the conditions is known by the factor.
func timeUnder(ch *development.Change) todaysTime {
	return todaysTime{ch.Factor.StdErr / ch.Factor.Value, ch.Factor.DoF}
}
