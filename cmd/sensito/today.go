package main

import "sensito/sensito"

// planToday is a plan under the conditions and for the process of today, with
// what it comes from.
type planToday struct {
	plan   *sensito.Plan
	tested *sensito.Plan   // under the conditions of the trial
	change *sensito.Change // nil under those
	ageing *sensito.Ageing // nil without a control log
	was    *sensito.Plan   // before the correction by the log; nil where that is not wanted
}

// asToday returns a plan as the flags of today have it.
func (s streams) asToday(f *sensito.Family, p *sensito.Plan, under *conditionOptions, today *ageingOptions) (planToday, error) {
	out := planToday{plan: p, tested: p}
	var err error
	if out.change, err = under.changed(f); err != nil {
		return out, err
	}
	if out.change != nil {
		if out.plan, err = out.change.Plan(p); err != nil {
			return out, err
		}
	}
	if out.ageing, err = s.ageing(today, f); err != nil {
		return out, err
	}
	if today.correct {
		out.was, out.plan = out.plan, out.ageing.Plan(out.plan)
	}
	return out, nil
}

// tell adds to a report what today does to the plan.
func (t planToday) tell(r interface {
	Under(*sensito.Change, *sensito.Plan)
	Aged(*sensito.Ageing, *sensito.Plan)
}) {
	if t.change != nil {
		r.Under(t.change, t.tested)
	}
	if t.ageing != nil {
		r.Aged(t.ageing, t.was)
	}
}
