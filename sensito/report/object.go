package report

import (
	"math"

	"sensito/sensito/curve"
	"sensito/sensito/printable"
)

// object and member are those of JSON.
type (
	object = printable.Object
	member = [2]any
)

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

// words returns nil for "", which means that nothing is stated.
func words(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// stated returns nil for zero, which means that there is none.
func stated(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return &v
}

// numbered returns a number from 1 on, nil for 0.
func numbered(n int) *int {
	if n == 0 {
		return nil
	}
	return &n
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
