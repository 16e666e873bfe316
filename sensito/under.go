package sensito

import "math"

// atAim is Family.atContrast for the density rise over the scene, with the time
// of the plan.
func (p *Plan) atAim(conditions []condition) (derived, error) {
	d, _, err := p.parts.of(conditions, func() (derived, float64, error) {
		tb := p.tableOf(p.Family.with(conditions...))
		fog := p.Family.fog.degree()
		inflate := map[int]float64{sceneRise: p.growth.scatter, colSpeedPoint: p.Family.speed.scatter}
		d, err := tb.propagate(inflate, func(rows [][]float64) ([]float64, error) {
			g, err := tb.grow(sceneRise, rows, p.growth.model)
			if err != nil {
				return nil, err
			}
			law := tb.trend(colFog, rows, math.Log, fog)
			t, _, err := p.Scene.timeFor(g.Time, func(m float64) float64 { return law.at(math.Log(m)) }, p.aim)
			if err != nil {
				return nil, err
			}
			return tb.parts(rows, sceneRise, g, math.Log(t), conditions)
		})
		return d, tb.dof, err
	})
	return d, err
}

// Plan returns a plan with the time under the conditions. What strips measured
// of the change is taken together with the law that gives the time, since both
// rest on the same strips. What else the plan holds is as in the trial: the film
// is brought to the same contrast. Extrapolated tells of the time of the trial.
func (ch *Change) Plan(p *Plan) (*Plan, error) {
	lnKnown, sdKnown, dofKnown := ch.known()
	ln, sd := math.Log(p.base.minutes), p.base.total
	if ch.measured() {
		d, err := p.atAim(ch.measuredConditions())
		if err != nil {
			return nil, err
		}
		ln, sd = ch.moved(d)
	}
	out := *p
	out.under = ch
	out.Minutes = p.base.estimate(math.Exp(ln+lnKnown), sd, sdKnown, dofKnown)
	out.know(ch.time())
	out.Warnings = append(ch.ofTrial(out.stillShort(p.Warnings)), ch.Warnings...)
	return &out, nil
}

// ofTrial marks the warnings that name times of the trial.
func (ch *Change) ofTrial(all []Warning) []Warning {
	for i, w := range all {
		if w.Code == "extrapolated" || w.Code == "other_paper" {
			all[i].Message = "in times of the trial: " + w.Message
		}
	}
	return all
}

// Card returns a card with the times under the conditions. A row whose time
// cannot be had says why.
func (ch *Change) Card(c *Card) (*Card, error) {
	out := *c
	out.Under = ch
	out.Rows = append([]CardRow(nil), c.Rows...)
	for i := range out.Rows {
		row := &out.Rows[i]
		if row.Plan == nil {
			continue
		}
		p, err := ch.Plan(row.Plan)
		if err != nil {
			return nil, err
		}
		row.Plan = p
	}
	return &out, nil
}

// Roll returns a roll with the time under the conditions.
func (ch *Change) Roll(r *Roll) *Roll {
	out := *r
	out.Minutes = *ch.Minutes(&r.Minutes)
	out.Frames = r.givenTime(ch.time())
	out.Warnings = append(ch.ofTrial(stillShort(r.Warnings, out.Minutes.Value)), ch.Warnings...)
	return &out
}

// time returns how well the time under the conditions is known by the factor.
func (ch *Change) time() todaysTime {
	return todaysTime{ch.Factor.StdErr / ch.Factor.Value, ch.Factor.DoF}
}
