package ask

import (
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/notebook"
	"sensito/sensito/paper"
	"sensito/sensito/report"
)

// Paper asks for the range and the speed of each grade of a paper.
type Paper struct {
	Evaluation
	grade   string
	callier float64
}

// Register adds the flags of the question.
func (q *Paper) Register(f *pflag.FlagSet) {
	q.Evaluation.Register(f)
	f.StringVar(&q.grade, "grade", "", "only the strip of this `GRADE` or filter, as in the file")
	f.Float64Var(&q.callier, "callier", 1, "Callier coefficient `Q` of a condenser enlarger; 1 is diffusion")
}

// A PaperAnswer is what Paper.Ask found.
type PaperAnswer struct {
	Paper   *paper.Paper
	Callier float64 // coefficient of the enlarger
	Level   float64 // of the intervals
}

// Report returns the result to be written.
func (a *PaperAnswer) Report() (report.Report, error) {
	return report.NewPaper(a.Paper, a.Callier, a.Level), nil
}

// Figure draws the curves of the grades.
func (a *PaperAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = a.Level
	return plot.Paper(a.Paper, o)
}

// Ask answers for the paper trial at path. An error is of usage where a flag is outside
// its limits.
func (q *Paper) Ask(from console.Streams, path string) (*PaperAnswer, error) {
	const least, most = 1, 2
	if !(q.callier >= least && q.callier <= most) {
		return nil, console.Usagef("--callier %g is outside %d to %d", q.callier, least, most)
	}
	measure, err := q.Measure()
	if err != nil {
		return nil, err
	}
	trial, err := Files{from}.Of(path, notebook.PaperKind)
	if err != nil {
		return nil, err
	}
	p, err := paper.Measure(trial, measure.Fit)
	if err != nil {
		return nil, err
	}
	if q.grade != "" {
		strip, err := p.Grade(q.grade)
		if err != nil {
			return nil, err
		}
		only := *p
		only.Strips = []*paper.Strip{strip}
		p = &only
	}
	return &PaperAnswer{Paper: p, Callier: q.callier, Level: q.Level}, nil
}
