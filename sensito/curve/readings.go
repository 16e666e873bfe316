package curve

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve/internal/alike"
)

// What is known of film before it is read (common practice, no source): most
// toes are 0.06 to 0.29 log H wide and most shoulders wider, and the part
// between is nearly straight; steeper film has sharper corners. It matters where a
// strip does not reach down to the base, or has few steps to a corner, and hardly
// anywhere else.
var (
	toeWidthPrior      = fit.Prior{Typical: 0.13, LnSD: 0.8}
	powerPrior         = fit.Prior{Typical: 1, LnSD: 0.15}
	shoulderWidthPrior = fit.Prior{Typical: 0.25, LnSD: 0.7}
)

// sharper is the power of a gradient above 1 that usual corners are narrower by (common
// practice, no source). Without it a steep film under a coarse wedge has its corners too
// round and too sure. TestBlindSteepWedges holds it.
const sharper = 0.75

// leastShoulder is the sharpest shoulder of a film, in log H, and where the film is
// steeper than a gradient of 1 in density (common practice, no source): films for
// line work end at their greatest density within a step. A sharper one is a slip at
// the last step. TestBlindSteepStrips and the tests of slips hold it.
const leastShoulder = 0.10

// What is known of paper before it is read (common practice, no source): most
// toes are 0.02 to 0.15 log H wide and most shoulders 0.03 to 0.3, and wider on
// papers of long scale; a wedge is meant to reach black, so that a sharp
// shoulder is no slip.
var (
	paperToePrior      = fit.Prior{Typical: 0.08, LnSD: 1.2}
	paperShoulderPrior = fit.Prior{Typical: 0.12, LnSD: 1.2}
)

const leastPaperShoulder = 0.02

// readings are the usable readings of a strip in rising order of exposure,
// the form that package fit takes.
type readings struct {
	fit.BendData
	step     []int      // step numbers, as X and Y
	scale    float64    // see choose
	rounding float64    // variance that rounding gives, in units of that of Sigma
	alike    float64    // that of errors that all strips have alike, in the same
	smooth   *candidate // through all of them, once it is known
}

func newReadings(strip *sensito.Strip) readings {
	errors := alike.NewErrors(strip.Trial())
	r := readings{BendData: fit.BendData{
		Sigma:    errors.ReadingSD(strip),
		ToeWidth: toeWidthPrior, Power: powerPrior, ShoulderWidth: shoulderWidthPrior,
		LeastShoulder: leastShoulder,
	}}
	if strip.Trial().Material() == sensito.PaperMaterial {
		r.ToeWidth, r.ShoulderWidth, r.LeastShoulder = paperToePrior, paperShoulderPrior, leastPaperShoulder
	}
	steps := strip.Steps()
	if falls(steps) { // as under a wedge from its thin end
		slices.Reverse(steps)
	}
	slices.SortStableFunc(steps, func(a, b sensito.Step) int { return cmp.Compare(a.LogH, b.LogH) })
	n, base := len(steps), strip.BaseFog()
	all := make([]float64, 2*n+len(base))
	r.X, r.Y, r.Base = all[:0:n], all[n:n:2*n], all[2*n:]
	r.step = make([]int, 0, len(steps))
	for _, s := range steps {
		if s.Read() {
			r.X = append(r.X, float64(s.LogH))
			r.Y = append(r.Y, float64(s.Density))
			r.step = append(r.step, s.Number)
		}
	}
	for i, d := range base {
		r.Base[i] = float64(d)
	}
	more := errors.Variance(strip, r.step, r.X, r.Y)
	r.Sigma = math.Sqrt(r.Sigma*r.Sigma + more)
	r.alike = more / (r.Sigma * r.Sigma)
	r.rounding = strip.RoundingVariance() / (r.Sigma * r.Sigma)
	if r.LeastShoulder == leastShoulder {
		steep := math.Max(1, r.steepest())
		r.LeastShoulder /= steep
		r.ToeWidth.Typical /= math.Pow(steep, sharper)
		r.ShoulderWidth.Typical /= math.Pow(steep, sharper)
	}
	return r
}

// falls says whether the exposure falls from each step to the next.
func falls(steps []sensito.Step) bool {
	for i := 1; i < len(steps); i++ {
		if !(steps[i].LogH < steps[i-1].LogH) {
			return false
		}
	}
	return true
}

// steepest returns the largest gradient over two steps, which one reading does not
// make.
func (r readings) steepest() float64 {
	most := 0.0
	for i := 2; i < len(r.X); i++ {
		most = math.Max(most, (r.Y[i]-r.Y[i-2])/(r.X[i]-r.X[i-2]))
	}
	return most
}

const (
	// MinReadings is the fewest usable readings that FitStrip takes, two more than
	// the plainest curve has parameters.
	MinReadings = 6

	minSpan = 0.5 // log H, less than which no toe fits into
)

// check refuses strips that no curve can be fitted to.
func (r readings) check(strip *sensito.Strip) error {
	if len(r.X) < MinReadings {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d has %d usable readings; a curve needs %d", strip.Number(), len(r.X), MinReadings),
			Hint:   "read more steps, from the base to the densest",
		}
	}
	places := 1
	for i, x := range r.X[1:] {
		if x != r.X[i] {
			places++
		}
	}
	if span := r.X[len(r.X)-1] - r.X[0]; places < MinReadings || span < minSpan {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d has readings at %d exposures over %.2f log H; a curve needs %d over %.2f", strip.Number(), places, span, MinReadings, minSpan),
			Hint:   "read more steps, from the base to the densest",
		}
	}
	low, high := slices.Min(r.Y), slices.Max(r.Y)
	if high-low < 0.2 {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d spans a density of only %.2f; a curve needs 0.20", strip.Number(), high-low),
			Hint:   "expose so that the steps cover the toe and the straight line",
		}
	}
	n := len(r.Y)
	third := n / 3
	if stat.Mean(r.Y[:third], nil) > stat.Mean(r.Y[n-third:], nil) {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d gets lighter with more exposure: its readings run against the order of the wedge", strip.Number()),
			Hint:   "give the wedge or the readings from the other end",
		}
	}
	return nil
}

// farBelow is how many standard deviations of a reading the foot of a strip lies below
// its base at least, where it was read from another zero (TestFootBelowBase).
const farBelow = 4

// footBelowBase returns the means of the readings of the base and of the three faintest
// steps, and whether those lie so far below the base, by half of it at least, as no film
// has them: densities were read with the base taken off.
func footBelowBase(r fit.BendData) (base, foot float64, far bool) {
	if len(r.Base) == 0 {
		return 0, 0, false
	}
	base, foot = stat.Mean(r.Base, nil), stat.Mean(r.Y[:3], nil)
	return base, foot, foot < base/2 && base-foot > farBelow*r.Sigma
}

// without returns the readings less those named, the base counted after the steps.
func (r readings) without(drop []int) readings {
	if len(drop) == 0 {
		return r
	}
	out := r
	all := make([]float64, 0, 2*len(r.X)+len(r.Base))
	at := func(n int) []float64 { return all[n : n : n+len(r.X)] }
	out.X, out.Y, out.Base = at(0), at(len(r.X)), all[2*len(r.X):2*len(r.X)]
	out.step, out.smooth = make([]int, 0, len(r.X)), nil
	for i := range r.X {
		if !slices.Contains(drop, i) {
			out.X = append(out.X, r.X[i])
			out.Y = append(out.Y, r.Y[i])
			out.step = append(out.step, r.step[i])
		}
	}
	for i, y := range r.Base {
		if !slices.Contains(drop, len(r.X)+i) {
			out.Base = append(out.Base, y)
		}
	}
	return out
}

// count returns the number of readings. They are counted through: those of the
// steps first, then those of the base.
func (r readings) count() int { return len(r.X) + len(r.Base) }

// inUse returns the readings but those left out.
func (r readings) inUse(drop []int) []int {
	out := make([]int, 0, r.count())
	for i := range r.count() {
		if !slices.Contains(drop, i) {
			out = append(out, i)
		}
	}
	return out
}
