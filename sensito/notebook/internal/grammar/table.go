package grammar

import (
	"bytes"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Table gives the values of one TOML table by type and notes every fault.
type Table struct {
	*Faults
	Path   string         // key of the table; "" for the file's own
	Values map[string]any // as decoded, by name; nil for an empty table; see AsList
}

// Sub returns the table at key, empty when it is missing, and refuses names
// that are not known.
func (t *Table) Sub(key string, known ...string) *Table {
	s := &Table{Faults: t.Faults, Path: Below(t.Path, key)}
	switch v := t.Values[key].(type) {
	case nil:
	case map[string]any:
		s.Values = v
	default:
		t.Wrong(s.Path, "a table", v)
	}
	s.RefuseOthers(known)
	return s
}

// RefuseOthers reports every key that is not among those known, with the nearest of
// them.
func (t *Table) RefuseOthers(known []string) {
	var others []string
	for key := range t.Values {
		if !slices.Contains(known, key) {
			others = append(others, key)
		}
	}
	slices.Sort(others)
	for _, key := range others {
		near := Nearest(key, known)
		if near == "" {
			t.Add(t.Key(key), "unknown key")
			continue
		}
		t.Add(t.Key(key), "unknown key; did you mean %q?", near)
		if !t.Has(near) {
			t.Hide(t.Key(near)) // it is not missing, it is misspelt
		}
	}
}

// Key returns the key of a name in the table, as faults have it.
func (t *Table) Key(name string) string { return Below(t.Path, name) }

// Has says whether the table has the name, with a value of whatever type.
func (t *Table) Has(name string) bool { return t.Values[name] != nil }

// Need reports a missing value and says whether it is there.
func (t *Table) Need(name string) bool {
	if !t.Has(name) && !t.Hidden(t.Key(name)) {
		t.Add(t.Key(name), "is missing")
	}
	return t.Has(name)
}

// Text returns the value of a string, "" when it is missing.
func (t *Table) Text(name string) string {
	s, ok := t.Values[name].(string)
	if !ok && t.Has(name) {
		t.Wrong(t.Key(name), "text in quotes", t.Values[name])
	}
	return s
}

// Number returns a finite number, NaN when it is missing.
func (t *Table) Number(name string) float64 {
	v := t.Values[name]
	if v == nil {
		return math.NaN()
	}
	if x, ok := number(v); ok {
		return x // without the key, which is made for a fault alone
	}
	return t.Finite(t.Key(name), v, false)
}

// number returns the finite number that a value is.
func number(v any) (x float64, ok bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, !math.IsInf(v, 0) && !math.IsNaN(v)
	}
	return 0, false
}

// Nonzero returns a finite number, 0 when it is missing. A zero in the file is
// refused, for to the domain a zero means that nothing was said.
func (t *Table) Nonzero(name string) float64 {
	if !t.Has(name) {
		return 0
	}
	x := t.Number(name)
	if x == 0 {
		t.Add(t.Key(name), "must not be 0; leave the key out if it is not known")
	}
	return x
}

// Numbers returns a list of finite numbers, with NaN for faulty ones and, where
// gaps is set, for those written nan. It is nil when the list is missing.
func (t *Table) Numbers(name string, gaps bool) []float64 {
	if xs, ok := t.Listed(name, gaps); ok {
		return xs
	}
	list := t.List(name, "a list of numbers")
	xs := make([]float64, len(list))
	for i, v := range list {
		xs[i] = t.FiniteAt(name, i, v, gaps)
	}
	return xs
}

// Listed returns a list that is of finite numbers alone, or of gaps too, in one piece of
// memory, not to be changed. ok is false for any other value, a fault or not.
func (t *Table) Listed(name string, gaps bool) (xs []float64, ok bool) {
	xs, ok = t.Values[name].([]float64)
	return xs, ok && len(xs) <= MaxReadings &&
		!slices.ContainsFunc(xs, func(x float64) bool { return math.IsInf(x, 0) || math.IsNaN(x) && !gaps })
}

// AsList returns the list that a value is: a []any or, of a list of numbers, a []float64.
func AsList(v any) (list []any, ok bool) {
	xs, ok := v.([]float64)
	if !ok {
		list, ok = v.([]any)
		return list, ok
	}
	list = make([]any, len(xs))
	for i, x := range xs {
		list[i] = x
	}
	return list, true
}

// Integers returns a list of whole numbers; the place of a faulty one holds
// some number, to be hidden by the fault.
func (t *Table) Integers(name string) []int {
	list := t.List(name, "a list of whole numbers")
	ns := make([]int, len(list))
	for i, v := range list {
		n := t.FiniteAt(name, i, v, false)
		switch {
		case math.IsNaN(n): // told by Finite
		case n != math.Trunc(n):
			t.Add(Element(t.Key(name), i), "must be a whole number, not %g", n)
		default:
			ns[i] = int(min(max(n, -1e9), 1e9))
		}
	}
	return ns
}

// Integer returns a whole number from lo to hi, or lo where it is not one.
func (t *Table) Integer(name string, lo, hi int) int {
	n := t.Number(name)
	switch {
	case math.IsNaN(n): // told by Number
	case n != math.Trunc(n):
		t.Add(t.Key(name), "must be a whole number, not %g", n)
	case n < float64(lo) || n > float64(hi):
		t.Add(t.Key(name), "%g is outside %d to %d", n, lo, hi)
	default:
		return int(n)
	}
	return lo
}

// List returns a list, nil where there is none; want names what it should be where
// the value is no list. One of more than MaxReadings is a fault.
func (t *Table) List(name, want string) []any {
	list, ok := AsList(t.Values[name])
	if !ok && t.Has(name) {
		t.Wrong(t.Key(name), want, t.Values[name])
	}
	if len(list) > MaxReadings {
		t.Add(t.Key(name), "has %d values, more than %d", len(list), MaxReadings)
		return nil
	}
	return list
}

// FiniteIn is Finite of the value at place i, from 0, of the list at key. The key of
// a value is made for a fault alone, since it costs more than the value.
func (t *Table) FiniteIn(key string, i int, v any, gap bool) float64 {
	if x, ok := number(v); ok {
		return x
	}
	return t.Finite(Element(key, i), v, gap)
}

// FiniteAt is FiniteIn of the list of a name in the table.
func (t *Table) FiniteAt(name string, i int, v any, gap bool) float64 {
	if x, ok := number(v); ok {
		return x
	}
	return t.Finite(Element(t.Key(name), i), v, gap)
}

// Finite returns the number that a value is, NaN where it is none, which is a fault
// of the key. A written nan is a fault too unless it may stand for a gap.
func (t *Table) Finite(key string, v any, gap bool) float64 {
	var x float64
	switch v := v.(type) {
	case int64:
		x = float64(v)
	case float64:
		x = v
	default:
		t.Wrong(key, "a number", v)
		return math.NaN()
	}
	switch {
	case math.IsInf(x, 0):
		t.Add(key, "must be a finite number, not inf")
		return math.NaN()
	case math.IsNaN(x) && !gap:
		t.Add(key, "must be a number, not nan")
	}
	return x
}

// Wrong reports a value of the wrong type; want names what it should be.
func (t *Table) Wrong(key, want string, v any) {
	t.Add(key, "must be %s, not %s", want, KindOfValue(v))
}

// KindOfValue names the type of a TOML value as a photographer would.
func KindOfValue(v any) string {
	switch v.(type) {
	case string:
		return "text"
	case int64, float64:
		return "a number"
	case bool:
		return "true or false"
	case []any, []float64:
		return "a list"
	case map[string]any:
		return "a table"
	case toml.LocalTime:
		return "a time of day"
	case toml.LocalDate:
		return "a date"
	}
	return "a date with a time"
}

// Nearest returns the known name that is at most two slips away, or "".
func Nearest(name string, known []string) string {
	name = strings.ReplaceAll(strings.ToLower(name), "-", "_")
	best, found := 3, ""
	for _, k := range known {
		if d := slips(name, k); d < best && d < len(k)/2 {
			best, found = d, k
		}
	}
	return found
}

// slips returns how many letters must be changed, added or left out to turn a
// into b (Levenshtein's distance).
func slips(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// Yes returns whether the value is true; a missing one is false.
func (t *Table) Yes(name string) bool {
	v, ok := t.Values[name].(bool)
	if !ok && t.Has(name) {
		t.Wrong(t.Key(name), "true or false", t.Values[name])
	}
	return v
}

// Decode returns the values of the file, none when it is not well-formed.
func Decode(data []byte) *Table {
	root := &Table{Faults: &Faults{}}
	if toml.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), &root.Values) != nil {
		root.Values = nil
	}
	return root
}

// Read returns the values of a whole file, name standing for it in errors. The error is of
// type Errors: the file is not in UTF-8, has too many keys or is not well-formed.
func Read(name string, data []byte) (*Table, error) {
	if fault := NotUTF8(data); fault != "" {
		return nil, Errors{{File: name, Line: 1, Msg: fault}}
	}
	if line := Crowded(data); line > 0 {
		return nil, Errors{{File: name, Line: line, Msg: TooManyKeys}}
	}
	// Decoded without a struct: a typed decoder would stop at the first value
	// of a wrong type, and would take "Minutes" for "minutes".
	root := &Table{Faults: &Faults{Written: EitherTimes(data)}}
	if values, ok := plain(data); ok {
		root.Values = values
		return root, nil
	}
	if err := toml.Unmarshal(data, &root.Values); err != nil {
		return nil, Errors{SyntaxError(name, err)}
	}
	return root, nil
}
