package ask

import (
	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/development"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// Family asks how contrast, speed and fog go with development time.
type Family struct {
	Aim
	Today Today
}

// Register adds the flags of the question.
func (q *Family) Register(f *pflag.FlagSet) {
	q.Aim.Register(f)
	q.RegisterGradient(f)
	q.Today.Register(f)
	q.registerRange(f, "mark the time for a scene of so many `STOPS`, in the drawing too")
}

// A FamilyAnswer is what Family.Ask found.
type FamilyAnswer struct {
	Family *development.Family
	Today  *scene.Adjustment // nil where today is as the trial
	Mark   *scene.Answer     // of the scene that is marked, nil for none
	Level  float64           // of the intervals
}

// Report returns the result to be written.
func (a *FamilyAnswer) Report() (report.Report, error) {
	r, err := report.NewFamily(a.Family, a.Today, a.Level)
	if err != nil {
		return nil, err
	}
	if a.Mark != nil {
		r.Mark(a.Mark)
	}
	return r, nil
}

// Figure draws the family.
func (a *FamilyAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = a.Level
	return plot.Family(a.Family, a.Today, a.Mark, o)
}

// Ask answers for the film trial at path. An error is of usage where the flags cannot be
// asked together.
func (q *Family) Ask(from console.Streams, path string) (*FamilyAnswer, error) {
	s := Files{from}
	conditions, err := q.Today.Sense(path, q.paper)
	if err != nil {
		return nil, err
	}
	var aimed scene.Scene
	marked := q.given("range")
	if marked {
		aimed, err = q.Aim.Scene(s, path, q.scene.Stops)
	} else {
		err = Without(q.given, "--range STOPS, the scene that is marked", AimFlags...)
	}
	if err != nil {
		return nil, err
	}
	a := &FamilyAnswer{Level: q.Level}
	if a.Family, err = q.Aim.Family(s, path); err != nil {
		return nil, err
	}
	if aimed.Today, err = q.Today.read(s, conditions); err != nil {
		return nil, err
	}
	if a.Today, err = aimed.Today.For(a.Family); err != nil {
		return nil, err
	}
	if marked {
		if a.Mark, err = scene.For(a.Family, aimed); err != nil {
			return nil, err
		}
	}
	return a, nil
}
