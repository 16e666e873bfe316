package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook/table"
	"sensito/sensito/report"
)

func newLogCmd(s streams) *cobra.Command {
	o, q := &options{}, &ask.Log{}
	var asTable bool
	cmd := &cobra.Command{
		Use:   "log [NOTEBOOK|FILE...]",
		Short: "What was developed: the last time with each film and developer, and all times",
		Long: `Tells what was developed, by film and developer, the newest first: date, time and
temperature from begin to end, what was planned, the exposure index, the scene that
the time was for, the films and the note. Films are those that sensito sheet --done
wrote down, [[done]] in the file of a trial; the strips of a trial count where they
say when they were developed. Control strips are in a log of their own, of
which the dates are told.

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
			return s.log(o, q, args, asTable)
		},
	}
	o.look.register(cmd)
	f := cmd.Flags()
	q.Register(f)
	f.BoolVar(&o.json, "json", false, "write JSON, one object")
	f.BoolVar(&asTable, "csv", false, "write CSV, a row for each development")
	f.StringVar(&o.plot, "plot", "", "draw into `FILE`, ending in .svg, .png or .pdf; .csv for its numbers")
	f.StringVar(&o.font, "font", "", "take letters that a .png or .pdf could not draw from `FILE`, a font in TrueType or OpenType")
	forceFlag(f, &o.force)
	return cmd
}

// log tells what was developed, as a table (CSV) if that is asked. That a file is broken
// is told in the report and, once that is written, by the error.
func (s streams) log(o *options, q *ask.Log, paths []string, asTable bool) error {
	if asTable && o.json {
		return console.Usagef("--csv and --json are two forms: give one of them")
	}
	if err := o.check(); err != nil {
		return err
	}
	a, err := q.Ask(s.Streams, paths)
	if err != nil {
		return err
	}
	if asTable {
		for _, f := range a.Broken {
			fmt.Fprintf(s.Err, "sensito: left out: %v\n", f.Err)
		}
		err = s.finish(o, asCSV{a.Tabular()}, a.Figure)
	} else {
		err = s.show(o, a)
	}
	if err != nil {
		return err
	}
	switch n := len(a.Broken); n {
	case 0:
		return nil
	case 1:
		return fmt.Errorf("one file cannot be read: %s", a.Broken[0].Name)
	default:
		return fmt.Errorf("%d files cannot be read", n)
	}
}

// asCSV writes the table of a report in place of its text.
type asCSV struct{ report.Tabular }

func (r asCSV) Text(w io.Writer, _ report.Layout) error {
	_, err := w.Write(table.TableCSV(r.Table()))
	return err
}
