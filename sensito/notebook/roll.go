package notebook

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"sensito/sensito/camera"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/store"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// The columns of a roll.
const (
	colName      = "name"
	colRange     = "range_stops"
	colShadow    = "shadow"
	colHighlight = "highlight"
)

var rollColumns = []string{colName, colRange, colShadow, colHighlight}

const (
	maxFrames    = 500
	maxFrameName = 60
	minStops     = 1
	maxStops     = 20
)

// ReadRollFile returns the scenes in the file at path, for programs that use
// the library (see ReadFile). Errors are as for ReadRoll.
func ReadRollFile(path string) ([]scene.Frame, error) {
	return readFile(path, ReadRoll)
}

// ReadRoll returns the scenes of a roll, in the order of a table in r whose
// fields are parted by commas, semicolons or tabs, as its first line shows, in capitals
// or not: name, and range_stops, a number of stops, or shadow and highlight, each EV@ZONE. A
// table may have all four columns; a scene then fills one kind. Lines without a
// filled field are passed over. The name given stands for the file in errors.
// The error is of type Errors and names every fault of the file, or only the
// first one where a quote is not closed; a failure of r itself is wrapped.
func ReadRoll(name string, r io.Reader) ([]scene.Frame, error) {
	data, err := store.ReadAll(name, r)
	if err != nil {
		return nil, err
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	t := &rollTable{file: name, named: map[string]int{}}
	switch kind := KindOf(data); {
	case grammar.NotUTF8(data) != "":
		t.fault(1, "", "%s", grammar.NotUTF8(data))
	case kind != UnknownKind && kind != RollKind:
		t.fault(1, "", "%s", kind.Instead(RollKind.String()))
	case !utf8.Valid(data):
		t.fault(1+bytes.Count(data[:grammar.FirstInvalid(data)], []byte("\n")), "", "is not text in UTF-8")
	default:
		t.read(data)
	}
	if len(t.faults) > 0 {
		return nil, t.faults
	}
	return t.frames, nil
}

// rollTable is a table of scenes being read.
type rollTable struct {
	file    string
	columns []string // in the order of the file
	frames  []scene.Frame
	named   map[string]int // line of a name
	faults  Errors
}

func (t *rollTable) fault(line int, column, format string, args ...any) {
	t.faults = append(t.faults, &Error{File: t.file, Line: line, Key: column, Msg: fmt.Sprintf(format, args...)})
}

func (t *rollTable) read(data []byte) {
	c := csv.NewReader(bytes.NewReader(data))
	c.Comma = separator(data)
	c.FieldsPerRecord = -1
	for {
		cells, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			line := 1
			if at := (*csv.ParseError)(nil); errors.As(err, &at) {
				line, err = at.StartLine, at.Err
			}
			t.fault(line, "", "%v", err)
			return
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		line, _ := c.FieldPos(0)
		switch {
		case strings.Join(cells, "") == "":
		case t.columns == nil:
			if !t.header(line, cells) {
				return
			}
		case len(t.frames) == maxFrames:
			t.fault(line, "", "brings the roll to more than %d scenes", maxFrames)
			return
		default:
			t.row(line, cells)
		}
	}
	switch {
	case t.columns == nil:
		t.fault(1, "", "is empty; the first line names the columns: name, and range_stops or shadow and highlight")
	case len(t.frames) == 0:
		t.fault(1, "", "has no scene")
	}
}

// separator returns the character that parts the fields of the first line.
func separator(data []byte) rune {
	first, _, _ := bytes.Cut(bytes.TrimLeft(data, "\r\n"), []byte("\n"))
	for _, c := range "\t;" {
		if bytes.ContainsRune(first, c) {
			return c
		}
	}
	return ','
}

// header notes the columns and says whether rows can be read by them.
func (t *rollTable) header(line int, cells []string) bool {
	t.columns = make([]string, len(cells))
	before := len(t.faults)
	known := true
	for i, cell := range cells {
		name := columnOf(cell)
		t.columns[i] = name
		switch {
		case name == "": // of a sheet wider than its table
		case !slices.Contains(rollColumns, name):
			known = false
			hint := "; the columns are " + strings.Join(rollColumns, ", ")
			if near := grammar.Nearest(name, rollColumns); near != "" {
				hint = fmt.Sprintf("; did you mean %q?", near)
			}
			t.fault(line, cell, "unknown column%s", hint)
		case slices.Contains(t.columns[:i], name):
			t.fault(line, name, "is there twice")
		}
	}
	has := func(name string) bool { return slices.Contains(t.columns, name) }
	switch {
	case !known: // one of those missing may be misspelt
	case !has(colName):
		t.fault(line, colName, "is missing from the columns")
	case has(colShadow) != has(colHighlight):
		t.fault(line, "", "shadow and highlight go together")
	case !has(colRange) && !has(colShadow):
		t.fault(line, "", "needs a column range_stops, or shadow and highlight")
	}
	return len(t.faults) == before
}

// columnOf returns the column that a cell of the first line names, in capitals or not.
func columnOf(cell string) string { return strings.ToLower(strings.TrimSpace(cell)) }

// row reads one scene. A faulty one still counts.
func (t *rollTable) row(line int, cells []string) {
	var frame scene.Frame
	defer func() { t.frames = append(t.frames, frame) }()
	if len(cells) > len(t.columns) {
		t.fault(line, "", "has %d fields for %d columns; a field that holds the separator goes in quotes", len(cells), len(t.columns))
		return
	}
	of := func(column string) string {
		if i := slices.Index(t.columns, column); i >= 0 && i < len(cells) {
			return cells[i]
		}
		return ""
	}
	for i, text := range cells {
		if t.columns[i] == "" && text != "" {
			t.fault(line, "", "%q stands in a column without a name", text)
		}
	}
	frame.Name = of(colName)
	t.checkName(line, frame.Name)
	stops, shadow, highlight := of(colRange), of(colShadow), of(colHighlight)
	switch spots := shadow + highlight; {
	case stops != "" && spots != "":
		t.fault(line, colRange, "does not go with spot readings: give the range or the readings")
	case stops != "":
		frame.Stops = t.stops(line, stops)
	case spots == "":
		t.fault(line, "", "has neither range_stops nor shadow and highlight")
	case shadow == "":
		t.fault(line, colShadow, "is missing beside highlight")
	case highlight == "":
		t.fault(line, colHighlight, "is missing beside shadow")
	default:
		frame.Metering, frame.Stops = t.metering(line, shadow, highlight)
	}
}

func (t *rollTable) checkName(line int, name string) {
	first, twice := t.named[name]
	switch err := printable.CheckLine(name, maxFrameName); {
	case name == "":
		t.fault(line, colName, "is missing")
		return
	case err != nil:
		t.fault(line, colName, "%v", err)
	case twice:
		t.fault(line, colName, "%q is the name of line %d too", name, first)
	}
	t.named[name] = line
}

func (t *rollTable) stops(line int, text string) float64 {
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	switch {
	case err != nil:
		t.fault(line, colRange, "%q is not a number of stops", text)
	case !(v >= minStops && v <= maxStops):
		t.fault(line, colRange, "%s stops is outside %d to %d", text, minStops, maxStops)
	}
	return v
}

func (t *rollTable) metering(line int, shadow, highlight string) (*camera.Metering, float64) {
	m := &camera.Metering{}
	sound := true
	for _, spot := range []struct {
		column, text string
		to           *camera.SpotReading
	}{{colShadow, shadow, &m.Shadow}, {colHighlight, highlight, &m.Highlight}} {
		var err error
		if *spot.to, err = camera.ParseSpotReading(spot.text); err != nil {
			t.fault(line, spot.column, "%v", err)
			sound = false
		}
	}
	if !sound {
		return nil, 0
	}
	stops, err := m.Range()
	if err != nil {
		t.fault(line, "", "%v", err)
	}
	return m, stops
}
