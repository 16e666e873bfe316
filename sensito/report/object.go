package report

import (
	"fmt"
	"math"

	"sensito/sensito/curve"
	"sensito/sensito/printable"
)

// object is a JSON object that keeps the order of its keys; nil is null.
type object []member

// member is one key of an object, with its value.
type member struct {
	key   string
	value any
}

// MarshalJSON writes the members in order.
func (o object) MarshalJSON() ([]byte, error) { return o.AppendJSON(make([]byte, 0, 2048)) }

// AppendJSON appends the members in order.
func (o object) AppendJSON(out []byte) ([]byte, error) {
	if o == nil {
		return append(out, "null"...), nil
	}
	out = append(out, '{')
	for i, m := range o {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(append(append(out, '"'), m.key...), `":`...)
		var err error
		if out, err = printable.AppendJSON(out, m.value); err != nil {
			return nil, fmt.Errorf("%s: %w", m.key, err)
		}
	}
	return append(out, '}'), nil
}

// finite returns a number, nil for one without an end.
func finite(v float64) any {
	if math.IsInf(v, 0) {
		return nil
	}
	return v
}

// known returns a number, nil for NaN, which means that there is none.
func known(v float64) any {
	if math.IsNaN(v) {
		return nil
	}
	return v
}

// list is a list of objects, which is not null.
type list []object

// AppendJSON appends the objects in order.
func (l list) AppendJSON(out []byte) ([]byte, error) {
	out = append(out, '[')
	for i, o := range l {
		if i > 0 {
			out = append(out, ',')
		}
		var err error
		if out, err = o.AppendJSON(out); err != nil {
			return nil, err
		}
	}
	return append(out, ']'), nil
}

// objects returns the object of each item, an empty list for none.
func objects[T any](items []T, of func(T) object) list {
	out := make(list, len(items))
	for i, item := range items {
		out[i] = of(item)
	}
	return out
}

// fitted returns what a report says of the fit of a strip, which is nil where no
// curve could be had.
func fitted(f *curve.Fit) (model, residualSD any, setAside list) {
	if f == nil {
		return nil, nil, list{}
	}
	return f.Model, f.ResidualSD, objects(f.SetAside, func(a curve.SetAside) object {
		return object{{"step", a.Step}, {"density", a.Density}, {"expected", a.Expected}}
	})
}
