package ask

import (
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/report"
)

// Curve asks for speed and contrast of each strip of a trial.
type Curve struct {
	Evaluation
	strip    int
	triangle bool // of ISO 6, drawn
}

// Register adds the flags of the question.
func (q *Curve) Register(f *pflag.FlagSet) {
	q.Evaluation.Register(f)
	q.RegisterGradient(f)
	f.IntVar(&q.strip, "strip", 0, "only strip `N` of the trial, counting from 1")
	f.BoolVar(&q.triangle, "triangle", false, "draw the triangle of ISO 6 on the curve of one strip")
	f.BoolVar(&q.measure.Apart, "apart", false, "each strip by itself, without what the others tell of the film")
}

// A CurveAnswer is what Curve.Ask found.
type CurveAnswer struct {
	Trial    *sensito.Trial
	Strips   []*curve.Measured
	Triangle bool    // that of ISO 6 is drawn
	Level    float64 // of the intervals
}

// Report returns the result to be written.
func (a *CurveAnswer) Report() (report.Report, error) {
	return report.NewCurve(a.Trial, a.Strips, a.Level), nil
}

// Figure draws the curves. The error is of usage for a triangle on several strips.
func (a *CurveAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	if a.Triangle && len(a.Strips) > 1 {
		return nil, console.Usagef("--triangle is drawn on one strip of %d: name it with --strip", len(a.Strips))
	}
	o.Confidence, o.Triangle = a.Level, a.Triangle
	return plot.Curves(a.Strips, o)
}

// Check returns a usage error for a flag that is outside its limits.
func (q *Curve) Check() error {
	if q.given("strip") && q.strip < 1 {
		return console.Usagef("--strip %d is below 1", q.strip)
	}
	_, err := q.Measure()
	return err
}

// Ask answers for the film trial at path; several may be asked at once. An error is that
// of Check, or of usage where the trial has no such strip.
func (q *Curve) Ask(from console.Streams, path string) (*CurveAnswer, error) {
	if err := q.Check(); err != nil {
		return nil, err
	}
	measure, err := q.Measure()
	if err != nil {
		return nil, err
	}
	trial, err := Files{from}.Film(path)
	if err != nil {
		return nil, err
	}
	trial, tied := development.Tie(trial, measure)
	ms, err := q.measureStrips(trial, measure)
	if err != nil {
		return nil, err
	}
	for _, m := range ms {
		m.Warnings = append(m.Warnings, tied...)
	}
	return &CurveAnswer{Trial: trial, Strips: ms, Triangle: q.triangle, Level: q.Level}, nil
}

// measureStrips measures all strips of a trial, or the one asked for.
func (q *Curve) measureStrips(t *sensito.Trial, measure curve.MeasureOptions) ([]*curve.Measured, error) {
	if q.strip == 0 {
		return curve.MeasureTrial(t, measure)
	}
	strips := t.Strips()
	if q.strip > len(strips) {
		return nil, console.Usagef("--strip %d is outside 1 to %d", q.strip, len(strips))
	}
	ms, errs := curve.MeasureStrips(t, measure)
	return ms[q.strip-1 : q.strip], errs[q.strip-1]
}
