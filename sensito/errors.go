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
// asked. Hint says what to measure or change. Way names what a caller's own
// interface offers as well, such as an option of a command; "" for nothing.
type Unanswerable struct {
	Reason, Hint string
	Way          Way
}

// Way is something that an interface may offer where no answer can be given.
type Way string

// The ways.
const (
	AnyTemperature Way = "any_temperature" // tell a time outside the limits of hand processing
	Uncorrected    Way = "uncorrected"     // do without the correction by a control log
	SpotReadings   Way = "spot_readings"   // give readings of a shadow and a highlight
	OtherSetting   Way = "other_setting"   // choose another time or aperture
	TestedPaper    Way = "tested_paper"    // name the trial of a paper
)

// Error returns the reason, without the hint.
func (e *Unanswerable) Error() string { return e.Reason }
