package compare

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// Options say on what terms trials are compared. The zero value is the
// recommended run.
type Options struct {
	// Scene sets the run over which the gradient is taken and the gradient that
	// suits it; 0 stops mean 7, a normal scene. The conditions of its Today hold
	// for every trial, its control log for the first.
	Scene scene.Scene

	// Gradient is the average gradient at which all trials are compared, between
	// the places of the darkest and the lightest tone of Scene. 0 means that of
	// the scene's aim.
	Gradient float64

	// Level is how surely nothing is called real of a pair of equal trials; 0
	// means 0.95.
	Level float64

	// SeparateExposures says that trials whose exposures are written alike were
	// exposed under different lamps all the same. Otherwise they share the error
	// of the lamp, which then does not count between them.
	SeparateExposures bool
}

// Comparison is what several trials are at one average gradient.
type Comparison struct {
	Scene       scene.Scene // defaults filled in
	FilmRange   sensito.LogRange
	Gradient    float64 // over FilmRange, from where the darkest tone of Scene lands
	Level       float64 // confidence at which a difference counts as real, from 0 to 1
	Trials      []*Compared
	Differences []Difference // of every pair, in the order of Trials
	Warnings    sensito.Warnings

	share bool // the error of exposures written alike
}

// Compared is one trial of a comparison. A nil quantity could not be had;
// Warnings say why. Reason is set where the trial cannot be brought to the
// gradient at all, in which case everything after it is empty.
type Compared struct {
	Name   string // differs from those of the other trials
	Family *development.Family
	Reason error

	Answer  *scene.Answer // how to develop to the gradient
	Minutes *sensito.Estimate[sensito.Minutes]
	Speed   *sensito.Estimate[sensito.Speed] // 0.8/H at the speed point; nil when the exposures are relative
	BaseFog *sensito.Estimate[sensito.Density]

	// Of the form of the curve. Places are distances from the speed point.
	ToeLength      *sensito.Estimate[sensito.LogRange]   // over which the gradient rises from 0.25 to 0.75 of gamma, the largest
	ShadowGradient *sensito.Estimate[float64]            // average between net 0.10 and 0.40
	Straightness   *sensito.Estimate[sensito.NetDensity] // largest departure, to either side, from the line between net 0.30 and 1.20
	ShoulderStart  *sensito.Estimate[sensito.LogRange]   // where the gradient has fallen to 0.75 of gamma
	UsableRange    *sensito.Estimate[sensito.LogRange]   // where it has fallen to half of gamma
	MaxDensity     *sensito.Estimate[sensito.NetDensity]

	Tones []scene.Tone // from -5 to +5 stops, the meter set to the trial's own index

	// Curve is the characteristic curve at the gradient, on relative exposures
	// with its speed point where the trial has it; its strips reach to Reach
	// above the speed point.
	Curve      curve.Curve
	Reach      sensito.LogRange
	SpeedPoint sensito.Estimate[sensito.LogExposure] // relative when the exposures are

	// UncorrectedSpeed is Speed before it is corrected by the control log; nil where
	// it is not. Answer holds the times as tested and uncorrected.
	UncorrectedSpeed *sensito.Estimate[sensito.Speed]

	Warnings sensito.Warnings

	speedPoint sensito.Estimate[sensito.LogExposure] // without the error that the exposures share
	form       [][]float64                           // how its quantities move with the calibrations of pictures
}

// Compare brings every trial to the same average gradient and says in what
// they differ then. Each curve is that of the time which gives the trial this
// gradient (scene.For). Its form is taken from the strips scaled to the
// gradient, so that the error of the time, and of the development of any strip,
// is in Minutes alone and not once more in what the film does there. The error
// is Unanswerable when fewer than two trials reach the gradient.
func Compare(fs []*development.Family, o Options) (*Comparison, error) {
	c, err := newComparison(o)
	if err != nil {
		return nil, err
	}
	names := distinctNames(fs)
	reached := 0
	var last error
	for i, f := range fs {
		t := &Compared{Name: names[i], Family: f, Warnings: sensito.Warnings{}}
		one := c.Scene
		if i > 0 {
			one.Today.Control, one.Today.Correct = nil, false
		}
		today, err := one.Today.For(f)
		if err != nil {
			return nil, ofTrial(t.Name, err)
		}
		one.Today = scene.Today{} // told once
		if t.Reason = t.bring(one, today); t.Reason == nil {
			reached++
			t.correct(today)
		} else {
			last = t.Reason
		}
		c.Trials = append(c.Trials, t)
	}
	if reached < 2 {
		return nil, c.tooFew(reached, last)
	}
	for i, a := range c.Trials {
		for j, b := range c.Trials[i+1:] {
			if a.Reason == nil && b.Reason == nil {
				c.Differences = append(c.Differences, c.between(i, i+1+j)...)
			}
		}
	}
	c.tellPairs()
	c.gatherWarnings()
	return c, nil
}

// Check returns an error naming what in the options is outside its limits.
func (o Options) Check() error {
	_, err := newComparison(o)
	return err
}

// newComparison checks the options and settles the gradient.
func newComparison(o Options) (*Comparison, error) {
	c := &Comparison{Scene: o.Scene, Level: o.Level, share: !o.SeparateExposures, Differences: []Difference{}, Warnings: sensito.Warnings{}}
	if c.Scene.Stops == 0 {
		c.Scene.Stops = camera.NormalStops
	}
	if c.Level == 0 {
		c.Level = 0.95
	}
	if !(c.Level > 0 && c.Level < 1) {
		return nil, fmt.Errorf("level %g is outside 0 to 1", c.Level)
	}
	if err := c.Scene.Check(); err != nil {
		return nil, err
	}
	c.Scene = c.Scene.WithDefaults()
	c.FilmRange = c.Scene.FilmRange()
	if o.Gradient != 0 {
		const least, most = 0.2, 2.0
		if !(o.Gradient >= least && o.Gradient <= most) {
			return nil, fmt.Errorf("gradient %g is outside %g to %g", o.Gradient, least, most)
		}
		aim := scene.Scene{Stops: c.Scene.Stops, Flare: c.Scene.Flare, ShadowStops: c.Scene.ShadowStops, Today: c.Scene.Today, DensityRange: sensito.NetDensity(o.Gradient) * sensito.NetDensity(c.FilmRange)}
		c.Scene = aim.WithDefaults()
		if err := c.Scene.Check(); err != nil {
			return nil, fmt.Errorf("gradient %g over %.2f log H: %w", o.Gradient, float64(c.FilmRange), err)
		}
	}
	if c.Scene.ScanMax != 0 {
		return nil, errors.New("trials are compared at one gradient, and a greatest density for a scan asks another of each")
	}
	c.Gradient = float64(c.Scene.Wanted(0)) / float64(c.FilmRange)
	return c, nil
}

// distinctNames returns the titles of the trials, numbered where they are the
// same.
func distinctNames(fs []*development.Family) []string {
	count := map[string]int{}
	name := func(f *development.Family) string {
		if f.Trial.Title() != "" {
			return f.Trial.Title()
		}
		return strings.TrimSuffix(f.Trial.Film().Name+", "+f.Trial.Process().String(), ", ")
	}
	for _, f := range fs {
		count[name(f)]++
	}
	seen := map[string]int{}
	out := make([]string, len(fs))
	for i, f := range fs {
		n := name(f)
		out[i] = n
		if seen[n]++; count[n] > 1 {
			out[i] = fmt.Sprintf("%s (%d)", n, seen[n])
		}
	}
	return out
}

// tooFew says that there is nothing to compare, and why.
func (c *Comparison) tooFew(reached int, last error) error {
	u := &sensito.Unanswerable{Reason: fmt.Sprintf("%d of %d trials can be brought to an average gradient of %.2f; a comparison needs two", reached, len(c.Trials), c.Gradient)}
	for _, t := range c.Trials {
		if t.Reason != nil {
			u.Reason += fmt.Sprintf("\n%s: %v", t.Name, t.Reason)
		}
	}
	var why *sensito.Unanswerable
	if errors.As(last, &why) {
		u.Hint = why.Hint
	}
	return u
}

// ofTrial names the trial of an error, whose hint stays.
func ofTrial(name string, err error) error {
	var u *sensito.Unanswerable
	if errors.As(err, &u) {
		return &sensito.Unanswerable{Reason: name + ": " + u.Reason, Hint: u.Hint}
	}
	return fmt.Errorf("%s: %w", name, err)
}

// bring takes the trial to the gradient, by the scene as it is asked of it under the
// conditions of the trial, and then to today.
func (t *Compared) bring(one scene.Scene, today *scene.Adjustment) error {
	p, err := scene.For(t.Family, one)
	if err != nil {
		return err
	}
	if p, err = today.Adjust(p); err != nil {
		return err
	}
	t.Answer, t.Minutes, t.BaseFog = p, &p.Minutes, &p.BaseFog
	for _, w := range p.Warnings {
		switch w.Code {
		case "other_paper":
			continue // advice for a session
		case "short_time", "longer_time":
			if p.Tested() == p {
				continue // so is this, unless the comparison is for one, with the times of today
			}
		}
		t.Warnings = append(t.Warnings, w)
	}
	t.takeSpeed()
	return t.findShape()
}

// takeSpeed takes the speed point of the answer, with the error of the exposures
// apart.
func (t *Compared) takeSpeed() {
	tested := t.Answer.Tested().SpeedPoint
	t.speedPoint, t.SpeedPoint = tested, tested
	t.SpeedPoint.AddCommon(t.Family.Trial.Exposures().CommonSD())
	if t.Family.Trial.Exposures().Absolute() {
		t.Speed = curve.SpeedEstimate(t.SpeedPoint, sensito.SpeedAt)
	}
}

// GradientAt returns the average gradient over the comparison's run at a
// development time.
func (t *Compared) GradientAt(m sensito.Minutes) float64 {
	return t.Answer.Growth.At(float64(m)) / float64(t.Answer.FilmRange)
}

// SpeedPointAt returns where the speed point lies at an average gradient over
// the comparison's run, NaN for one that development does not reach.
func (t *Compared) SpeedPointAt(gradient float64) sensito.LogExposure {
	minutes, err := t.Answer.Growth.Time(gradient * float64(t.Answer.FilmRange))
	if err != nil {
		return sensito.LogExposure(math.NaN())
	}
	return sensito.LogExposure(t.Family.SpeedPoints.At(t.Family.Development(minutes)))
}

// StripAtRun is what one strip of a compared trial shows over the comparison's
// run.
type StripAtRun struct {
	Minutes    sensito.Minutes
	Gradient   float64 // average over the run
	SpeedPoint sensito.LogExposure
}

// Strips returns the strips that reach over the run, by rising time.
func (t *Compared) Strips() []StripAtRun {
	var out []StripAtRun
	for _, m := range t.Family.Strips {
		h, err := curve.SpeedPoint(m.Fit.Curve)
		if err != nil {
			continue
		}
		if r, err := t.Answer.Placement().Run().Rise(m.Fit.Curve, h); err == nil {
			out = append(out, StripAtRun{Minutes: m.Minutes(), Gradient: r / float64(t.Answer.FilmRange), SpeedPoint: h})
		}
	}
	return out
}

// gatherWarnings puts together what is said of all trials.
func (c *Comparison) gatherWarnings() {
	var all sensito.Warnings
	for _, t := range c.Trials {
		if t.Reason != nil {
			all = append(all, sensito.Warn("not_compared", t.Name, t.Reason))
		}
		for _, w := range t.Warnings {
			all = append(all, w.Within(t.Name))
		}
	}
	c.Warnings = append(append(sensito.Warnings{}, all...), c.Warnings...)
}

// correct brings the speed to the process of today; the answer's time is there.
func (t *Compared) correct(today *scene.Adjustment) {
	if !today.Corrects() {
		return
	}
	t.UncorrectedSpeed, t.Speed = t.Speed, today.Speed(t.Speed)
	t.SpeedPoint, t.speedPoint = today.Drift.SpeedPoint(t.SpeedPoint), today.Drift.SpeedPoint(t.speedPoint)
}
