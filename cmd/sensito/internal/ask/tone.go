package ask

import (
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// Tone asks how a scene comes through film and paper to the print.
type Tone struct {
	Aim
	Today Today
}

// Register adds the flags of the question.
func (q *Tone) Register(f *pflag.FlagSet) {
	q.Aim.Register(f)
	q.Today.Register(f)
	q.registerRange(f, "range of the scene in `STOPS`")
}

// A ToneAnswer is what Tone.Ask found.
type ToneAnswer struct {
	Reproduction *scene.Reproduction
	Level        float64 // of the intervals
}

// Report returns the result to be written.
func (a *ToneAnswer) Report() (report.Report, error) {
	return report.NewReproduction(a.Reproduction, a.Level), nil
}

// Figure draws the four-quadrant diagram.
func (a *ToneAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = a.Level
	return plot.Tone(a.Reproduction, o)
}

// Ask answers for the film trial at path. An error is of usage where the flags cannot be
// asked together.
func (q *Tone) Ask(from console.Streams, path string) (*ToneAnswer, error) {
	s := Files{from}
	switch {
	case !q.given("range"):
		return nil, console.Usagef("tone needs --range STOPS, the range of the scene (a normal one has 7)")
	case q.given("scan"):
		return nil, console.Usagef("--scan does not go with tone, which follows the scene to a print")
	case !q.given("paper"):
		return nil, console.Usagef("tone needs --paper TRIAL, the curve of the paper: a grade of the published table has none")
	}
	today, err := q.Today.Sense(path, q.paper)
	if err != nil {
		return nil, err
	}
	aimed, err := q.Aim.Scene(s, path, q.scene.Stops)
	if err != nil {
		return nil, err
	}
	if aimed.Today, err = q.Today.read(s, today); err != nil {
		return nil, err
	}
	f, err := q.Family(s, path)
	if err != nil {
		return nil, err
	}
	p, err := scene.For(f, aimed)
	if err != nil {
		return nil, err
	}
	r, err := p.Reproduce()
	if err != nil {
		return nil, err
	}
	return &ToneAnswer{Reproduction: r, Level: q.Level}, nil
}
