package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/curve"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/report"
)

// lsOptions are the flags of ls.
type lsOptions struct {
	json       bool
	confidence float64
}

func newLsCmd(s streams) *cobra.Command {
	o := &lsOptions{}
	cmd := &cobra.Command{
		Use:   "ls [NOTEBOOK]",
		Short: "What a notebook holds, what is missing, and what it comes to",
		Long: `Lists the files of a folder: trials of film and paper, control logs, rolls of
scenes and procedures, told by what is in them. Of a trial it says what was developed and how,
which strips there are, what it comes to (the time and the index for a scene of
seven stops, speed), and what is missing. The newest file comes first, by the date
of its newest strip, or of its last development where no strip has one. A file with faults is listed with the first of them. The
folder is this one unless named; folders in it are not entered.

What is to be done comes before all that, the most urgent first: a process that has
left its aim, readings to be made again, steps that are not read, files with
faults, trials with too few strips.

Elsewhere, a folder stands for the one trial in it, or, where several are taken
(curve, compare), for all its trials of film.`,
		Example: `  sensito ls
  sensito ls harrow-quay --json
  sensito curve harrow-quay`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return console.Usagef("ls takes one folder at most; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "."
			if len(args) == 1 {
				dir = args[0]
			}
			return s.ls(o, dir)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.json, "json", false, "write JSON, one object")
	f.Float64Var(&o.confidence, "confidence", report.DefaultConfidence, "level of the intervals, between 0.5 and 0.999")
	return cmd
}

// ls lists a folder. That a file in it is broken is told in the list and, once
// that is written, by the error.
func (s streams) ls(o *lsOptions, dir string) error {
	if err := ask.CheckLevel(o.confidence); err != nil {
		return err
	}
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return console.Usagef("%s is a file, and ls lists a folder", dir)
	}
	entries, err := notebook.List(dir)
	if err != nil {
		return err
	}
	var found []listing.Entry
	progress := console.NewProgress(s.Terminal, len(entries))
	err = console.InOrder(entries, func(e notebook.Entry) (listing.Entry, error) { return s.listed(e, curve.MeasureOptions{}) },
		func(i int, e listing.Entry, err error) error {
			progress.Step(i + 1)
			e.File, e.Err = entries[i].Name, err
			found = append(found, e)
			return nil
		})
	progress.End()
	if err != nil {
		return err
	}
	if err := s.finish(&options{json: o.json}, report.NewListing(dir, listing.NewNotebook(found), o.confidence), nil); err != nil {
		return err
	}
	broken := 0
	for _, e := range found {
		if e.Err != nil {
			broken++
		}
	}
	switch broken {
	case 0:
		return nil
	case 1:
		return fmt.Errorf("%s: one file cannot be read", dir)
	default:
		return fmt.Errorf("%s: %d files cannot be read", dir, broken)
	}
}

// listed reads a file and returns what it holds.
func (s streams) listed(e notebook.Entry, o curve.MeasureOptions) (found listing.Entry, err error) {
	switch e.Kind {
	case notebook.FilmKind, notebook.PaperKind:
		trial, err := s.Trial(e.Path)
		if err != nil {
			return found, err
		}
		found.Trial = listing.New(trial, o)
	case notebook.ControlKind:
		log, err := s.Control(e.Path)
		if err != nil {
			return found, err
		}
		found.Control = listing.NewControl(log)
	case notebook.RollKind:
		found.Roll, err = s.Roll(e.Path, 0)
	case notebook.ProcedureKind:
		found.Procedure, err = console.ReadInput(s.Streams, e.Path, notebook.ReadProcedure)
	case notebook.PictureKind:
		found.Tablet, err = console.ReadInput(s.Streams, e.Path, pictures.Listed)
	}
	return found, err
}
