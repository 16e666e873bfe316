package scene

import (
	"math"
	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// atAim is Family.atContrast for the density rise over the scene, with the time
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

// ChangedPlan returns a plan with the time under the conditions. What strips measured
// of the change is taken together with the law that gives the time, since both
// rest on the same strips. What else the plan holds is as in the trial: the film
// is brought to the same contrast. Extrapolated tells of the time of the trial.
func ChangedPlan(ch *development.Change, p *Plan) (*Plan, error) {
	lnKnown, sdKnown, dofKnown := ch.Known()
	ln, sd := math.Log(p.Base.Minutes), p.Base.Total
	if ch.Measured() {
		d, err := p.atAim(ch.MeasuredConditions())
		if err != nil {
			return nil, err
		}
		ln, sd = ch.Moved(d)
	}
	out := *p
	out.under = ch
	out.Minutes = p.Base.Estimate(math.Exp(ln+lnKnown), sd, sdKnown, dofKnown)
	out.know(timeUnder(ch))
	out.Warnings = append(ofTrial(ch, out.stillShort(p.Warnings)), ch.Warnings...)
	return &out, nil
}

// ofTrial marks the warnings that name times of the trial.
func ofTrial(ch *development.Change, all []sensito.Warning) []sensito.Warning {
	for i, w := range all {
		if w.Code == "extrapolated" || w.Code == "other_paper" {
			all[i].Message = "in times of the trial: " + w.Message
		}
	}
	return all
}

// ChangedCard returns a card with the times under the conditions. A row whose time
// cannot be had says why.
func ChangedCard(ch *development.Change, c *Card) (*Card, error) {
	out := *c
	out.Under = ch
	out.Rows = append([]CardRow(nil), c.Rows...)
	for i := range out.Rows {
		row := &out.Rows[i]
		if row.Plan == nil {
			continue
		}
		p, err := ChangedPlan(ch, row.Plan)
		if err != nil {
			return nil, err
		}
		row.Plan = p
	}
	return &out, nil
}

// ChangedRoll returns a roll with the time under the conditions.
func ChangedRoll(ch *development.Change, r *Roll) *Roll {
	out := *r
	out.Minutes = *ch.Minutes(&r.Minutes)
	out.Frames = r.givenTime(timeUnder(ch))
	out.Warnings = append(ofTrial(ch, stillShort(r.Warnings, out.Minutes.Value)), ch.Warnings...)
	return &out
}

// timeUnder returns how well the time under the conditions is known by the factor.
func timeUnder(ch *development.Change) todaysTime {
	return todaysTime{ch.Factor.StdErr / ch.Factor.Value, ch.Factor.DoF}
}
