package session

import (
	"fmt"
	"math"
	"time"

	"sensito/sensito"
)

// State is how a session stands at a time.
type State struct {
	Number int // of the last event: what an act is made After
	At     time.Time
	Plan   Plan

	// Running is the step that runs, from 1; it is the one that ran last when the
	// session is Over. Closed says that it is settled whether the trial's log has the
	// development, Kept that it has.
	Running            int
	Over, Closed, Kept bool

	Steps      []StepState // all of the plan
	Correction *Correction // of the developer; nil before a temperature of it is keyed in
	Question   *Question   // nil where nothing is questioned
	Worth      *Worth      // what the development did; nil until it has ended, or where its temperature is not known
}

// StepState is how a step stands, or went.
type StepState struct {
	Step
	Number       int
	Began, Ended time.Time // zero of a step to come, and of one that runs

	// Elapsed is how long it has run; Planned how long it was to last, and Lasts how
	// long it is to, corrected and with the clearing time keyed in. They are 0 where
	// that is open.
	Elapsed, Planned, Lasts time.Duration

	Clearing sensito.Minutes // keyed in; 0 for none
	Readings []Reading       // temperatures that count
}

// Question is a temperature that cannot well be: far from the last reading, or
// outside those of hand processing. It does not count until it is keyed in again.
type Question struct {
	Celsius float64
	Last    float64 // temperature of the bath as it was known; 0 for not
	Far     bool    // more than 3 °C from Last; else outside 13 to 30 °C
}

// farCelsius is how far a reading may be from the last one of its bath.
const farCelsius = 3

// sameCelsius is how near a reading keyed in again is to the first.
const sameCelsius = 0.1

// Text asks the question.
func (q Question) Text() string {
	why := "is outside the 13 to 30 °C of hand processing"
	if q.Far {
		why = fmt.Sprintf("is more than %d °C from the %s of before", farCelsius, sensito.Celsius(q.Last))
	}
	return fmt.Sprintf("%s %s. Read the thermometer again and key in what you find; the same again counts.", sensito.Celsius(q.Celsius), why)
}

// question returns what is asked of a temperature where the last of the bath was
// another, 0 for not known; nil for nothing.
func question(celsius, last float64) *Question {
	switch {
	case last != 0 && math.Abs(celsius-last) > farCelsius+1e-9:
		return &Question{celsius, last, true}
	case !usual(celsius):
		return &Question{celsius, last, false}
	}
	return nil
}

// readings returns the temperatures of a step that count, and the question that is
// open, nil for none.
func (s *Session) readings(step int) ([]Reading, *Question) {
	var out []Reading
	var open *Question
	last := s.plan.Steps[step-1].Celsius
	running := 1
	for _, e := range standing(s.events) {
		switch {
		case e.Do == DoNext:
			running++
			open = nil
		case e.Do == DoTemperature && e.Step == step:
			q := question(e.Celsius, last)
			again := open != nil && math.Abs(open.Celsius-e.Celsius) <= sameCelsius+1e-9
			if open = nil; q != nil && !again {
				open = q
				continue
			}
			in := time.Duration(0) // taken ahead
			if running == step {
				in = e.At.Sub(s.steps[step-1].began)
			}
			out, last = append(out, Reading{in, e.Celsius}), e.Celsius
		}
	}
	return out, open
}

// At returns how the session stands at a time, which is taken as no earlier than the
// last event.
func (s *Session) At(t time.Time) State {
	if last := s.events[len(s.events)-1].At; t.Before(last) {
		t = last
	}
	st := State{Number: s.Number(), At: t, Plan: s.Plan(), Running: s.last(), Over: s.over, Closed: s.Closed()}
	if s.closed != nil {
		st.Kept = s.closed.Kept
	}
	for i, step := range s.plan.Steps {
		n := i + 1
		x := StepState{Step: step, Number: n, Planned: duration(step.Minutes)}
		x.Lasts = x.Planned
		if n <= len(s.steps) {
			p := s.steps[i]
			x.Began, x.Ended, x.Clearing = p.began, p.ended, p.clearing
			if x.Elapsed = t.Sub(p.began); !p.ended.IsZero() {
				x.Elapsed = p.ended.Sub(p.began)
			}
		}
		var open *Question
		if n <= len(s.steps) || n == s.plan.Developer {
			x.Readings, open = s.readings(n)
		}
		if open != nil && x.Ended.IsZero() && !s.over {
			st.Question = open
		}
		switch {
		case n == s.plan.Developer:
			if st.Correction = s.plan.Rate.correct(step.Minutes, x.Readings); st.Correction != nil {
				x.Lasts = st.Correction.Total
			}
			if !x.Ended.IsZero() {
				st.Worth = s.plan.Rate.worth(step.Minutes, x.Readings, x.Elapsed)
			}
		case step.Clearing > 0 && x.Clearing > 0:
			x.Lasts = duration(x.Clearing * sensito.Minutes(step.Clearing))
		}
		st.Steps = append(st.Steps, x)
	}
	return st
}

// Now returns the step that runs, or ran last.
func (st State) Now() StepState { return st.Steps[st.Running-1] }

// Next returns the step that comes next, or nil after the last.
func (st State) Next() *StepState {
	if st.Running == len(st.Steps) {
		return nil
	}
	next := st.Steps[st.Running]
	return &next
}

// Dark says whether the film must not see light in the step that runs. Light is safe
// once a step in the light was gone on to, and when all is over.
func (st State) Dark() bool { return !st.Over && st.Now().Dark }

// Remaining returns what is left of the step that runs, negative when it is over
// its time; false where its time is open.
func (st State) Remaining() (time.Duration, bool) {
	now := st.Now()
	if now.Lasts == 0 {
		return 0, false
	}
	return now.Lasts - now.Elapsed, true
}

// AsksClearing says whether the clearing time is wanted for the step that runs.
func (st State) AsksClearing() bool {
	now := st.Now()
	return !st.Over && now.Clearing == 0 && now.Step.Clearing > 0
}

// Uncorrected returns when the developer's step would end by the plan alone, zero
// before it begins.
func (st State) Uncorrected() time.Time {
	d := st.Steps[st.Plan.Developer-1]
	if d.Began.IsZero() {
		return time.Time{}
	}
	return d.Began.Add(d.Planned)
}

// Discard says whether the fixer is to be discarded: it took twice the time to clear
// film that it took when it was fresh (NAVEDTRA 14209, page 10-7).
func (st State) Discard() bool {
	x := st.Plan.Fixer
	return x != nil && x.Fresh > 0 && st.Steps[x.Step-1].Clearing >= discardAt*x.Fresh*(1-1e-9)
}

// discardAt is how many times the clearing time of fresh fixer it may take.
const discardAt = 2
