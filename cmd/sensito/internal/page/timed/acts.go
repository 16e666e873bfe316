package timed

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/session"
)

// A Fault says what is wrong with a field, which is asked for again.
type Fault struct{ Text string }

func (f *Fault) Error() string { return f.Text }

// longestAgo is the most that an act may have waited until it could be sent; one that
// waited longer is asked for again, since by then something else may be right.
const longestAgo = time.Hour

// ParseAct returns what a form of a session asks for, and how long ago it was asked. The
// error is a Fault for what was typed; any other is for what no page sends.
func ParseAct(form url.Values) (a session.Act, ago time.Duration, err error) {
	a.Do = session.Do(form.Get("do"))
	if a.After, err = strconv.Atoi(form.Get("after")); err != nil {
		return a, 0, fmt.Errorf("the form does not say after which event it was made")
	}
	if id := form.Get("id"); id != "" {
		if a.ID = id + form.Get("when"); !session.IsID(a.ID) { // several acts wait on one page
			return a, 0, fmt.Errorf("the form does not say which act it is")
		}
	}
	if text := form.Get("ago"); text != "" {
		whole, fraction, _ := strings.Cut(text, ".")
		ms, err := strconv.ParseInt(whole, 10, 64)
		if err != nil || strings.Trim(fraction, "0123456789") != "" {
			return a, 0, fmt.Errorf("%q is not how many milliseconds ago something was done", text)
		}
		if ms > longestAgo.Milliseconds() {
			return a, 0, &Fault{"Not done: it waited for more than an hour until sensito was there; look, and do it again if it is still meant."}
		}
		ago = time.Duration(max(ms, 0)) * time.Millisecond
	}
	switch a.Do {
	case session.DoNext, session.DoUndo, session.DoEnd:
	case session.DoTemperature:
		if a.Step, err = strconv.Atoi(form.Get("step")); err != nil {
			return a, 0, fmt.Errorf("the form does not say of which step the temperature is")
		}
		if a.Celsius, err = sensito.ParseTemperature(form.Get("celsius")); err != nil {
			return a, 0, &Fault{err.Error()}
		}
	case session.DoClearing:
		if a.Clearing, err = sensito.ParseMinutes(strings.TrimSpace(form.Get("clearing"))); err != nil {
			return a, 0, &Fault{err.Error()}
		}
	default:
		return a, 0, fmt.Errorf("%q is nothing that a session can be asked for", a.Do)
	}
	return a, ago, nil
}

// ParseKeep returns what the form of the end makes of what the log is to take; what is as
// it was drawn stays exact. The error is a Fault.
func ParseKeep(form url.Values, drawn Entry) (func(*sensito.Done), error) {
	note := strings.TrimSpace(form.Get("note"))
	if n := len([]rune(note)); n > LongestNote {
		return nil, &Fault{fmt.Sprintf("The note has %d characters; at most %d are kept.", n, LongestNote)}
	}
	var minutes sensito.Minutes
	var from, to float64
	read := func(field, drawn string, parse func(text string) error) error {
		if text := strings.TrimSpace(form.Get(field)); form.Has(field) && text != drawn {
			if err := parse(text); err != nil {
				return &Fault{err.Error()}
			}
		}
		return nil
	}
	celsius := func(to *float64) func(string) error {
		return func(text string) (err error) { *to, err = sensito.ParseTemperature(text); return }
	}
	for _, err := range []error{
		read("developed", drawn.Developed, func(text string) (err error) { minutes, err = sensito.ParseMinutes(text); return }),
		read("from", drawn.From, celsius(&from)), read("to", drawn.To, celsius(&to)),
	} {
		if err != nil {
			return nil, err
		}
	}
	return func(d *sensito.Done) {
		d.Note = note
		if minutes != 0 {
			d.Minutes = minutes
		}
		if from != 0 {
			d.TemperatureC = from
		}
		if to != 0 {
			d.EndedC = to
		}
	}, nil
}
