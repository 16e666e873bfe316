package entry

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"sensito/sensito"
)

// order is what is known of the order in which readings come that do not say
// which step they are of.
type order struct {
	first  int          // the step with which they begin
	stated bool         // something has said that the step at hand comes next
	far    int          // the step whose reading was far off just before; 0 for none
	stale  map[int]bool // steps whose readings tell nothing until they are taken again
}

// An OrderError says that readings are not of the steps in their order.
type OrderError struct {
	Step   int    // at which the order was lost at the latest, from 1
	Reason string // in words
}

// Error returns the reason.
func (e *OrderError) Error() string { return e.Reason }

// InOrder says that from now on readings come one step after the other from the
// step at hand, and that nobody is asked for them: CheckOrder then judges them.
// What was read of these steps before stays until they are read again, but
// nothing is expected by it.
func (k *Keying) InOrder() {
	k.order = order{first: k.at, stated: k.at > 1 || k.Begun(), stale: map[int]bool{}}
	for step := k.at; step <= k.Steps(); step++ {
		k.order.stale[step] = len(k.Readings(step)) > 0
	}
}

// StateOrder says that the step at hand is the one that comes next, and not base
// plus fog.
func (k *Keying) StateOrder() { k.order.stated = true }

// telling returns the strip without readings that tell nothing.
func (k *Keying) telling() sensito.StripSpec {
	s := k.spec
	s.Density, s.Repeats = slices.Clone(s.Density), maps.Clone(s.Repeats)
	for step, stale := range k.order.stale {
		if stale {
			s.Density[step-1] = sensito.Density(math.NaN())
			delete(s.Repeats, step)
		}
	}
	return s
}

// CheckOrder judges readings that are taken for the step at hand because of their
// place alone, before they are taken. It returns an *OrderError and goes back to
// its Step where they may well be of something else: a first reading may be base
// plus fog, one comes after the last step, two in a row are far from what is
// expected, or the readings run against the exposures.
func (k *Keying) CheckOrder(readings ...sensito.Density) error {
	o := &k.order
	step := k.at
	if !o.stated {
		if _, _, far := k.FogFarOff(readings...); !far {
			return k.outOfOrder(step, "%s may be base plus fog or step %d, and nothing says which comes first", k.trial.Reading().Written(readings[0]), step)
		}
		o.stated = true
	}
	if k.Done() {
		return k.outOfOrder(o.first, "%s comes after the last of %d steps, so the readings before it may be of other steps than they were taken for", k.trial.Reading().Written(readings[0]), k.Steps())
	}
	before := o.far
	o.far = 0
	if _, _, far := k.FarOff(readings...); far {
		o.far = step
	}
	if o.far > 0 && before > 0 {
		return k.outOfOrder(before, "steps %d and %d both read far from what is expected, so the readings may be of other steps", before, step)
	}
	s := k.telling()
	s.Density[step-1] = sensito.AverageDensity(readings)
	if k.contrary(s.Density) {
		return k.outOfOrder(o.first, "the readings up to step %d fall where the exposures rise, so they are of other steps or the strip was read from its other end", step)
	}
	return nil
}

func (k *Keying) outOfOrder(step int, format string, args ...any) error {
	k.at, k.ret, k.whole = step, 0, false
	return &OrderError{step, fmt.Sprintf(format, args...)}
}

// Contrary says whether the densities read so far fall where the exposures rise,
// as they do when a strip is read from its other end or when readings of
// something else come before its steps.
func (k *Keying) Contrary() bool { return k.contrary(k.telling().Density) }

// Readings run against the exposures when at least so many of them correlate with
// log H below this value, over more than this density (common practice, no
// source): one slip among four does not do it, nor does the scatter of base plus
// fog. Honest strips and lists that are shifted or reversed: TestOrderBlind.
const (
	fewestContrary                      = 4
	contraryCorrelation                 = -0.8
	leastContrary       sensito.Density = 0.15
)

func (k *Keying) contrary(density []sensito.Density) bool {
	var x, y []float64
	logH, read := k.trial.Exposures().LogH(), k.trial.Reading()
	for i, d := range density {
		if !unread(d) {
			x, y = append(x, float64(logH[i])), append(y, float64(read.Density(d)))
		}
	}
	return len(x) >= fewestContrary && slices.Max(y)-slices.Min(y) > float64(leastContrary) && stat.Correlation(x, y, nil) < contraryCorrelation
}
