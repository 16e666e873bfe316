package scene

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// atAim is what strips measured of a change of conditions, by its parts, for the density rise over the scene, with the time
// of the plan.
func (p *Plan) atAim(conditions []sensito.Condition) (fit.Derived, error) {
	d, _, err := p.parts.Of(conditions, func() (fit.Derived, float64, error) {
		tb := p.tableOf(p.Family.With(conditions...))
		fog := p.Family.Fog.Degree()
		inflate := map[int]float64{SceneRise: p.Growth.Scatter, curve.ColumnSpeedPoint: p.Family.SpeedPoints.Scatter}
		d, err := tb.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
			g, err := tb.Grow(SceneRise, rows, p.Growth.Model)
			if err != nil {
				return nil, err
			}
			law := tb.Trend(curve.ColumnFog, rows, math.Log, fog)
			t, _, err := p.Scene.TimeFor(g.Time, func(m float64) float64 { return law.At(math.Log(m)) }, p.Aim)
			if err != nil {
				return nil, err
			}
			return tb.Parts(rows, SceneRise, g, math.Log(t), conditions)
		})
		return d, tb.DoF, err
	})
	return d, err
}

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
	Ageing  *Ageing             // nil without a control log
	Correct bool                // by it
}

// For returns what today makes of a family's times and speeds, nil where it is as
// in the trial. The error is that of Family.Under and NewAgeing, or Unanswerable
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
		if a.Ageing, err = NewAgeing(f, t.Control); err != nil {
			return nil, err
		}
		if t.Correct {
			if err := a.Ageing.Correctable(); err != nil {
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
	return a != nil && a.Correct && a.Ageing != nil && !a.Ageing.InControl
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
	return a.Ageing.Minutes(e)
}

// Speed returns a speed or an exposure index at a time of the trial as it is at
// that of Minutes today: conditions leave it, since the film is brought to the
// same contrast. Nil stays nil.
func (a *Adjustment) Speed(e *sensito.Estimate[sensito.Speed]) *sensito.Estimate[sensito.Speed] {
	if !a.Corrects() {
		return e
	}
	return a.Ageing.Speed(e)
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
			process = a.Ageing.time().lnSD
		case a.Ageing.SpeedStops != nil:
			process = math.Ln2 * a.Ageing.SpeedStops.StdErr
		}
	}
	return conditions, process
}

// Plan brings a plan of the trial to today. What strips measured of a change of
// conditions is taken together with the law that gives the time, since both rest
// on the same strips. What else the plan holds is as in the trial: the film is
// brought to the same contrast. Extrapolated tells of the time of the trial.
func (a *Adjustment) Plan(p *Plan) (*Plan, error) {
	if a == nil {
		return p, nil
	}
	out := *p
	out.Today = a
	if ch := a.Change; ch != nil {
		ln, sd := math.Log(p.Base.Minutes), p.Base.Total
		if ch.Measured() {
			d, err := p.atAim(ch.MeasuredConditions())
			if err != nil {
				return nil, err
			}
			ln, sd = ch.Moved(d)
		}
		lnKnown, sdKnown, dofKnown := ch.Known()
		out.AsTested = p
		out.Minutes = p.Base.Estimate(math.Exp(ln+lnKnown), sd, sdKnown, dofKnown)
		out.know(timeUnder(ch))
		out.Warnings = append(ofTrial(out.stillShort(p.Warnings)), ch.Warnings...)
	}
	if a.Corrects() {
		was := out
		out.Uncorrected = &was
		out.Minutes, out.ExposureIndex = *a.Ageing.Minutes(&was.Minutes), a.Ageing.Speed(was.ExposureIndex)
		out.know(a.Ageing.time())
		out.Warnings = out.stillShort(was.Warnings)
	}
	return &out, nil
}

// roll brings a roll of the trial to today; see Plan.
func (a *Adjustment) roll(r *Roll) *Roll {
	if a == nil {
		return r
	}
	out := *r
	out.Today = a
	if ch := a.Change; ch != nil {
		out.AsTested = r
		out.Minutes = *ch.Minutes(&r.Minutes)
		out.Frames = out.givenTime(timeUnder(ch))
		out.Warnings = append(ofTrial(stillShort(r.Warnings, out.Minutes.Value)), ch.Warnings...)
	}
	if a.Corrects() {
		was := out
		out.Uncorrected = &was
		out.Minutes, out.ExposureIndex = *a.Ageing.Minutes(&was.Minutes), a.Ageing.Speed(was.ExposureIndex)
		out.Frames = out.givenTime(a.Ageing.time())
		out.Warnings = stillShort(was.Warnings, out.Minutes.Value)
		for i := range out.Frames {
			if f := &out.Frames[i]; f.EV != nil {
				f.EV = new(f.Metering.Exposure(out.ExposureIndex.Value))
			}
		}
	}
	return &out
}

// ofTrial marks the warnings that name times of the trial.
func ofTrial(all []sensito.Warning) []sensito.Warning {
	for i, w := range all {
		if w.Code == "extrapolated" || w.Code == "other_paper" {
			all[i].Message = "in times of the trial: " + w.Message
		}
	}
	return all
}

// timeUnder returns how well the time under the conditions is known by the factor.
func timeUnder(ch *development.Change) todaysTime {
	return todaysTime{ch.Factor.StdErr / ch.Factor.Value, ch.Factor.DoF}
}
