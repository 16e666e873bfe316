package sensito

import (
	"errors"
	"fmt"
)

// ErrOutOfRange says that a curve does not reach the density or exposure asked
// for.
var ErrOutOfRange = errors.New("outside the range of the curve")

// ErrRelativeExposure says that a speed was asked of a strip whose exposures
// are known only up to a common factor.
var ErrRelativeExposure = errors.New("the exposures are relative, so there is contrast but no speed")

// ErrNoUncertainty says that a quantity's error is unknown, so that the
// quantity is not given.
var ErrNoUncertainty = errors.New("no uncertainty")

// A FieldError is a fault in one value of a trial. Key is the value's place in
// a notebook file, such as "exposure.wedge[3]" or "strip[2].minutes", counting
// from 1; Reason names the value and the limit.
type FieldError struct {
	Key, Reason string
}

func (e *FieldError) Error() string { return e.Key + ": " + e.Reason }

// faults collects the field errors of one constructor, so that all are
// reported together.
type faults []error

func (f *faults) add(key, format string, args ...any) {
	*f = append(*f, &FieldError{Key: key, Reason: fmt.Sprintf(format, args...)})
}

// within checks lo <= v <= hi; NaN fails.
func (f *faults) within(key string, v, lo, hi float64, unit string) {
	if !(v >= lo && v <= hi) {
		f.add(key, "%g%s is outside %g to %g%s", v, unit, lo, hi, unit)
	}
}

func (f faults) err() error { return errors.Join(f...) }

// An Unanswerable error says that the data are sound but cannot give what was
// asked. Hint says what to measure or change.
type Unanswerable struct {
	Reason, Hint string
}

func (e *Unanswerable) Error() string { return e.Reason }
