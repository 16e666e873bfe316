package main

import (
	"fmt"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
)

// ofSheet are flags that say how a sheet is written, not what was done.
var ofSheet = []string{"vessel", "least", "uses", "graduates", "plot", "font", "page"}

// logDone appends a development to the file of the trial.
func (s streams) logDone(o *sheetOptions, path string) error {
	for _, flag := range ofSheet {
		if o.given(flag) {
			return console.Usagef("--%s is of a sheet: leave it out with --done", flag)
		}
	}
	if path == "-" {
		return console.Usagef("--done is written into the file of the trial: name it")
	}
	q := &o.question
	session, err := q.Session()
	if err != nil {
		return err
	}
	d := sensito.Done{Date: session.Date, Films: session.Films, Note: session.Note}
	procedure, err := q.Procedure(s.Streams)
	if err != nil {
		return err
	}
	if procedure != nil {
		d.Baths = procedure.KeptBaths()
	}
	if o.given("exposure-index") {
		if !(o.exposedAt >= 0.01 && o.exposedAt <= 1e6) {
			return console.Usagef("--exposure-index %g is outside 0.01 to 1e+06", o.exposedAt)
		}
		d.Index = sensito.Speed(o.exposedAt)
	}
	if err := o.measured(&d); err != nil {
		return err
	}
	switch {
	case q.Aimed():
		timed, err := q.Planned(s.Streams, path, session)
		if err != nil {
			return err
		}
		d.Planned, d.For = timed.ByHand(), timed.For
		if !o.given("minutes") {
			d.Minutes = d.Planned
		}
	case !o.given("minutes"):
		return console.Usagef("--done needs --minutes TIME, for which the film was developed, or the scene that it was developed for")
	default:
		if _, err := q.Measure(); err != nil {
			return err
		}
	}
	if path, err = s.Only(path, notebook.FilmKind); err != nil {
		return err
	}
	if _, err := s.Film(path); err != nil {
		return err
	}
	var trial *sensito.Trial
	same := 0
	if err := s.Save(path, func() (err error) {
		trial, same, err = notebook.LogDone(path, d)
		return err
	}); err != nil {
		return err
	}
	if same > 0 {
		fmt.Fprintf(s.Err, "sensito: not logged again: development %d of the log says the same; if this is another one, say so with --note\n", same)
	}
	s.noteAhead(d.Date)
	return s.finish(&options{json: o.json}, report.NewDone(trial, path, d, len(trial.Done())), nil)
}

// measured reads the flags of what was measured at the sink; --at and --ends-at
// stand for temperatures that were not.
func (o *sheetOptions) measured(d *sensito.Done) error {
	if o.given("minutes") {
		var err error
		if d.Minutes, err = o.question.Minutes(); err != nil {
			return err
		}
	}
	today, err := o.question.Today.Sense()
	if err != nil {
		return err
	}
	for _, t := range []struct{ given, to *float64 }{{today.Conditions.TemperatureC, &d.TemperatureC}, {today.Conditions.EndC, &d.EndedC}} {
		if t.given != nil {
			*t.to = *t.given
		}
	}
	d.PlannedC = d.TemperatureC
	d.Dilution, d.Agitation = today.Conditions.Dilution, today.Conditions.Agitation
	for _, t := range []struct {
		flag, text string
		to         *float64
	}{{"temperature", o.temperature, &d.TemperatureC}, {"ended", o.ended, &d.EndedC}} {
		if !o.given(t.flag) {
			continue
		}
		var err error
		if *t.to, err = sensito.ParseTemperature(t.text); err != nil {
			return console.Usagef("--%s %w", t.flag, err)
		}
	}
	return nil
}
