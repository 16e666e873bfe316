package grammar

import (
	"strconv"
	"sync"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// plain returns the values of a file that is written as nearly all are: its tables, its
// lists of tables and its keys have names of one part, each is there once, and its lists
// are of numbers alone. Such a list is a []float64: one piece of memory, where a []any has
// one more for every reading. ok is false for any other file, a faulty one too, which the
// library decodes, and judges.
func plain(data []byte) (root map[string]any, ok bool) {
	d := plainDecoders.Get().(*plainDecoder)
	d.parser.Reset(data)
	d.text = string(data)
	defer func() {
		d.parser.Reset(nil)
		d.text = ""
		plainDecoders.Put(d)
	}()
	root = map[string]any{}
	for table := root; d.parser.NextExpression(); {
		e := d.parser.Expression()
		name, ok := d.name(e.Key())
		switch {
		case !ok:
			return nil, false
		case e.Kind == unstable.KeyValue:
			if table[name] != nil {
				return nil, false
			}
			if table[name], ok = d.value(e.Value()); !ok {
				return nil, false
			}
		case e.Kind == unstable.Table:
			if root[name] != nil {
				return nil, false
			}
			table = map[string]any{}
			root[name] = table
		default: // an element of a list of tables, which are the only lists of []any
			list, ok := root[name].([]any)
			if !ok && root[name] != nil {
				return nil, false
			}
			if table = map[string]any{}; list == nil {
				list = make([]any, 0, 4)
			}
			root[name] = append(list, table)
		}
	}
	return root, d.parser.Error() == nil
}

// plainDecoder is the working memory of plain.
type plainDecoder struct {
	parser unstable.Parser
	names  map[string]string // that were met in any file
	text   string            // the file
}

var plainDecoders = sync.Pool{New: func() any { return &plainDecoder{names: map[string]string{}} }}

// name returns the name of a key of one part.
func (d *plainDecoder) name(key unstable.Iterator) (name string, ok bool) {
	if !key.Next() || !key.IsLast() {
		return "", false
	}
	const most = 1000 // kept, so that no file fills the memory
	part := key.Node().Data
	if name, ok = d.names[string(part)]; !ok {
		name = string(part)
		if len(d.names) < most {
			d.names[name] = name
		}
	}
	return name, true
}

// value returns what the library makes of a value, or a list of numbers.
func (d *plainDecoder) value(n *unstable.Node) (v any, ok bool) {
	switch n.Kind {
	case unstable.String:
		if n.Raw.Length == uint32(len(n.Data))+2 { // nothing but its quotes more, so that it stands in the file
			return d.text[n.Raw.Offset+1:][:len(n.Data)], true
		}
		return string(n.Data), true
	case unstable.Bool:
		return n.Data[0] == 't', true
	case unstable.Integer:
		i, err := strconv.ParseInt(string(n.Data), 10, 64)
		return i, err == nil
	case unstable.Float:
		x, err := strconv.ParseFloat(string(n.Data), 64)
		return x, err == nil
	case unstable.LocalDate:
		var date toml.LocalDate
		err := date.UnmarshalText(n.Data)
		return date, err == nil
	case unstable.Array:
		return plainList(n)
	}
	return nil, false
}

// plainList returns a list of numbers, of one at least.
func plainList(n *unstable.Node) (list []float64, ok bool) {
	count := 0
	for it := n.Children(); it.Next(); {
		count++
	}
	list = make([]float64, 0, count)
	for it := n.Children(); it.Next(); {
		text := string(it.Node().Data)
		switch it.Node().Kind {
		case unstable.Integer:
			i, err := strconv.ParseInt(text, 10, 64)
			if err != nil {
				return nil, false
			}
			list = append(list, float64(i))
		case unstable.Float:
			x, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return nil, false
			}
			list = append(list, x)
		default:
			return nil, false
		}
	}
	return list, count > 0
}
