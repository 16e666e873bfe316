package main

import (
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// planToday is a plan under the conditions and for the process of today, with
// what it comes from.
type planToday struct {
	plan   *scene.Plan
	tested *scene.Plan         // under the conditions of the trial
	change *development.Change // nil under those
	ageing *scene.Ageing       // nil without a control log
	was    *scene.Plan         // before the correction by the log; nil where that is not wanted
}

// asToday returns a plan as the flags of today have it.
func (s streams) asToday(f *development.Family, p *scene.Plan, under *conditionOptions, today *ageingOptions) (planToday, error) {
	out := planToday{plan: p, tested: p}
	var err error
	if out.change, err = under.changed(f); err != nil {
		return out, err
	}
	if out.change != nil {
		if out.plan, err = scene.ChangedPlan(out.change, p); err != nil {
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
	Under(*development.Change, *scene.Plan)
	Aged(*scene.Ageing, *scene.Plan)
}) {
	if t.change != nil {
		r.Under(t.change, t.tested)
	}
	if t.ageing != nil {
		r.Aged(t.ageing, t.was)
	}
}
