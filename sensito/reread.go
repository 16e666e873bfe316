package sensito

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Action is something short of a new strip that can sharpen an answer.
type Action struct {
	Code string // ActionReadBase, ActionReadSteps or ActionReachFurther
	Text string // what to do, in words

	// change makes the action happen in a trial, the readings to come being
	// those that the fitted curves have.
	change func(*Trial)
	trial  *Trial
	again  func(*Trial) *design // nil when the trial so changed gives no answer
}

// The kinds of Action.
const (
	ActionReadBase     = "read_base"     // base plus fog, up to twice on each strip
	ActionReadSteps    = "read_steps"    // steps not read, or set aside
	ActionReachFurther = "reach_further" // all strips again, with more exposure at the strong end
)

// baseReadings is how often base plus fog should be read.
const baseReadings = 2

// actions returns what the readings of the strips leave to be done.
func (f *Family) actions(d *design, o MeasureOptions) []*Action {
	var out []*Action
	add := func(code, text string, change func(*Trial)) {
		out = append(out, &Action{Code: code, Text: text, change: change, trial: f.Trial, again: func(t *Trial) *design {
			family, err := NewFamily(t, o)
			if err != nil {
				return nil
			}
			again, err := family.design(d.plan.Scene, d.wanted)
			if err != nil || again.guessed {
				return nil
			}
			return again
		}})
	}
	var base, steps, short []string
	lacking := 0.0 // log H that the strips do not reach
	_, hi := f.Trial.exposures.span()
	for _, m := range f.Strips {
		number := strconv.Itoa(m.Strip.number)
		if len(m.Strip.baseFog) < baseReadings {
			base = append(base, number)
		}
		if n := m.toRead(); len(n) > 0 {
			steps = append(steps, fmt.Sprintf("%s of strip %s", StepList(n), number))
		}
		if point, err := SpeedPoint(m.Fit.Curve); err == nil {
			if over := float64(point.Add(d.plan.end()).Sub(hi)); over > 0.005 {
				short, lacking = append(short, number), math.Max(lacking, over)
			}
		}
	}
	measured := map[int]*Measured{}
	for _, m := range f.Strips {
		measured[m.Strip.number] = m
	}
	perStrip := func(do func(*Strip, *Measured)) func(*Trial) {
		return func(t *Trial) {
			for _, s := range t.strips {
				if m := measured[s.number]; m != nil {
					do(s, m)
				}
			}
		}
	}
	if len(base) > 0 {
		add(ActionReadBase, "read base plus fog twice on strip "+strings.Join(base, ", "), perStrip(func(s *Strip, m *Measured) {
			for len(s.baseFog) < baseReadings {
				s.baseFog = append(s.baseFog, BaseFog(m.Fit.Curve))
			}
		}))
	}
	if len(steps) > 0 {
		add(ActionReadSteps, "read step "+strings.Join(steps, ", and step "), perStrip(func(s *Strip, m *Measured) {
			for _, n := range m.toRead() {
				s.steps[n-1].Density = m.Fit.Curve.Density(s.steps[n-1].LogH)
			}
		}))
	}
	if len(short) > 0 {
		more := math.Ceil(10*lacking) / 10
		text := fmt.Sprintf("expose all strips anew with %.1f log H (%.1f stops) more at the strong end, which strip %s lacks", more, LogRange(more).Stops(), strings.Join(short, ", "))
		add(ActionReachFurther, text, func(t *Trial) {
			t.lengthen(more)
			perStrip(func(s *Strip, m *Measured) {
				for i := len(s.steps); i < len(t.exposures.logH); i++ {
					h := t.exposures.logH[i]
					s.steps = append(s.steps, Step{Number: i + 1, LogH: h, Density: m.Fit.Curve.Density(h)})
				}
			})(t)
		})
	}
	return out
}

// toRead returns the steps of a strip that were not read, or set aside as slips;
// not those that the photographer ignores.
func (m *Measured) toRead() []int {
	var out []int
	for _, s := range m.Strip.steps {
		if math.IsNaN(float64(s.Density)) && !s.Ignored {
			out = append(out, s.Number)
		}
	}
	for _, s := range m.Fit.SetAside {
		if s.Step > 0 {
			out = append(out, s.Step)
		}
	}
	slices.Sort(out)
	return out
}

// StepList writes rising step numbers, neighbours as "3 to 6".
func StepList(n []int) string {
	var parts []string
	for i := 0; i < len(n); {
		j := i
		for j+1 < len(n) && n[j+1] == n[j]+1 {
			j++
		}
		part := strconv.Itoa(n[i])
		if j > i {
			part += " to " + strconv.Itoa(n[j])
		}
		parts = append(parts, part)
		i = j + 1
	}
	return strings.Join(parts, ", ")
}

// design returns the design after the action and others, nil where they leave
// nothing to answer from.
func (a *Action) design(others ...*Action) *design {
	t := a.trial.clone()
	for _, o := range others {
		o.change(t)
	}
	a.change(t)
	return a.again(t)
}

// clone returns a copy of the trial whose strips may be changed.
func (t *Trial) clone() *Trial {
	out := *t
	out.exposures.logH = slices.Clone(t.exposures.logH)
	out.strips = nil
	for _, s := range t.strips {
		strip := *s
		strip.trial, strip.steps, strip.baseFog = &out, slices.Clone(s.steps), slices.Clone(s.baseFog)
		out.strips = append(out.strips, &strip)
	}
	return &out
}

// lengthen adds exposures beyond the strongest, as far apart as the others.
func (t *Trial) lengthen(by float64) {
	e := &t.exposures
	lo, hi := e.span()
	apart := hi.Sub(lo) / LogRange(len(e.logH)-1)
	for n := 1; LogRange(n)*apart < LogRange(by)+apart; n++ {
		e.logH = append(e.logH, hi.Add(LogRange(n)*apart))
	}
}
