package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/logbook"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/notebook/table"
	"sensito/sensito/report"
)

// logOptions are the flags of log.
type logOptions struct {
	options
	query logbook.Query
	csv   bool
	given func(flag string) bool
}

func newLogCmd(s streams) *cobra.Command {
	o := &logOptions{options: options{confidence: report.DefaultConfidence, sdFrom: "scatter"}}
	cmd := &cobra.Command{
		Use:   "log [NOTEBOOK|FILE...]",
		Short: "What was developed: the last time with each film and developer, and all times",
		Long: `Tells what was developed, by film and developer, the newest first: date, time and
temperature from begin to end, what was planned, the exposure index, the scene that
the time was for, the films and the note. Films are those that sensito sheet --done
wrote down, [[done]] in the file of a trial; the strips of a trial count where they
say when they were developed. Control strips are in a log of their own, which
names no film: of it the dates are told.

The notebook is this folder unless named; a file is a trial of film or a control
log. A file with faults is left out and told, with its line.`,
		Example: `  sensito log
  sensito log harrow-quay --film larkfield --last 1
  sensito log harrow-quay --developer "ashlar 1+9" --csv > ashlar.csv
  sensito log harrow-quay --plot log.svg`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				args = []string{"."}
			}
			return s.log(o, args)
		},
	}
	o.look.register(cmd)
	o.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&o.query.Film, "film", "", "only of a `FILM`: its name or a part of it")
	f.StringVar(&o.query.Developer, "developer", "", "only in a `DEVELOPER`: its name or a part of it, with its dilution or without")
	f.IntVar(&o.query.Last, "last", 0, "only the last `N` times with each film and developer")
	f.BoolVar(&o.json, "json", false, "write JSON, one object")
	f.BoolVar(&o.csv, "csv", false, "write CSV, a row for each development")
	f.StringVar(&o.plot, "plot", "", "draw into `FILE`, ending in .svg, .png or .pdf; .csv for its numbers")
	f.StringVar(&o.font, "font", "", "take letters that a .png or .pdf could not draw from `FILE`, a font in TrueType or OpenType")
	forceFlag(f, &o.force)
	return cmd
}

// log tells what was developed. That a file is broken is told in the report and, once
// that is written, by the error.
func (s streams) log(o *logOptions, args []string) error {
	if err := o.sense(args); err != nil {
		return err
	}
	files, err := keepers(args)
	if err != nil {
		return err
	}
	var trials []logbook.Entry
	var controls []logbook.Control
	type fault struct {
		name string
		err  error
	}
	var broken []fault
	progress := newProgress(s.Terminal, len(files))
	err = inOrder(files, func(f keeper) (kept, error) { return console.ReadInput(s.Streams, f.path, readKept) },
		func(i int, k kept, err error) error {
			progress.step(i + 1)
			switch {
			case err != nil:
				broken = append(broken, fault{files[i].name, err})
			case k.log != nil:
				controls = append(controls, logbook.Control{File: files[i].name, Log: k.log})
			default:
				trials = append(trials, logbook.Entry{File: files[i].name, Trial: k.trial})
			}
			return nil
		})
	progress.end()
	if err != nil {
		return err
	}
	if len(broken) > 0 && len(broken) == len(files) {
		return broken[0].err
	}
	log, err := logbook.New(trials, controls).Select(o.query)
	if err != nil {
		return err
	}
	r := report.NewLog(log)
	for _, f := range broken {
		r.AddBroken(f.name, f.err)
	}
	var written report.Report = r
	if o.csv {
		written = asCSV{r}
		for _, f := range broken {
			fmt.Fprintf(s.Err, "sensito: left out: %v\n", f.err)
		}
	}
	if err := s.finish(&o.options, written, func() (*plot.Figure, error) { return plot.Log(log, o.drawn) }); err != nil {
		return err
	}
	switch n := len(broken); n {
	case 0:
		return nil
	case 1:
		return fmt.Errorf("one file cannot be read: %s", broken[0].name)
	default:
		return fmt.Errorf("%d files cannot be read", n)
	}
}

// sense returns a usage error for flags that do not go together, or are outside their
// limits.
func (o *logOptions) sense(args []string) error {
	stdin := 0
	for _, a := range args {
		if a == "-" {
			stdin++
		}
	}
	switch {
	case o.csv && o.json:
		return console.Usagef("--csv and --json are two forms: give one of them")
	case o.given("last") && o.query.Last < 1:
		return console.Usagef("--last %d is fewer than 1", o.query.Last)
	case stdin > 1:
		return console.Usagef("standard input is one file: name the others")
	}
	for flag, text := range map[string]string{"film": o.query.Film, "developer": o.query.Developer} {
		if o.given(flag) && strings.TrimSpace(text) == "" {
			return console.Usagef("--%s is empty: give a name or a part of it", flag)
		}
	}
	return o.check()
}

// keeper is a file that tells of developments, and how it is called.
type keeper struct{ path, name string }

// keepers returns the files that paths name, those in folders included, each once.
func keepers(paths []string) ([]keeper, error) {
	var all []keeper
	seen := map[string]bool{}
	for _, path := range paths {
		files, folder, err := expand(path, notebook.FilmKind, notebook.ControlKind)
		if err != nil {
			return nil, err
		}
		for _, f := range files {
			k := keeper{f, f}
			if folder && len(paths) == 1 {
				k.name = filepath.Base(f)
			}
			if f == "-" {
				k.name = console.StandardInput
			}
			if !seen[filepath.Clean(f)] {
				seen[filepath.Clean(f)] = true
				all = append(all, k)
			}
		}
	}
	return all, nil
}

// kept is a trial of film or a control log.
type kept struct {
	trial *sensito.Trial
	log   *control.Log
}

// readKept reads a trial of film or a control log, told by what is in it.
func readKept(name string, r io.Reader) (kept, error) {
	const most = 64 << 20 // bytes, more than any reader takes
	data, err := io.ReadAll(io.LimitReader(r, most))
	if err != nil {
		return kept{}, fmt.Errorf("%s: %w", name, store.Cause(err))
	}
	if notebook.KindOf(data) == notebook.ControlKind {
		log, err := notebook.ReadControl(name, bytes.NewReader(data))
		return kept{log: log}, err
	}
	trial, err := notebook.Read(name, bytes.NewReader(data))
	if err == nil && trial.Material() == sensito.PaperMaterial {
		err = fmt.Errorf("%s %s", name, notebook.PaperKind.Instead(notebook.FilmKind.String()))
	}
	return kept{trial: trial}, err
}

// asCSV writes the table of a report in place of its text.
type asCSV struct{ report.Tabular }

func (r asCSV) Text(w io.Writer, _ report.Layout) error {
	_, err := w.Write(table.TableCSV(r.Table()))
	return err
}
