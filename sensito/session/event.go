package session

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"sensito/sensito"
	"sensito/sensito/internal/lazy"
)

// Schema is that of the first event of a session; others are refused.
const Schema = "sensito/session/1"

// Do is what an event does.
type Do string

const (
	DoStart       Do = "start"       // the first step begins
	DoTemperature Do = "temperature" // the bath was measured
	DoClearing    Do = "clearing"    // the film cleared in the fixer after a time
	DoNext        Do = "next"        // the next step begins; after the last one the session is over
	DoUndo        Do = "undo"        // the last act that stands is taken back
	DoEnd         Do = "end"         // the session is over, whatever step it is in
	DoClose       Do = "close"       // what was done is kept in the trial's log, or is not to be
)

// Event is one thing that happened, a line of the file of a session.
type Event struct {
	Number int       `json:"number"` // from 1, without a gap
	At     time.Time `json:"at"`     // never before that of the event before
	Do     Do        `json:"do"`

	ID string `json:"id,omitempty"` // of the act, as it was given

	Schema string `json:"schema,omitempty"` // of a start
	Plan   *Plan  `json:"plan,omitempty"`   // of a start

	Step     int             `json:"step,omitempty"`         // of a temperature: that of its bath, from 1
	Celsius  float64         `json:"celsius,omitempty"`      // of a temperature
	Clearing sensito.Minutes `json:"clearing_min,omitempty"` // of a clearing
	Undoes   int             `json:"undoes,omitempty"`       // of an undo: the number of the event
	Kept     bool            `json:"kept,omitempty"`         // of a close
}

// Act is what somebody wants to do.
type Act struct {
	Do Do

	// After is the number of the last event that whoever acts has seen. An act that
	// was made after another than the last is stale: a double tap does not skip a
	// step, and of two devices that press at once one is told. Temperatures and
	// clearing times are taken while the step is still the same.
	After int

	// ID tells the act from every other, so that it is known where it is sent again since
	// nobody heard the answer (see Has). "" for none.
	ID string

	// Step is that of the bath which was measured, 0 for the one that runs. The
	// developer may be measured ahead, which then counts from pouring in.
	Step     int
	Celsius  float64
	Clearing sensito.Minutes
	Kept     bool // of a close
}

// A StaleError says that something happened that whoever acted had not seen.
type StaleError struct {
	Step string    // that now runs, "" when the session is over
	At   time.Time // when the event came that had not been seen
}

func (e *StaleError) Error() string {
	text := "the session is over"
	if e.Step != "" {
		text = "it is now " + e.Step
	}
	return fmt.Sprintf("not done: something else was done at %s, and %s; look, and do it again if it is still meant", e.At.Format("15:04:05"), text)
}

// Session is what has happened. It is made by Begin or Replay, and With returns
// another one: what is in it does not change, and many may read it at once.
type Session struct {
	events []Event
	plan   Plan
	steps  []passage // begun, in order; the last one runs unless it has ended
	over   bool
	closed *Event
}

// passage is how a step went.
type passage struct {
	began, ended time.Time // ended is zero while the step runs
	clearing     sensito.Minutes
}

// Begin returns the event that starts a session by a plan. The error is that of
// Plan.Check.
func Begin(p Plan, at time.Time) (Event, error) {
	if err := p.Check(); err != nil {
		return Event{}, err
	}
	p = p.clone()
	return Event{Number: 1, At: at.Round(time.Millisecond), Do: DoStart, Schema: Schema, Plan: &p}, nil
}

// Replay returns the session of events in their order. The error names the event
// that is not possible where it stands, of another schema, or the plan's faults.
func Replay(events []Event) (*Session, error) {
	if len(events) == 0 {
		return nil, errors.New("a session begins with a start, and there is no event")
	}
	first := events[0]
	switch {
	case first.Do != DoStart || first.Number != 1 || first.Plan == nil:
		return nil, errors.New("event 1 is not a start with a plan")
	case first.Schema != Schema:
		return nil, fmt.Errorf("schema %q is not %q: the session was written by another version of sensito", first.Schema, Schema)
	}
	if err := first.Plan.Check(); err != nil {
		return nil, fmt.Errorf("the plan: %w", err)
	}
	s := &Session{events: []Event{first}, plan: first.Plan.clone(), steps: []passage{{began: first.At}}}
	for _, e := range events[1:] {
		var err error
		if s, err = s.With(e); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// Events returns what happened, in order.
func (s *Session) Events() []Event { return slices.Clone(s.events) }

// Number returns the number of the last event, which an act is made After.
func (s *Session) Number() int { return s.events[len(s.events)-1].Number }

// Plan returns what the session is to do.
func (s *Session) Plan() Plan { return s.plan.clone() }

// Over says whether all steps have ended; Closed whether besides it is settled that
// the trial's log has it, or is not to have it.
func (s *Session) Over() bool   { return s.over }
func (s *Session) Closed() bool { return s.closed != nil }

// last returns the step that runs, or ran last, from 1.
func (s *Session) last() int { return len(s.steps) }

// idForm is that of the ID of an act.
var idForm = lazy.Regexp(`^[0-9A-Za-z.]{1,64}$`)

// IsID says whether a text may be the ID of an act: up to 64 letters, digits and points.
func IsID(text string) bool { return idForm().MatchString(text) }

// Has says whether an act has been done already: an event has its ID and does the same.
func (s *Session) Has(a Act) bool {
	return a.ID != "" && slices.ContainsFunc(s.events, func(e Event) bool {
		return e.ID == a.ID && e.Do == a.Do && e.Celsius == a.Celsius && e.Clearing == a.Clearing && e.Kept == a.Kept && (a.Step == 0 || a.Step == e.Step)
	})
}

// Act returns the event that an act makes at a time. The error is a StaleError, or
// says why the act is not possible: a temperature that no bath has, a clearing time
// without a fixer, nothing to undo, a session that is over.
//
// A temperature that cannot well be (see Question) is taken as an event and not
// counted; keyed in again it is.
func (s *Session) Act(a Act, at time.Time) (Event, error) {
	e := Event{Number: s.Number() + 1, At: at.Round(time.Millisecond), Do: a.Do, ID: a.ID}
	if last := s.events[len(s.events)-1].At; e.At.Before(last) {
		e.At = last // the clock was set back
	}
	if err := s.fresh(a); err != nil {
		return Event{}, err
	}
	switch a.Do {
	case DoTemperature:
		if e.Step = a.Step; a.Step == 0 {
			e.Step = s.last()
		}
		e.Celsius = a.Celsius
	case DoClearing:
		e.Clearing = a.Clearing
	case DoUndo:
		u, ok := s.undoable()
		if !ok {
			return Event{}, errors.New("nothing has been done yet that could be taken back")
		}
		e.Undoes = u.Number
	case DoClose:
		e.Kept = a.Kept
	}
	if _, err := s.With(e); err != nil {
		return Event{}, err
	}
	return e, nil
}

// fresh returns a StaleError for an act after which something happened that matters
// to it.
func (s *Session) fresh(a Act) error {
	if a.After == s.Number() {
		return nil
	}
	if a.After < 1 || a.After > s.Number() {
		return fmt.Errorf("event %d is none of this session, which has %d", a.After, s.Number())
	}
	if a.Do == DoTemperature || a.Do == DoClearing {
		// The step of then: the events are those of this session, so they replay.
		if then, err := Replay(s.events[:a.After]); err == nil && then.last() == s.last() && then.over == s.over {
			return nil
		}
	}
	stale := &StaleError{At: s.events[a.After].At}
	if !s.over {
		stale.Step = s.plan.Steps[s.last()-1].Name
	}
	return stale
}

// undoable returns the last act that stands.
func (s *Session) undoable() (Event, bool) {
	standing := standing(s.events)
	last := standing[len(standing)-1]
	return last, last.Do != DoStart && last.Do != DoClose
}

// standing returns the events that were not taken back, without those that took them.
func standing(events []Event) []Event {
	var out []Event
	for _, e := range events {
		if e.Do == DoUndo {
			out = out[:len(out)-1]
			continue
		}
		out = append(out, e)
	}
	return out
}

// With returns the session with one event more. The error says why it cannot follow.
func (s *Session) With(e Event) (*Session, error) {
	fault := func(format string, args ...any) (*Session, error) {
		return nil, fmt.Errorf("event %d, %s: %w", e.Number, e.Do, fmt.Errorf(format, args...))
	}
	before := s.events[len(s.events)-1]
	switch {
	case e.ID != "" && !IsID(e.ID):
		return nil, fmt.Errorf("event %d has the ID %q, which is none", e.Number, e.ID)
	case e.Number != before.Number+1:
		return nil, fmt.Errorf("event %d follows event %d", e.Number, before.Number)
	case e.At.Before(before.At):
		return fault("its time is before that of the event before")
	case s.closed != nil:
		return fault("the session is closed")
	case s.over && e.Do != DoUndo && e.Do != DoClose:
		return fault("the session is over")
	}
	out := *s
	out.events = append(slices.Clip(s.events), e)
	out.steps = slices.Clone(s.steps)
	running := &out.steps[len(out.steps)-1]
	switch e.Do {
	case DoTemperature:
		if err := sensito.CheckTemperature(e.Celsius); err != nil {
			return fault("%w", err)
		}
		if e.Step != s.last() && !(e.Step == s.plan.Developer && e.Step > s.last()) {
			return fault("step %d is neither the one that runs nor the development to come", e.Step)
		}
	case DoClearing:
		if s.plan.Steps[s.last()-1].Clearing == 0 {
			return fault("no film clears in this step, %s", s.plan.Steps[s.last()-1].Name)
		}
		if !(e.Clearing >= 0.05 && e.Clearing <= 120) || math.IsNaN(float64(e.Clearing)) {
			return fault("a clearing time of %s is outside 0:03 to 2 hours", e.Clearing.Clock(1))
		}
		running.clearing = e.Clearing
	case DoNext:
		running.ended = e.At
		if s.last() == len(s.plan.Steps) {
			out.over = true
		} else {
			out.steps = append(out.steps, passage{began: e.At})
		}
	case DoEnd:
		running.ended, out.over = e.At, true
	case DoUndo:
		u, ok := s.undoable()
		if !ok || u.Number != e.Undoes {
			return fault("event %d is not the last that stands", e.Undoes)
		}
		out.undo(u)
	case DoClose:
		if !s.over {
			return fault("the session is not over")
		}
		out.closed = &e
	default:
		return fault("is unknown: the session was written by another version of sensito")
	}
	return &out, nil
}

// undo takes back an event. The steps of the session are its own.
func (s *Session) undo(u Event) {
	switch u.Do {
	case DoNext, DoEnd:
		if !s.over {
			s.steps = s.steps[:len(s.steps)-1]
		}
		s.over = false
		s.steps[len(s.steps)-1].ended = time.Time{}
	case DoClearing: // the one before it counts again
		running := &s.steps[len(s.steps)-1]
		running.clearing = 0
		for _, e := range standing(s.events) {
			switch e.Do {
			case DoNext:
				running.clearing = 0
			case DoClearing:
				running.clearing = e.Clearing
			}
		}
	}
}
