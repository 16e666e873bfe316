// Package check collects what is wrong with the values that a constructor is
// given, so that all of it is reported together. Begin with Faults.
package check

import (
	"errors"
	"fmt"

	"sensito/sensito/printable"
)

// A FieldError is a fault in one value of a trial. Key is the value's place in
// a notebook file, such as "exposure.wedge[3]" or "strip[2].minutes", counting
// from 1; Reason names the value and the limit.
type FieldError struct {
	Key, Reason string
}

// Error returns the key and the reason.
func (e *FieldError) Error() string { return e.Key + ": " + e.Reason }

// Faults collects the field errors of one constructor, so that all are
// reported together.
type Faults []error

// Add notes a fault of the value at key.
func (f *Faults) Add(key, format string, args ...any) {
	*f = append(*f, &FieldError{Key: key, Reason: fmt.Sprintf(format, args...)})
}

// Within checks lo <= v <= hi; NaN fails.
func (f *Faults) Within(key string, v, lo, hi float64, unit string) {
	if !(v >= lo && v <= hi) {
		f.Add(key, "%g%s is outside %g to %g%s", v, unit, lo, hi, unit)
	}
}

// WithinAt is Within for the value at place i, from 0, of the list at key. The key of a
// value is made for a fault alone, since it costs more than the value.
func (f *Faults) WithinAt(key string, i int, v, lo, hi float64, unit string) {
	if !(v >= lo && v <= hi) {
		f.Within(fmt.Sprintf("%s[%d]", key, i+1), v, lo, hi, unit)
	}
}

// Join notes the faults that another constructor or check has joined in err.
func (f *Faults) Join(err error) {
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		*f = append(*f, joined.Unwrap()...)
	} else if err != nil {
		*f = append(*f, err)
	}
}

// Err returns all faults joined, nil when there are none.
func (f Faults) Err() error { return errors.Join(f...) }

// Line notes a text that printable.CheckLine refuses.
func (f *Faults) Line(key, s string, most int) { f.AddError(key, printable.CheckLine(s, most)) }

// Note notes a text that printable.CheckNote refuses.
func (f *Faults) Note(key, s string) { f.AddError(key, printable.CheckNote(s)) }

// AddError notes what err says of the value at key, nothing where it is nil.
func (f *Faults) AddError(key string, err error) {
	if err != nil {
		f.Add(key, "%v", err)
	}
}

// A Place is a table of a file, in which values are checked. Their keys are made for a
// fault alone: most values have none, and a key costs more than looking at a value.
type Place struct {
	Table  string
	Number int // in a list of tables, from 1; 0 for a table that is alone
}

// key returns the key of a value of the table.
func (p Place) key(name string) string {
	if p.Number > 0 {
		return fmt.Sprintf("%s[%d].%s", p.Table, p.Number, name)
	}
	return p.Table + "." + name
}

// Add is Faults.Add for a value of the table, as are the others for theirs.
func (p Place) Add(f *Faults, name, format string, args ...any) { f.Add(p.key(name), format, args...) }

func (p Place) AddError(f *Faults, name string, err error) {
	if err != nil {
		f.AddError(p.key(name), err)
	}
}

func (p Place) Within(f *Faults, name string, v, lo, hi float64, unit string) {
	if !(v >= lo && v <= hi) {
		f.Within(p.key(name), v, lo, hi, unit)
	}
}

func (p Place) Line(f *Faults, name, s string, most int) {
	p.AddError(f, name, printable.CheckLine(s, most))
}

func (p Place) Note(f *Faults, name, s string) { p.AddError(f, name, printable.CheckNote(s)) }
