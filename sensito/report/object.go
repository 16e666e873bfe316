package report

import (
	"encoding/json"
	"fmt"

	"sensito/sensito/curve"
)

// object is a JSON object that keeps the order of its keys; nil is null.
type object []member

// member is one key of an object, with a value that encoding/json writes.
type member struct {
	key   string
	value any
}

// MarshalJSON writes the members in order.
func (o object) MarshalJSON() ([]byte, error) {
	if o == nil {
		return []byte("null"), nil
	}
	out := []byte("{")
	for i, m := range o {
		value, err := json.Marshal(m.value)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", m.key, err)
		}
		if i > 0 {
			out = append(out, ',')
		}
		out = fmt.Appendf(out, "%q:%s", m.key, value)
	}
	return append(out, '}'), nil
}

// objects returns the object of each item, an empty list for none.
func objects[T any](items []T, of func(T) object) []object {
	out := []object{}
	for _, item := range items {
		out = append(out, of(item))
	}
	return out
}

// fitted returns what a report says of the fit of a strip, which is nil where no
// curve could be had.
func fitted(f *curve.Fit) (model, residualSD any, setAside []object) {
	if f == nil {
		return nil, nil, []object{}
	}
	return f.Model, f.ResidualSD, objects(f.SetAside, func(a curve.SetAside) object {
		return object{{"step", a.Step}, {"density", a.Density}, {"expected", a.Expected}}
	})
}
