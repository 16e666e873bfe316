package session

import (
	"fmt"

	"sensito/sensito"
)

// Done returns what the log of the trial takes of a session, with a note: the time
// that the developer had from pouring in to the next bath, and the temperatures at
// its start and, where one was keyed in, at its end. The fixer is counted by it, as
// every bath that is kept, since the log tells the films. The error is that the
// development has not ended, or lasted for less than a log can tell.
func (st State) Done(note string) (sensito.Done, error) {
	d := st.Steps[st.Plan.Developer-1]
	if d.Ended.IsZero() {
		return sensito.Done{}, fmt.Errorf("the development has not ended, so there is nothing to log yet")
	}
	p := st.Plan.Done
	out := sensito.Done{Date: st.Plan.Date, Planned: p.Planned, PlannedC: p.PlannedC, Minutes: minutes(d.Elapsed),
		Dilution: p.Dilution, Agitation: p.Agitation, For: st.Plan.For, Baths: p.Baths, Note: note}
	if out.Minutes < 0.05 {
		return sensito.Done{}, fmt.Errorf("a development of %s is too short for the log: 0:03 is the least", ClockText(d.Elapsed))
	}
	var err error
	if st.Plan.Films != "" {
		if out.Films, err = sensito.ParseFilms(st.Plan.Films); err != nil {
			return sensito.Done{}, fmt.Errorf("the films: %w", err)
		}
	}
	read := d.Readings
	switch c, r := st.Correction, st.Plan.Rate; {
	case c != nil:
		if out.TemperatureC = c.From.Celsius; c.To.In > 0 {
			out.EndedC = c.To.Celsius
		}
	case len(read) > 0: // of a plan without a temperature
		if out.TemperatureC = read[0].Celsius; len(read) > 1 {
			out.EndedC = read[len(read)-1].Celsius
		}
	case r != nil && p.PlannedC != 0: // not measured, and told as it was meant
		if out.TemperatureC = p.PlannedC; r.EndC != r.Celsius {
			out.EndedC = r.EndC
		}
	}
	return out, nil
}
