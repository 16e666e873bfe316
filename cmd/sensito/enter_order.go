package main

import (
	"fmt"

	"sensito/sensito"
)

// order is what is known of the order in which readings come when nobody is
// asked for them one by one. A reading that is taken for the wrong step shifts
// all that follow.
type order struct {
	stated bool // a line or a flag has said what comes first, or the strip was begun before
	first  int  // the step at which this run began
	far    int  // the step whose reading was far off just before; 0 for none
	told   bool // that readings run against the exposures
}

func (o *order) begin(e *enterer) {
	o.first = e.At()
	if !e.asks {
		e.Anew()
	}
	o.stated = o.stated || e.asks || e.Begun() || e.At() > 1
}

// An orderError says that readings do not come in the order of the steps. The
// strip then goes on where that went wrong.
type orderError struct{ text string }

func (o *orderError) Error() string { return o.text }

// outOfOrder goes back to a step and returns an orderError.
func (e *enterer) outOfOrder(step int, format string, args ...any) error {
	if step < e.At() {
		if err := e.BackTo(step); err != nil {
			return err
		}
	}
	return hinted{&orderError{fmt.Sprintf(format, args...)}, "a line can say what it is: fog 0.11, or step 5 1.13; --fog N says that N readings of base plus fog come first"}
}

// readInOrder takes readings of the step at hand from a line that does not say
// which step it is of, when nobody can be asked: it is refused where it may be of
// another.
func (e *enterer) readInOrder(readings []sensito.Density) error {
	o := &e.order
	if !o.stated {
		if _, _, far := e.FogFarOff(readings...); !far {
			return e.outOfOrder(e.At(), "%s may be base plus fog or step %d, and nothing says which comes first", densities(readings), e.At())
		}
		o.stated = true
	}
	step := e.At()
	if e.Done() {
		return e.outOfOrder(o.first, "%s comes after the last of %d steps, so the readings before it may be of other steps than they were taken for", densities(readings), e.Steps())
	}
	_, _, far := e.FarOff(readings...)
	if err := e.read(readings, false); err != nil {
		return err
	}
	before := o.far
	o.far = 0
	if far {
		o.far = step
	}
	switch {
	case far && before > 0:
		return e.outOfOrder(before, "steps %d and %d both read far from what is expected, so the readings may be of other steps", before, step)
	case e.Against():
		return e.outOfOrder(o.first, "the readings up to step %d fall where the exposures rise, so they are of other steps or the strip was read from its other end", step)
	}
	return nil
}
