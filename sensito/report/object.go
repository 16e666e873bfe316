package report

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// object is a JSON object that keeps the order of its keys; nil is null.
type object []member

// member is one key of an object, with its value.
type member struct {
	key   string
	value any
}

// MarshalJSON writes the members in order.
func (o object) MarshalJSON() ([]byte, error) { return o.appendTo(make([]byte, 0, 2048)) }

// appendTo appends the members in order, as encoding/json would write them.
func (o object) appendTo(out []byte) ([]byte, error) {
	if o == nil {
		return append(out, "null"...), nil
	}
	out = append(out, '{')
	for i, m := range o {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(appendString(out, m.key), ':')
		var err error
		if out, err = appendValue(out, m.value); err != nil {
			return nil, fmt.Errorf("%s: %w", m.key, err)
		}
	}
	return append(out, '}'), nil
}

// appendValue appends a value as encoding/json would write it. That looks at what each
// part has written once more, which for objects within objects takes most of the time;
// so it is asked only for what is rare.
func appendValue(out []byte, value any) ([]byte, error) {
	switch v := value.(type) {
	case nil:
		return append(out, "null"...), nil
	case object:
		return v.appendTo(out)
	case []object:
		return appendList(out, v, object.appendTo)
	case *Quantity:
		if v == nil {
			return append(out, "null"...), nil
		}
		if sum := v.Value + v.SD; !math.IsNaN(sum+float64(v.Low)+float64(v.High)) && !math.IsInf(sum, 0) {
			return v.appendTo(out), nil
		}
	case json.Marshaler: // of whatever kind
	case sensito.Warnings:
		if v != nil && len(v) == 0 {
			return append(out, "[]"...), nil
		}
	case string:
		return appendString(out, v), nil
	default:
		switch r := reflect.ValueOf(value); {
		case r.Kind() == reflect.Pointer && r.IsNil():
			return append(out, "null"...), nil
		case r.Kind() == reflect.Float64:
			if f := r.Float(); !math.IsNaN(f) && !math.IsInf(f, 0) {
				return appendNumber(out, f), nil
			}
		case r.Kind() == reflect.Int:
			return strconv.AppendInt(out, r.Int(), 10), nil
		case r.Kind() == reflect.Slice && r.Len() == 0 && !r.IsNil():
			return append(out, "[]"...), nil
		}
	}
	text, err := json.Marshal(value)
	return append(out, text...), err
}

// appendList appends values in order.
func appendList[T any](out []byte, list []T, one func(T, []byte) ([]byte, error)) ([]byte, error) {
	out = append(out, '[')
	for i, v := range list {
		if i > 0 {
			out = append(out, ',')
		}
		var err error
		if out, err = one(v, out); err != nil {
			return nil, err
		}
	}
	return append(out, ']'), nil
}

// appendString appends a text in quotes, with escapes where encoding/json has them.
func appendString(out []byte, s string) []byte {
	for _, c := range []byte(s) {
		if c < ' ' || c >= utf8.RuneSelf || strings.IndexByte(`"\\<>&`, c) >= 0 {
			text, _ := json.Marshal(s) // which takes any string
			return append(out, text...)
		}
	}
	return append(append(append(out, '"'), s...), '"')
}

// appendNumber appends a finite number in the shortest form that gives it back, as
// encoding/json writes it.
func appendNumber(out []byte, v float64) []byte {
	if size := math.Abs(v); size == 0 || size >= 1e-6 && size < 1e21 {
		return strconv.AppendFloat(out, v, 'f', -1, 64)
	}
	text, _ := json.Marshal(v)
	return append(out, text...)
}

// appendTo appends the quantity, which is finite but for its ends.
func (q *Quantity) appendTo(out []byte) []byte {
	out = appendNumber(append(out, `{"value":`...), q.Value)
	out = appendNumber(append(out, `,"sd":`...), q.SD)
	out = q.Low.appendTo(append(out, `,"low":`...))
	out = q.High.appendTo(append(out, `,"high":`...))
	out = appendString(append(out, `,"unit":`...), q.Unit)
	return append(out, '}')
}

// appendTo appends the number, or null for an infinite end.
func (b Bound) appendTo(out []byte) []byte {
	if math.IsInf(float64(b), 0) {
		return append(out, "null"...)
	}
	return appendNumber(out, float64(b))
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
