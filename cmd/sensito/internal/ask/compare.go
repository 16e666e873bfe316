package ask

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/report"
)

// Compare asks for several trials side by side at equal contrast.
type Compare struct {
	Evaluation
	Today   Today
	ToDraw  bool // trials that no drawing holds are refused
	figure  string
	compare compare.Options
}

// Register adds the flags of the question.
func (q *Compare) Register(f *pflag.FlagSet) {
	q.Evaluation.Register(f)
	q.Today.Register(f)
	f.Float64Var(&q.compare.Gradient, "gradient", 0, "average gradient `G` at which the trials are compared; that of the aim unless given")
	f.Float64Var(&q.compare.Scene.Stops, "range", 7, "range in `STOPS` of the scene over which the gradient is taken")
	f.BoolVar(&q.compare.SeparateExposures, "separate-exposures", false, "exposures written alike were made under different lamps all the same")
	f.StringVar(&q.figure, "figure", "", "draw only `NAME`: "+strings.Join(plot.CompareFigures(), ", "))
}

// A CompareAnswer is what Compare.Ask found.
type CompareAnswer struct {
	Comparison *compare.Comparison
	Drawn      string  // the figure that is drawn, "" for the usual one
	Level      float64 // of the intervals
}

// Report returns the result to be written.
func (a *CompareAnswer) Report() (report.Report, error) { return report.NewCompare(a.Comparison), nil }

// Figure draws the comparison.
func (a *CompareAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = a.Level
	return plot.Compare(a.Comparison, a.Drawn, o)
}

// Ask compares the film trials at paths. An error is of usage where there are too few or
// one is named twice, or the flags cannot be asked together.
func (q *Compare) Ask(from console.Streams, paths []string) (*CompareAnswer, error) {
	s := Files{from}
	few := func(n int) error {
		return console.Usagef("compare takes two trials or more (files, folders, or - for standard input); %d given", n)
	}
	if len(paths) == 0 {
		return nil, few(0)
	}
	ask := q.compare
	if err := notZero(q.given, limited{"gradient", ask.Gradient, 0.2, 2}, limited{"range", ask.Scene.Stops, 1, 20}); err != nil {
		return nil, err
	}
	today, err := q.Today.Sense(paths...)
	if err != nil {
		return nil, err
	}
	measure, err := q.Measure()
	if err != nil {
		return nil, err
	}
	if paths, err = s.Films(paths); err != nil {
		return nil, err
	}
	if len(paths) < 2 {
		return nil, few(len(paths))
	}
	if q.figure != "" && !slices.Contains(plot.CompareFigures(), q.figure) {
		return nil, console.Usagef("--figure %q is not one of %s", q.figure, strings.Join(plot.CompareFigures(), ", "))
	}
	if err := s.once(paths); err != nil {
		return nil, err
	}
	if q.ToDraw {
		if err := plot.Comparable(len(paths)); err != nil {
			return nil, console.Usage(err)
		}
	}
	ask.Level = q.Level
	if err := ask.Check(); err != nil {
		return nil, console.Usage(err)
	}
	var families []*development.Family
	var failed []error
	read := func(path string) (*development.Family, error) {
		trial, err := s.Film(path)
		if err != nil {
			return nil, err
		}
		f, err := development.NewFamily(trial, measure)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err) // which the reason does not name
		}
		return f, nil
	}
	err = console.InOrder(paths, read, func(_ int, f *development.Family, err error) error {
		families, failed = append(families, f), append(failed, err)
		return nil
	})
	if err = errors.Join(append(failed, err)...); err != nil {
		return nil, err
	}
	if ask.Scene.Today, err = q.Today.read(s, today); err != nil {
		return nil, err
	}
	c, err := compare.Compare(families, ask)
	if err != nil {
		return nil, err
	}
	return &CompareAnswer{Comparison: c, Drawn: q.figure, Level: q.Level}, nil
}
