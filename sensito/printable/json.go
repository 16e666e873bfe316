package printable

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"
)

// An Appender appends itself as JSON.
type Appender interface {
	AppendJSON(out []byte) ([]byte, error)
}

// AppendJSON appends a value as encoding/json would write it. That looks at what each
// part has written once more, which for objects within objects takes most of the time;
// so it is asked only for what is rare.
func AppendJSON(out []byte, value any) ([]byte, error) {
	switch v := value.(type) {
	case nil:
		return append(out, "null"...), nil
	case Appender:
		return v.AppendJSON(out)
	case json.Marshaler: // of whatever kind
	case string:
		return AppendString(out, v), nil
	case float64:
		return AppendNumber(out, v)
	case *bool:
		if v == nil {
			return append(out, "null"...), nil
		}
		return strconv.AppendBool(out, *v), nil
	default:
		switch r := reflect.ValueOf(value); {
		case r.Kind() == reflect.Pointer && r.IsNil():
			return append(out, "null"...), nil
		case r.Kind() == reflect.Float64:
			return AppendNumber(out, r.Float())
		case r.Kind() == reflect.Int:
			return strconv.AppendInt(out, r.Int(), 10), nil
		case r.Kind() == reflect.Slice && !r.IsNil() && (r.Len() == 0 || r.Type().Elem().Implements(appender)):
			out = append(out, '[')
			for i := range r.Len() {
				if i > 0 {
					out = append(out, ',')
				}
				var err error
				if out, err = AppendJSON(out, r.Index(i).Interface()); err != nil {
					return nil, err
				}
			}
			return append(out, ']'), nil
		}
	}
	text, err := json.Marshal(value)
	return append(out, text...), err
}

// An Object is a JSON object that keeps the order of its members, each a key, which is a
// string, and its value; nil is null.
type Object [][2]any

// MarshalJSON writes the members in order.
func (o Object) MarshalJSON() ([]byte, error) { return o.AppendJSON(make([]byte, 0, 2048)) }

// AppendJSON appends the members in order.
func (o Object) AppendJSON(out []byte) ([]byte, error) {
	if o == nil {
		return append(out, "null"...), nil
	}
	out = append(out, '{')
	for i, m := range o {
		if i > 0 {
			out = append(out, ',')
		}
		key := m[0].(string)
		out = append(append(append(out, '"'), key...), `":`...)
		var err error
		if out, err = AppendJSON(out, m[1]); err != nil {
			return nil, fmt.Errorf("%s: %w", key, err)
		}
	}
	return append(out, '}'), nil
}

var appender = reflect.TypeFor[Appender]()

// AppendString appends a text in quotes, with escapes where encoding/json has them.
func AppendString(out []byte, s string) []byte {
	for _, c := range []byte(s) {
		if c < ' ' || c >= utf8.RuneSelf || strings.IndexByte(`"\<>&`, c) >= 0 {
			text, _ := json.Marshal(s) // which takes any string
			return append(out, text...)
		}
	}
	return append(append(append(out, '"'), s...), '"')
}

// AppendNumber appends a number in the shortest form that gives it back.
func AppendNumber(out []byte, v float64) ([]byte, error) {
	if size := math.Abs(v); size == 0 || size >= 1e-6 && size < 1e21 {
		return strconv.AppendFloat(out, v, 'f', -1, 64), nil
	}
	text, err := json.Marshal(v) // with an exponent, or an error
	return append(out, text...), err
}
