package ask

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/report"
)

// Control asks whether a process is still in control.
type Control struct {
	Evaluation
	Read     func(path string) (*control.Log, error) // reads the log when all is checked; nil as Files.Control does
	trial    string
	baseline int
	rules    string
	charts   []string
}

// Register adds the flags of the question.
func (q *Control) Register(f *pflag.FlagSet) {
	q.Evaluation.Register(f)
	f.StringVar(&q.trial, "trial", "", "`TRIAL` of the film and developer, to give a change in stops and in time")
	f.IntVar(&q.baseline, "baseline", 0, "take limits from the first `N` strips, 8 or more")
	f.StringVar(&q.rules, "rules", string(chart.LimitsAlone), "tests of single strips: "+names(chart.RuleSets))
	f.StringSliceVar(&q.charts, "chart", nil, "only these charts: "+names(chart.Kinds))
}

// A ControlAnswer is what Control.Ask found.
type ControlAnswer struct {
	Evaluation *control.Evaluation
	Family     *development.Family // of the trial; nil without one
	Level      float64             // of the intervals
}

// Report returns the result to be written.
func (a *ControlAnswer) Report() (report.Report, error) {
	r := report.NewControl(a.Evaluation, a.Level)
	if a.Family != nil {
		r.Developed(a.Evaluation.Deviations(a.Family.Trial))
	}
	return r, nil
}

// Figure draws the charts.
func (a *ControlAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = a.Level
	return plot.Control(a.Evaluation, o)
}

// Ask judges the log at path. An error is of usage where the flags cannot be asked
// together.
func (q *Control) Ask(from console.Streams, path string) (*ControlAnswer, error) {
	s := Files{from}
	if q.given("baseline") && q.baseline < control.LeastBaseline {
		return nil, console.Usagef("--baseline %d is fewer than %d strips, too few for limits", q.baseline, control.LeastBaseline)
	}
	if _, err := q.Measure(); err != nil {
		return nil, err
	}
	evaluate, err := q.evaluated()
	if err != nil {
		return nil, err
	}
	if path == "-" && q.trial == "-" {
		return nil, console.Usagef("the log and the trial cannot both come from standard input")
	}
	if q.trial != "" {
		if evaluate.Family, err = q.Family(s, q.trial); err != nil {
			return nil, err
		}
	}
	read := q.Read
	if read == nil {
		read = s.Control
	}
	log, err := read(path)
	if err != nil {
		return nil, err
	}
	a := &ControlAnswer{Family: evaluate.Family, Level: q.Level}
	if a.Evaluation, err = log.Evaluate(evaluate); err != nil {
		return nil, err
	}
	a.Evaluation.Warnings = console.WithFlags(a.Evaluation.Warnings)
	return a, nil
}

// evaluated returns how the log is judged, without the family.
func (q *Control) evaluated() (control.Options, error) {
	evaluate := control.Options{Baseline: q.baseline, Rules: chart.RuleSet(q.rules)}
	if !slices.Contains(chart.RuleSets, evaluate.Rules) {
		return evaluate, console.Usagef("--rules %q is not one of %s", q.rules, names(chart.RuleSets))
	}
	for _, name := range q.charts {
		kind := chart.Kind(strings.ReplaceAll(name, "-", "_"))
		if !slices.Contains(chart.Kinds, kind) {
			return evaluate, console.Usagef("--chart %q is not one of %s", name, names(chart.Kinds))
		}
		if !slices.Contains(evaluate.Kinds, kind) {
			evaluate.Kinds = append(evaluate.Kinds, kind)
		}
	}
	return evaluate, nil
}

// names returns choices as a list for people.
func names[T ~string](choices []T) string {
	var out []string
	for _, c := range choices {
		out = append(out, fmt.Sprint(c))
	}
	return strings.Join(out, ", ")
}

// A StripFault says what is wrong with a control strip that is to be added to a log.
type StripFault struct {
	Field  string // as in the file: date, base_fog, low, patches.middle
	Reason string
}

func (e *StripFault) Error() string { return e.Field + ": " + e.Reason }

// stripFault returns the first fault of a strip as a *StripFault, one of no field of it, such
// as of a log that is full, in words, and another error as it is.
func stripFault(err error) error {
	var fault *sensito.FieldError
	if !errors.As(err, &fault) {
		return err
	}
	_, field, ok := strings.Cut(fault.Key, "].")
	if !ok {
		return fmt.Errorf("the strip %s", fault.Reason)
	}
	return &StripFault{field, fault.Reason}
}

// CheckControl returns a *StripFault where a control strip is none, whatever log it is for.
func CheckControl(strip control.Strip) error {
	_, err := control.NewLog(control.LogSpec{Strips: []control.Strip{strip}})
	return stripFault(err)
}

// AddControl adds a strip to the file of a control log, unless the log has it, and returns
// the log with it, and the number of the strip that says the same, 0 where it was added.
// What others added in between stays. The error is a *StripFault, or that of reading or
// writing; nothing is written then.
func AddControl(path string, strip control.Strip) (log *control.Log, same int, err error) {
	data, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		same = 0
		log, unread := notebook.ReadControl(path, bytes.NewReader(old))
		if unread == nil {
			if same = log.StripAs(strip); same > 0 {
				return old, nil
			}
		}
		text, err := notebook.AppendControl(old, strip) // a log that has no strip yet cannot be read
		switch {
		case errors.As(err, new(*sensito.FieldError)):
			return nil, stripFault(err)
		case err != nil && unread != nil:
			return nil, unread
		case err != nil:
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		return text, nil
	})
	if err != nil {
		return nil, 0, err
	}
	log, err = notebook.ReadControl(path, bytes.NewReader(data))
	return log, same, err
}
