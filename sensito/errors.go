package sensito

import (
	"errors"

	"sensito/sensito/internal/check"
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

// A FieldError is a fault in one value of a trial. Its Key is the value's place
// in a notebook file, such as "exposure.wedge[3]" or "strip[2].minutes", counting
// from 1; its Reason names the value and the limit.
type FieldError = check.FieldError

// An Unanswerable error says that the data are sound but cannot give what was
// asked. Hint says what to measure or change.
type Unanswerable struct {
	Reason, Hint string
}

func (e *Unanswerable) Error() string { return e.Reason }
