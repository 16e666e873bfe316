package grammar

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"sensito/sensito"
	"sensito/sensito/printable"
)

// Error is one fault of a file.
type Error struct {
	File string // name, as it was given
	Line int    // from 1
	Key  string // such as "strip[2].density[5]", counting from 1; "" when the fault has no key
	Msg  string // names the value and the limit
}

// Error returns the fault on one line that can be shown: what does not print is
// escaped, and what is very long is cut.
func (e *Error) Error() string {
	const longestKey, longestMsg = 120, 600 // characters
	where, msg := fmt.Sprintf("%s:%d: ", printable.Text(e.File), e.Line), printable.Brief(e.Msg, longestMsg)
	if e.Key == "" {
		return where + msg
	}
	return where + printable.Brief(e.Key, longestKey) + ": " + msg
}

// Where returns the line, from 1, and what is wrong there, without the name of the file.
func (e *Error) Where() (line int, reason string) {
	return e.Line, strings.TrimPrefix(e.Error(), fmt.Sprintf("%s:%d: ", printable.Text(e.File), e.Line))
}

// maxShown is how many faults Errors prints.
const maxShown = 20

// Errors are all faults of one file in the order of its lines, at least one.
type Errors []*Error

// Error returns one line for each of the first 20 faults, and how many follow.
func (l Errors) Error() string {
	var b strings.Builder
	for i, e := range l[:min(len(l), maxShown)] {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(e.Error())
	}
	if more := len(l) - maxShown; more > 0 {
		fmt.Fprintf(&b, "\nand %d more", more)
	}
	return b.String()
}

// Unwrap lets errors.As find the first fault.
func (l Errors) Unwrap() []error {
	errs := make([]error, len(l))
	for i, e := range l {
		errs[i] = e
	}
	return errs
}

// Faults collects what is wrong with the values of a file, by key.
type Faults struct {
	Found []sensito.FieldError
	Told  map[string]bool // keys that need no further fault

	Written map[string]string // numbers of minutes that can mean two times, as the file has them, by key
}

// Add notes what is wrong with the value of a key, and hides what follows from it;
// see Hide.
func (f *Faults) Add(key, format string, args ...any) {
	f.Found = append(f.Found, sensito.FieldError{Key: key, Reason: fmt.Sprintf(format, args...)})
	f.Hide(key)
}

// Hide drops later faults of the domain with this key or below it, which would
// only repeat what has been said.
func (f *Faults) Hide(key string) {
	if f.Told == nil {
		f.Told = map[string]bool{}
	}
	f.Told[key] = true
}

// Hidden says whether a fault with this key is hidden, or with one that it lies in.
func (f *Faults) Hidden(key string) bool {
	for ; key != ""; key = Parent(key) {
		if f.Told[key] {
			return true
		}
	}
	return false
}

// Absorb adds the field errors of a domain constructor, unless hidden.
func (f *Faults) Absorb(err error) {
	if err == nil {
		return
	}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range joined.Unwrap() {
			f.Absorb(e)
		}
		return
	}
	var field *sensito.FieldError
	switch {
	case !errors.As(err, &field):
		f.Add("", "%v", err)
	case !f.Hidden(field.Key):
		f.Found = append(f.Found, *field)
	}
}

// Located returns the faults with their lines in data, or nil.
func (f *Faults) Located(file string, data []byte) error {
	if len(f.Found) == 0 {
		return nil
	}
	at := Lines(data)
	list := make(Errors, len(f.Found))
	for i, e := range f.Found {
		list[i] = &Error{File: file, Line: lineOf(at, e.Key), Key: e.Key, Msg: e.Reason}
	}
	slices.SortStableFunc(list, func(a, b *Error) int { return cmp.Compare(a.Line, b.Line) })
	return list
}

// lineOf returns the line of a key or, when the file has no such key, of the
// closest table or list around it; 1 for the file itself.
func lineOf(at map[string]int, key string) int {
	for ; key != ""; key = Parent(key) {
		if line, ok := at[key]; ok {
			return line
		}
	}
	return 1
}

// Parent cuts the last name or number off a key: a.b[2], a.b, a, "".
func Parent(key string) string { return key[:max(strings.LastIndexAny(key, ".["), 0)] }

// bareKey says whether a name needs no quotes as a key of TOML.
func bareKey(name string) bool {
	return name != "" && !strings.ContainsFunc(name, func(r rune) bool {
		return !('a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9' || r == '_' || r == '-')
	})
}

// Below returns the key of a name in a table.
func Below(table, name string) string {
	if !bareKey(name) {
		name = strconv.Quote(name)
	}
	if table == "" {
		return name
	}
	return table + "." + name
}

// Element returns the key of an element of a list, counted from 0: list[1] for the
// first, as a reader counts.
func Element(list string, i int) string { return list + "[" + strconv.Itoa(i+1) + "]" }

// MaxDepth is how far lines follows lists within lists and names within a dotted
// key; a notebook needs three.
const MaxDepth = 6

// Lines returns the line of every key and list element of a well-formed file.
func Lines(data []byte) map[string]int { return walk(data, func(string, string) {}) }

// walk returns the line of every key and list element of a well-formed file, and
// calls number for each number with its key and as it is written.
func walk(data []byte, number func(key, text string)) map[string]int {
	var ends []int // offsets of the line ends
	for i, c := range data {
		if c == '\n' {
			ends = append(ends, i)
		}
	}
	lineAt := func(r unstable.Range) int {
		i, _ := slices.BinarySearch(ends, int(r.Offset))
		return i + 1
	}

	at := map[string]int{}
	var p unstable.Parser
	// names notes where a dotted key and the tables it opens first appear.
	names := func(key string, it unstable.Iterator, each func(key string, last bool) string) (string, int) {
		line := 1
		for i := 0; i < MaxDepth && it.Next(); i++ {
			key = Below(key, string(it.Node().Data))
			line = lineAt(it.Node().Raw)
			key = each(key, it.IsLast())
			if _, ok := at[key]; !ok {
				at[key] = line
			}
		}
		return key, line
	}
	asIs := func(key string, _ bool) string { return key }

	var value func(key string, n *unstable.Node, line, depth int)
	value = func(key string, n *unstable.Node, line, depth int) {
		if n.Raw.Length > 0 {
			line = lineAt(n.Raw)
			if _, ok := at[key]; !ok {
				at[key] = line
			}
		}
		if n.Kind == unstable.Float {
			number(key, string(n.Data))
		}
		if depth == MaxDepth || n.Kind != unstable.Array && n.Kind != unstable.InlineTable {
			return
		}
		it := n.Children()
		for i := 0; i <= MaxReadings && it.Next(); i++ {
			if child := it.Node(); n.Kind == unstable.Array {
				value(Element(key, i), child, line, depth+1)
			} else {
				k, at := names(key, child.Key(), asIs)
				value(k, child.Value(), at, depth+1)
			}
		}
	}

	p.Reset(bytes.Clone(data))
	table, count := "", map[string]int{}
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			var line int
			table, line = names("", e.Key(), func(key string, last bool) string {
				if last && e.Kind == unstable.ArrayTable {
					count[key]++
				}
				if n := count[key]; n > 0 {
					return Element(key, n-1)
				}
				return key
			})
			at[table] = line // a header counts more than a dotted key above it
		case unstable.KeyValue:
			k, line := names(table, e.Key(), asIs)
			value(k, e.Value(), line, 0)
		}
	}
	return at
}
