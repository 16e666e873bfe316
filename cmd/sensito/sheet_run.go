package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/clock"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
	"sensito/sensito/session"
)

// runSheet runs a session at the terminal, or goes on with the one that the notebook
// has.
func (s streams) runSheet(ctx context.Context, o *sheetOptions, path string) error {
	for _, flag := range []string{"json", "plot", "font", "page", "done", "temperature", "ended", "exposure-index"} {
		if o.given(flag) {
			return console.Usagef("--%s does not go with --run, which shows the sheet by the clock", flag)
		}
	}
	switch {
	case path == "-":
		return console.Usagef("--run keeps what was done beside the trial: name its file")
	case !console.IsTerminal(s.In) || !console.IsTerminal(s.Terminal):
		return console.Usagef("--run needs a terminal, for its clock and its keys; leave it out for the sheet")
	}
	path, err := s.Only(path, notebook.FilmKind)
	if err != nil {
		return err
	}
	kept, id, err := clock.Run(ctx, s.Streams, filepath.Dir(path), func() (*clock.Beginning, error) { return s.beginning(o, path) }, time.Now)
	if err != nil {
		return err
	}
	if id != "" {
		fmt.Fprintf(s.Err, "sensito: the clock runs on; to go on: sensito sheet %s --run\n", path)
	}
	if kept == nil {
		return nil
	}
	if kept.Same > 0 {
		fmt.Fprintf(s.Err, "sensito: not logged again: development %d of the log says the same\n", kept.Same)
	}
	return s.finish(&options{}, report.NewDone(kept.Trial, kept.Path, kept.Done, kept.Logged), nil)
}

// beginning returns the plan of a sheet, and what is laid out for it.
func (s streams) beginning(o *sheetOptions, path string) (*clock.Beginning, error) {
	a, err := o.question.ToRun(s.Streams, path)
	if err != nil {
		return nil, err
	}
	sheet := a.Sheet
	b := &clock.Beginning{Plan: session.NewPlan(sheet, filepath.Base(path))}
	say := func(format string, args ...any) { b.Lines = append(b.Lines, fmt.Sprintf(format, args...)) }
	say("%s, %s.", sheet.Headline(), sheet.Basis(a.Level))
	say("%s", strings.TrimSuffix(b.Plan.Title, ".")+".")
	if text := sheet.FilmText(); text != "" {
		say("Film: %s.", text)
	}
	if v := sheet.Spec.Vessel; v.Stated() {
		say("Vessel: %s.", v)
	}
	say("")
	for _, bath := range sheet.Baths {
		say("  %s", sheet.LaidOut(bath))
	}
	say("")
	say("%s", sheet.LightText())
	if sheet.Order != nil {
		say("%s", sheet.Order.Text())
	}
	for _, w := range report.NewSheet(sheet, a.Level).Notices() {
		say("Warning: %s", w.Message())
	}
	for _, c := range report.Cautions() {
		say("%s", c)
	}
	return b, nil
}
