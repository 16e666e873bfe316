package testplan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// Action is something short of a new strip that can sharpen an answer.
type Action struct {
	Code string // ActionReadBase, ActionReadSteps or ActionReachFurther
	Text string // what to do, in words

	// change makes the action happen in a trial, the readings to come being
	// those that the fitted curves have.
	change func(*sensito.TrialSpec)
	trial  *sensito.Trial
	again  func(*sensito.Trial) *design // nil when the trial so changed gives no answer
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
func actions(f *development.Family, d *design, o curve.MeasureOptions) []*Action {
	var out []*Action
	add := func(code, text string, change func(*sensito.TrialSpec)) {
		out = append(out, &Action{Code: code, Text: text, change: change, trial: f.Trial, again: func(t *sensito.Trial) *design {
			family, err := development.NewFamily(t, o)
			if err != nil {
				return nil
			}
			again, err := newDesign(family, d.known.Scene, d.wanted)
			if err != nil || again.guessed {
				return nil
			}
			return again
		}})
	}
	read := f.Trial.Reading()
	var steps []string
	var base, short []int
	lacking := 0.0 // log H that the strips do not reach
	_, hi := f.Trial.Exposures().Span()
	for _, m := range f.Strips {
		number := m.Strip.Number()
		if len(m.Strip.BaseFog()) < baseReadings {
			base = append(base, number)
		}
		if n := toRead(m); len(n) > 0 {
			steps = append(steps, fmt.Sprintf("%s of strip %d", sensito.StepList(n), number))
		}
		if point, err := curve.SpeedPoint(m.Fit.Curve); err == nil {
			if over := float64(point.Add(d.known.RunEnd()).Sub(hi)); over > 0.005 {
				short, lacking = append(short, number), math.Max(lacking, over)
			}
		}
	}
	measured := map[int]*curve.Measured{}
	for _, m := range f.Strips {
		measured[m.Strip.Number()] = m
	}
	perStrip := func(do func(*sensito.StripSpec, *curve.Measured)) func(*sensito.TrialSpec) {
		return func(t *sensito.TrialSpec) {
			for i := range t.Strips {
				if m := measured[i+1]; m != nil {
					do(&t.Strips[i], m)
				}
			}
		}
	}
	if len(base) > 0 {
		add(ActionReadBase, "read base plus fog twice on "+sensito.StripList(base), perStrip(func(s *sensito.StripSpec, m *curve.Measured) {
			for len(s.BaseFog) < baseReadings {
				s.BaseFog = append(s.BaseFog, read.AsRead(curve.BaseFog(m.Fit.Curve)))
			}
		}))
	}
	if len(steps) > 0 {
		add(ActionReadSteps, "read step "+strings.Join(steps, ", and step "), perStrip(func(s *sensito.StripSpec, m *curve.Measured) {
			for _, n := range toRead(m) {
				s.Density[n-1] = read.AsRead(m.Fit.Curve.Density(m.Strip.Steps()[n-1].LogH))
				delete(s.Repeats, n)
			}
		}))
	}
	if len(short) > 0 {
		more := math.Ceil(10*lacking) / 10
		lack := sensito.StripList(short) + " lack"
		if len(short) == 1 {
			lack += "s"
		}
		text := fmt.Sprintf("expose all strips anew with %.1f log H (%.1f stops) more at the strong end, which %s", more, sensito.LogRange(more).Stops(), lack)
		add(ActionReachFurther, text, func(t *sensito.TrialSpec) {
			t.Exposures = t.Exposures.Lengthened(sensito.LogRange(more))
			logH := t.Exposures.LogH()
			perStrip(func(s *sensito.StripSpec, m *curve.Measured) {
				for _, h := range logH[len(s.Density):] {
					s.Density = append(s.Density, read.AsRead(m.Fit.Curve.Density(h)))
				}
			})(t)
		})
	}
	return out
}

// toRead returns the steps of a strip that were not read, or set aside as slips;
// not those that the photographer ignores.
func toRead(m *curve.Measured) []int {
	var out []int
	for _, s := range m.Strip.Steps() {
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

// design returns the design after the action and others, nil where they leave
// nothing to answer from.
func (a *Action) design(others ...*Action) *design {
	spec := a.trial.Spec()
	for _, o := range others {
		o.change(&spec)
	}
	a.change(&spec)
	t, err := sensito.NewTrial(spec)
	if err != nil {
		return nil
	}
	return a.again(t)
}
