package ask

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/logbook"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/report"
)

// Log asks what was developed.
type Log struct {
	query logbook.Query
	given func(flag string) bool
}

// Register adds the flags of the question.
func (q *Log) Register(f *pflag.FlagSet) {
	q.given = f.Changed
	f.StringVar(&q.query.Film, "film", "", "only of a `FILM`: its name or a part of it")
	f.StringVar(&q.query.Developer, "developer", "", "only in a `DEVELOPER`: its name or a part of it, with its dilution or without")
	f.IntVar(&q.query.Last, "last", 0, "only the last `N` times with each film and developer")
}

// A LogAnswer is what Log.Ask found.
type LogAnswer struct {
	Log    *logbook.Log
	Broken []Fault // files that are left out
}

// A Fault is why a file could not be read.
type Fault struct {
	Name string
	Err  error
}

// Tabular returns the result to be written, as a table too.
func (a *LogAnswer) Tabular() report.Tabular {
	r := report.NewLog(a.Log)
	for _, f := range a.Broken {
		r.AddBroken(f.Name, f.Err)
	}
	return r
}

// Report returns the result to be written.
func (a *LogAnswer) Report() (report.Report, error) { return a.Tabular(), nil }

// Figure draws what was developed against its dates.
func (a *LogAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = report.DefaultConfidence
	return plot.Log(a.Log, o)
}

// Ask reads the trials and control logs at paths, those in folders included. The error is
// of usage for flags outside their limits, and that of a file where none can be read.
func (q *Log) Ask(from console.Streams, paths []string) (*LogAnswer, error) {
	s := Files{from}
	if err := q.sense(paths); err != nil {
		return nil, err
	}
	files, err := s.keepers(paths)
	if err != nil {
		return nil, err
	}
	var trials []logbook.Entry
	var controls []logbook.Control
	a := &LogAnswer{}
	progress := console.NewProgress(s.Terminal, len(files))
	err = console.InOrder(files, func(f keeper) (kept, error) { return console.ReadInput(s.Streams, f.path, readKept) },
		func(i int, k kept, err error) error {
			progress.Step(i + 1)
			switch {
			case err != nil:
				a.Broken = append(a.Broken, Fault{files[i].name, err})
			case k.log != nil:
				controls = append(controls, logbook.Control{File: files[i].name, Log: k.log})
			default:
				trials = append(trials, logbook.Entry{File: files[i].name, Trial: k.trial})
			}
			return nil
		})
	progress.End()
	if err != nil {
		return nil, err
	}
	if len(a.Broken) > 0 && len(a.Broken) == len(files) {
		return nil, a.Broken[0].Err
	}
	if a.Log, err = logbook.New(trials, controls).Select(q.query); err != nil {
		return nil, err
	}
	return a, nil
}

// sense returns a usage error for flags that are outside their limits.
func (q *Log) sense(paths []string) error {
	stdin := 0
	for _, path := range paths {
		if path == "-" {
			stdin++
		}
	}
	switch {
	case q.given("last") && q.query.Last < 1:
		return console.Usagef("--last %d is fewer than 1", q.query.Last)
	case stdin > 1:
		return console.Usagef("standard input is one file: name the others")
	}
	for flag, text := range map[string]string{"film": q.query.Film, "developer": q.query.Developer} {
		if q.given(flag) && strings.TrimSpace(text) == "" {
			return console.Usagef("--%s is empty: give a name or a part of it", flag)
		}
	}
	return nil
}

// keeper is a file that tells of developments, and how it is called.
type keeper struct{ path, name string }

// keepers returns the files that paths name, those in folders included, each once.
func (s Files) keepers(paths []string) ([]keeper, error) {
	var all []keeper
	seen := map[string]bool{}
	for _, path := range paths {
		files, folder, err := s.expand(path, notebook.FilmKind, notebook.ControlKind)
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
