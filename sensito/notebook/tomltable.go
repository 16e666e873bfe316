package notebook

import (
	"bytes"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// table gives the values of one TOML table by type and notes every fault.
type table struct {
	*faults
	path   string
	values map[string]any
}

// sub returns the table at key, empty when it is missing, and refuses names
// that are not known.
func (t *table) sub(key string, known ...string) *table {
	s := &table{faults: t.faults, path: below(t.path, key)}
	switch v := t.values[key].(type) {
	case nil:
	case map[string]any:
		s.values = v
	default:
		t.wrong(s.path, "a table", v)
	}
	s.refuseOthers(known)
	return s
}

func (t *table) refuseOthers(known []string) {
	for _, key := range slices.Sorted(maps.Keys(t.values)) {
		if slices.Contains(known, key) {
			continue
		}
		near := nearest(key, known)
		if near == "" {
			t.add(t.key(key), "unknown key")
			continue
		}
		t.add(t.key(key), "unknown key; did you mean %q?", near)
		if !t.has(near) {
			t.hide(t.key(near)) // it is not missing, it is misspelt
		}
	}
}

func (t *table) key(name string) string { return below(t.path, name) }

func (t *table) has(name string) bool { return t.values[name] != nil }

// need reports a missing value and says whether it is there.
func (t *table) need(name string) bool {
	if !t.has(name) && !t.hidden(t.key(name)) {
		t.add(t.key(name), "is missing")
	}
	return t.has(name)
}

// text returns the value of a string, "" when it is missing.
func (t *table) text(name string) string {
	s, ok := t.values[name].(string)
	if !ok && t.has(name) {
		t.wrong(t.key(name), "text in quotes", t.values[name])
	}
	return s
}

// number returns a finite number, NaN when it is missing.
func (t *table) number(name string) float64 {
	if !t.has(name) {
		return math.NaN()
	}
	return t.finite(t.key(name), t.values[name], false)
}

// nonzero returns a finite number, 0 when it is missing. A zero in the file is
// refused, for to the domain a zero means that nothing was said.
func (t *table) nonzero(name string) float64 {
	if !t.has(name) {
		return 0
	}
	x := t.number(name)
	if x == 0 {
		t.add(t.key(name), "must not be 0; leave the key out if it is not known")
	}
	return x
}

// numbers returns a list of finite numbers, with NaN for faulty ones and, where
// gaps is set, for those written nan. It is nil when the list is missing.
func (t *table) numbers(name string, gaps bool) []float64 {
	list := t.list(name, "a list of numbers")
	xs := make([]float64, len(list))
	for i, v := range list {
		xs[i] = t.finite(element(t.key(name), i), v, gaps)
	}
	return xs
}

// integers returns a list of whole numbers; the place of a faulty one holds
// some number, to be hidden by the fault.
func (t *table) integers(name string) []int {
	list := t.list(name, "a list of whole numbers")
	ns := make([]int, len(list))
	for i, v := range list {
		n := t.finite(element(t.key(name), i), v, false)
		switch {
		case math.IsNaN(n): // told by finite
		case n != math.Trunc(n):
			t.add(element(t.key(name), i), "must be a whole number, not %g", n)
		default:
			ns[i] = int(min(max(n, -1e9), 1e9))
		}
	}
	return ns
}

// integer returns a whole number from lo to hi, or lo where it is not one.
func (t *table) integer(name string, lo, hi int) int {
	n := t.number(name)
	switch {
	case math.IsNaN(n): // told by number
	case n != math.Trunc(n):
		t.add(t.key(name), "must be a whole number, not %g", n)
	case n < float64(lo) || n > float64(hi):
		t.add(t.key(name), "%g is outside %d to %d", n, lo, hi)
	default:
		return int(n)
	}
	return lo
}

func (t *table) list(name, want string) []any {
	list, ok := t.values[name].([]any)
	if !ok && t.has(name) {
		t.wrong(t.key(name), want, t.values[name])
	}
	if len(list) > maxReadings {
		t.add(t.key(name), "has %d values, more than %d", len(list), maxReadings)
		return nil
	}
	return list
}

func (t *table) finite(key string, v any, gap bool) float64 {
	var x float64
	switch v := v.(type) {
	case int64:
		x = float64(v)
	case float64:
		x = v
	default:
		t.wrong(key, "a number", v)
		return math.NaN()
	}
	switch {
	case math.IsInf(x, 0):
		t.add(key, "must be a finite number, not inf")
		return math.NaN()
	case math.IsNaN(x) && !gap:
		t.add(key, "must be a number, not nan")
	}
	return x
}

func (t *table) wrong(key, want string, v any) {
	t.add(key, "must be %s, not %s", want, kindOf(v))
}

// kindOf names the type of a TOML value as a photographer would.
func kindOf(v any) string {
	switch v.(type) {
	case string:
		return "text"
	case int64, float64:
		return "a number"
	case bool:
		return "true or false"
	case []any:
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

// nearest returns the known name that is at most two slips away, or "".
func nearest(name string, known []string) string {
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

// yes returns whether the value is true; a missing one is false.
func (t *table) yes(name string) bool {
	v, ok := t.values[name].(bool)
	if !ok && t.has(name) {
		t.wrong(t.key(name), "true or false", t.values[name])
	}
	return v
}

// decoded returns the values of the file, none when it is not well-formed.
func decoded(data []byte) *table {
	root := &table{faults: &faults{}}
	if toml.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), &root.values) != nil {
		root.values = nil
	}
	return root
}
