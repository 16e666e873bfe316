package table

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"sensito/sensito/notebook/internal/grammar"
)

// trialSchema names the form of a trial in JSON.
const trialSchema = "sensito/trial/1"

// readJSON reads trials as Export writes them, one JSON object after another,
// with the keys of a notebook. Unlike there, null is a step that was not read.
func (im *importer) readJSON(data []byte) ([]*source, error) {
	p := &jsonParser{data: data, dec: json.NewDecoder(bytes.NewReader(data))}
	p.dec.UseNumber()
	var sources []*source
	for {
		p.src = &source{at: map[string]place{}, told: map[string]bool{}, written: map[string]string{}}
		v, err := p.value("", 0)
		if errors.Is(err, io.EOF) && sources != nil {
			return sources, nil
		}
		line := p.line()
		if err != nil {
			reason := strings.TrimPrefix(err.Error(), "json: ")
			if syntax := (*json.SyntaxError)(nil); errors.As(err, &syntax) {
				reason = "is not well-formed JSON: " + reason
			}
			if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				reason = "the file ends too early"
			}
			return nil, im.refuse(line, "%s", reason)
		}
		var ok bool
		if p.src.values, ok = v.(map[string]any); !ok {
			return nil, im.refuse(line, "is not a trial in JSON, which is an object")
		}
		switch schema := p.src.values["schema"]; schema {
		case trialSchema:
		case nil:
			return nil, im.refuse(line, "has no key schema; a trial has %q", trialSchema)
		default:
			return nil, im.refuse(p.src.place("schema").line, "schema %v is not that of a trial, %q", schema, trialSchema)
		}
		delete(p.src.values, "schema")
		if len(sources) == grammar.MaxStrips {
			return nil, im.refuse(line, "brings the file to more than %d trials", grammar.MaxStrips)
		}
		sources = append(sources, p.src)
	}
}

// jsonParser reads JSON with the line of every key.
type jsonParser struct {
	data  []byte
	dec   *json.Decoder
	src   *source
	seen  int // bytes counted for lines
	lines int
}

// line returns the line on which the decoder stands.
func (p *jsonParser) line() int {
	at := min(int(p.dec.InputOffset()), len(p.data))
	p.lines += bytes.Count(p.data[p.seen:at], []byte("\n"))
	p.seen = at
	return p.lines + 1
}

// value reads a value, nil for null.
func (p *jsonParser) value(key string, depth int) (any, error) {
	token, err := p.dec.Token()
	if err != nil {
		return nil, err
	}
	if _, ok := p.src.at[key]; !ok && key != "" {
		p.src.at[key] = place{line: p.line()}
	}
	if depth > grammar.MaxDepth {
		return nil, fmt.Errorf("%s: is nested too deeply", key)
	}
	switch v := token.(type) {
	case json.Delim:
		if v == '[' {
			return p.list(key, depth)
		}
		return p.object(key, depth)
	case json.Number:
		x, err := v.Float64()
		if err != nil {
			return nil, fmt.Errorf("%s: %s is beyond any number", key, v)
		}
		grammar.NoteEither(p.src.written, key, v.String())
		return x, nil
	}
	return token, nil // a string, a bool, or nil
}

func (p *jsonParser) list(key string, depth int) (any, error) {
	list := []any{}
	for p.dec.More() {
		v, err := p.value(grammar.Element(key, len(list)), depth+1)
		if err != nil {
			return nil, err
		}
		if v == nil {
			v = math.NaN()
		}
		if list = append(list, v); len(list) > grammar.MaxReadings {
			return nil, fmt.Errorf("%s: has more than %d values", key, grammar.MaxReadings)
		}
	}
	_, err := p.dec.Token()
	return list, err
}

func (p *jsonParser) object(key string, depth int) (any, error) {
	values := map[string]any{}
	var names []string
	for p.dec.More() {
		token, err := p.dec.Token()
		if err != nil {
			return nil, err
		}
		name := token.(string) // a key is
		if slices.Contains(names, name) {
			return nil, fmt.Errorf("%s: is there twice", grammar.Below(key, name))
		}
		if names = append(names, name); len(names) > maxKeys {
			return nil, fmt.Errorf("%s: has more than %d keys", key, maxKeys)
		}
		at := grammar.Below(key, name)
		p.src.at[at] = place{line: p.line()}
		v, err := p.value(at, depth+1)
		if err != nil {
			return nil, err
		}
		if v != nil {
			values[name] = v
		}
	}
	_, err := p.dec.Token()
	return values, err
}

// maxKeys is how many keys a table of a notebook may have, far above what any
// has.
const maxKeys = 100
