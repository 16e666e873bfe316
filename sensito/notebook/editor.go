package notebook

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"sensito/sensito/notebook/internal/grammar"
)

// stripText is where a [[strip]], or another table, and its keys stand in a file.
type stripText struct {
	header int // where the line of the header begins
	body   int // where the line after it begins
	end    int // where the line of the next header of any table begins
	keys   map[string]keyText
}

// keyText is where a key and its value stand, as offsets.
type keyText struct {
	key, equals  int // where the key begins, and the sign behind it
	value, after int // where the value begins, and the first byte behind it
}

// outline returns the tables of a list that are written [[strip]], if that is the
// name, as far as the file is well-formed.
func outline(data []byte, list string) []stripText {
	return tables(data, func(e unstable.Kind, name string) bool { return e == unstable.ArrayTable && name == list })
}

// tableText returns the table that is written [process], if that is the name, or for ""
// what stands above all tables.
func tableText(data []byte, name string) (stripText, bool) {
	if name == "" {
		return tables(data, nil)[0], true
	}
	found := tables(data, func(e unstable.Kind, of string) bool { return e == unstable.Table && of == name })
	if len(found) == 0 {
		return stripText{}, false
	}
	return found[0], true
}

// tables returns the tables that are wanted, by the kind and the name of their headers,
// or where want is nil what stands above all of them.
func tables(data []byte, want func(kind unstable.Kind, name string) bool) []stripText {
	first := len(data) - len(bytes.TrimPrefix(data, []byte(bom)))
	text := bytes.Clone(data[first:])
	var out []stripText
	var p unstable.Parser
	p.Reset(text)
	in := want == nil // a table that is wanted
	if in {
		out = append(out, stripText{keys: map[string]keyText{}, header: first, body: first, end: len(data)})
	}
	for p.NextExpression() {
		e := p.Expression()
		key := e.Key()
		key.Next()
		name := key.Node()
		switch {
		case e.Kind == unstable.Table || e.Kind == unstable.ArrayTable:
			at := first + int(name.Raw.Offset)
			if in {
				out[len(out)-1].end = lineStart(data, at)
			}
			in = want != nil && key.IsLast() && want(e.Kind, string(name.Data))
			if in {
				out = append(out, stripText{keys: map[string]keyText{}, header: lineStart(data, at), body: lineEnd(data, at), end: len(data)})
			}
		case in && key.IsLast():
			k := keyText{key: first + int(name.Raw.Offset), after: first + int(e.Raw.Offset+e.Raw.Length)}
			k.equals = k.key + int(name.Raw.Length)
			k.equals += bytes.IndexByte(data[k.equals:], '=')
			k.value = k.equals + 1
			for data[k.value] == ' ' || data[k.value] == '\t' {
				k.value++
			}
			out[len(out)-1].keys[string(name.Data)] = k
		}
	}
	return out
}

// without returns the text without a table; comments above the next header stay with
// that.
func (s stripText) without(text []byte) []byte {
	start, end := s.header, s.end
	if end == len(text) {
		kept := bytes.TrimRight(text[:start], " \t\r\n")
		return append(bytes.Clone(kept), newline(text)...)
	}
	return slices.Concat(text[:start], text[aboveComments(text, s.body, end):])
}

// bom may stand before the first letter of a file.
const bom = "\ufeff"

// lineEnd returns where the line after that of an offset begins.
func lineEnd(text []byte, at int) int {
	if i := bytes.IndexByte(text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(text)
}

func lineStart(text []byte, at int) int { return bytes.LastIndexByte(text[:at], '\n') + 1 }

// editor rewrites one strip of a file.
type editor struct {
	text  []byte
	strip stripText
	edits []edit
}

// edit puts other text in the place of what stands from start to end.
type edit struct {
	start, end int
	text       string
}

func (e *editor) put(start, end int, text string) {
	e.edits = append(e.edits, edit{start, end, text})
}

// change returns the text with what differs from old to new, which have the same
// keys in the same order.
func (e *editor) change(old, new []field) []byte {
	after := "" // the key that the next one comes after
	for i, f := range new {
		name := f.key
		if _, ok := e.strip.keys["filter"]; ok && name == "grade" {
			name = "filter" // another name of the same
		}
		at, there := e.strip.keys[name]
		switch {
		case f.String() == old[i].String():
		case there && f.absent() && old[i].list == nil:
			e.remove(at)
		case there:
			e.set(at, f.key, old[i].value, f.value)
		case !f.absent():
			e.insert(after, f)
		}
		if there {
			after = name
		}
	}
	slices.SortStableFunc(e.edits, func(a, b edit) int { return cmp.Compare(a.start, b.start) })
	var out bytes.Buffer
	from := 0
	for _, c := range e.edits {
		out.Write(e.text[from:c.start])
		out.WriteString(c.text)
		from = c.end
	}
	out.Write(e.text[from:])
	return out.Bytes()
}

// remove takes out a line, but for its comment.
func (e *editor) remove(at keyText) {
	end := lineEnd(e.text, at.after)
	if comment := bytes.IndexByte(e.text[at.after:end], '#'); comment >= 0 {
		e.put(at.key, at.after+comment, "")
		return
	}
	e.put(lineStart(e.text, at.key), end, "")
}

// insert puts a line after that of a key, "" for the header, and aligns it.
func (e *editor) insert(after string, f field) {
	at, line := e.strip.keys["density"], e.strip.body
	if k, ok := e.strip.keys[after]; ok {
		at, line = k, lineEnd(e.text, k.after)
	}
	indent := bytes.TrimPrefix(e.text[lineStart(e.text, at.key):at.key], []byte(bom))
	text := fmt.Sprintf("%s%-*s= %s", indent, max(at.equals-at.key, len(f.key)+1), f.key, f)
	if nl := newline(e.text); line > len(bom) && e.text[line-1] != '\n' {
		e.put(line, line, nl+text)
	} else {
		e.put(line, line, text+nl)
	}
}

// set changes a value, of a list only the elements that differ.
func (e *editor) set(at keyText, key string, old, new value) {
	if new.absent() {
		new.list = []value{}
	}
	if e.text[at.value] != '[' || new.list == nil {
		if len(new.list) == 1 {
			new = new.list[0] // a single reading needs no list
		}
		e.put(at.value, at.after, new.String())
		return
	}
	if key == "ignore" {
		old.list, new.list = e.ordered(at.value, new.list)
	}
	e.setList(at.value, old.list, new.list)
}

func (e *editor) setList(at int, old, new []value) {
	list, end := elements(e.text, at)
	for i, v := range new[:min(len(new), len(list))] {
		switch {
		case v.String() == old[i].String():
		case v.list != nil && old[i].list != nil:
			e.setList(list[i].start, old[i].list, v.list)
		default:
			e.put(list[i].start, list[i].end, v.String())
		}
	}
	if len(new) > len(list) {
		more := value{list: new[len(list):]}.String()
		more = more[1 : len(more)-1]
		if len(list) == 0 {
			e.put(at+1, at+1, more)
		} else {
			last := list[len(list)-1].end
			e.put(last, last, ", "+more)
		}
		return
	}
	for i := len(new); i < len(list); i++ {
		start := list[i].start
		if i > 0 {
			gap := e.text[list[i-1].end:start]
			if bytes.IndexByte(gap, '#') < 0 {
				start = list[i-1].end
			} else {
				e.dropComma(list[i-1].end, start)
			}
		}
		e.put(start, list[i].end, "")
	}
	if len(new) == 0 && len(list) > 0 {
		e.dropComma(list[len(list)-1].end, end)
	}
}

// dropComma takes out the comma between two elements, or behind the last, and
// leaves the comments.
func (e *editor) dropComma(from, to int) {
	for i := from; i < to; i++ {
		switch e.text[i] {
		case ',':
			e.put(i, i+1, "")
			return
		case '#':
			i = lineEnd(e.text, i) - 1
		}
	}
}

// ordered returns the whole numbers of a list as they stand in the file, and
// new ones in the order of the file as far as they are there.
func (e *editor) ordered(at int, new []value) (old, sorted []value) {
	list, _ := elements(e.text, at)
	for _, s := range list {
		var v struct{ V float64 }
		if err := toml.Unmarshal(append([]byte("V = "), e.text[s.start:s.end]...), &v); err != nil {
			panic("notebook: " + err.Error()) // it was read before
		}
		old = append(old, plain(grammar.Number(v.V)))
	}
	in := func(list []value, v value) bool {
		return slices.ContainsFunc(list, func(w value) bool { return w.text == v.text })
	}
	for _, v := range old {
		if in(new, v) {
			sorted = append(sorted, v)
		}
	}
	for _, v := range new {
		if !in(old, v) {
			sorted = append(sorted, v)
		}
	}
	return old, sorted
}

// span is where something stands, as offsets.
type span struct{ start, end int }

// elements returns where the values of a list of numbers, or of lists of them,
// stand, and where the list ends; its bracket is at an offset.
func elements(text []byte, at int) (list []span, end int) {
	for i := at + 1; ; {
		switch c := text[i]; {
		case c == ']':
			return list, i + 1
		case c == '#':
			i = lineEnd(text, i)
		case strings.IndexByte(" \t\r\n,", c) >= 0:
			i++
		case c == '[':
			_, end := elements(text, i)
			list = append(list, span{i, end})
			i = end
		default:
			end := i + bytes.IndexAny(text[i:], " \t\r\n,]#")
			list = append(list, span{i, end})
			i = end
		}
	}
}
