package ask

import (
	"maps"
	"slices"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/fit"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/report"
)

// Evaluation is how readings are evaluated: the flags of every question that computes.
type Evaluation struct {
	Level    float64 // of the intervals
	keepAll  bool
	sdFrom   string
	gradient bool // the question has the flags of a gradient
	measure  curve.MeasureOptions
	join     Join

	given func(flag string) bool
}

// A Join returns the family of the trial at a path, its strips measured in a way.
type Join func(path string, o curve.MeasureOptions) (*development.Family, error)

// JoinBy has the trial of film read, and its strips joined, by a function that may know
// them already.
func (q *Evaluation) JoinBy(join Join) { q.join = join }

// Register adds the flags to those of a question.
func (q *Evaluation) Register(f *pflag.FlagSet) {
	q.given = f.Changed
	f.Float64Var(&q.Level, "confidence", report.DefaultConfidence, "level of the intervals, between 0.5 and 0.999")
	f.BoolVar(&q.keepAll, "keep-all", false, "use every reading, even one that cannot belong to the curve")
	f.StringVar(&q.sdFrom, "sd-from", "scatter", "standard deviation of a reading: from the scatter about the curve, or the notebook's repeatability")
}

// RegisterGradient adds the flags of the average gradient.
func (q *Evaluation) RegisterGradient(f *pflag.FlagSet) {
	const defaultSpan = 1.50
	q.gradient = true
	f.Float64Var((*float64)(&q.measure.Gradient.From), "gradient-from", float64(curve.SpeedPointDensity), "net density where the average gradient starts")
	f.Float64Var((*float64)(&q.measure.Gradient.Span), "gradient-span", defaultSpan, "log exposure over which the average gradient is taken")
	f.Float64Var((*float64)(&q.measure.Gradient.To), "gradient-to", 0, "net density where the average gradient ends, in place of a span")
	f.BoolVar(&q.measure.Gradient.Arc, "gradient-arc", false, "measure the span as the straight distance to the curve")
}

// noises are the values of --sd-from.
var noises = map[string]fit.Noise{"scatter": fit.NoiseFromResiduals, "repeatability": fit.NoiseGiven}

// Noises returns the values of --sd-from.
func Noises() []string { return slices.Sorted(maps.Keys(noises)) }

// CheckLevel returns a usage error for a level that intervals cannot have.
func CheckLevel(level float64) error {
	if !(level >= 0.5 && level <= 0.999) {
		return console.Usagef("--confidence %g is outside 0.5 to 0.999", level)
	}
	return nil
}

// Measure returns how strips are measured. The error is of usage, for a flag that is
// outside its limits.
func (q *Evaluation) Measure() (curve.MeasureOptions, error) {
	measure := q.measure
	if err := CheckLevel(q.Level); err != nil {
		return measure, err
	}
	var known bool
	if measure.Fit.Noise, known = noises[q.sdFrom]; !known {
		return measure, console.Usagef("--sd-from %q is neither scatter nor repeatability", q.sdFrom)
	}
	measure.Fit.KeepAll = q.keepAll
	if !q.gradient {
		return measure, nil
	}
	g := measure.Gradient
	if !(g.From >= 0.01 && g.From <= 4) {
		return measure, console.Usagef("--gradient-from %g is outside 0.01 to 4", g.From)
	}
	ended := q.given("gradient-to")
	if ended && !(g.To >= g.From+0.1 && g.To <= 6) {
		return measure, console.Usagef("--gradient-to %g is outside %g to 6", g.To, g.From+0.1)
	}
	if ended && (g.Arc || q.given("gradient-span")) {
		return measure, console.Usagef("--gradient-to takes the place of --gradient-span and --gradient-arc: give one of them")
	}
	if !(g.Span >= 0.1 && g.Span <= 5) {
		return measure, console.Usagef("--gradient-span %g is outside 0.1 to 5", g.Span)
	}
	return measure, nil
}

// Family reads a trial of film and joins its strips.
func (q *Evaluation) Family(s Files, path string) (*development.Family, error) {
	measure, err := q.Measure()
	if err != nil {
		return nil, err
	}
	if q.join != nil {
		return q.join(path, measure)
	}
	trial, err := s.Film(path)
	if err != nil {
		return nil, err
	}
	return development.NewFamily(trial, measure)
}
