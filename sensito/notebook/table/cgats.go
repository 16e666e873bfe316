package table

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/notebook/internal/grammar"
)

// CGATS is measurement data in the text format of ANSI CGATS.17 and ISO 28178.
type CGATS struct {
	ID     string // identification word, such as CGATS.17; "" where the file has none
	Tables []CGATSTable
}

// CGATSTable is one table of measurement data.
type CGATSTable struct {
	// Header is what the lines above the data say, in their order. The counts
	// and the declarations of private keywords are not among them: they follow
	// from the rest, and Write makes them.
	Header []CGATSKeyword
	Fields []string   // names of the columns; a name may stand twice
	Line   int        // where the field names begin, from 1
	Rows   [][]string // a cell for each field; "" is an empty cell
	Lines  []int      // of the rows, from 1
}

// CGATSKeyword is one line of a header.
type CGATSKeyword struct {
	Keyword string // in upper case
	Value   string
	Line    int // from 1
}

const (
	maxFields = 1000 // spectra have a few hundred
	maxFaults = 1000 // of one file; reading ends there
)

// ReadCGATS reads measurement data of at most 16 MiB, 100,000 rows and 1000
// fields; name stands for the file in errors. Keywords and the field names of
// the standard may be in any case and come in upper case. Cells come as they
// stand, and those of a field that the standard gives numbers are numbers with a
// decimal point, or empty. Each row is one line. Rows of the convention that
// parts fields by exactly one tab and leaves the quotes away are understood
// where the field names follow it. The error is of type Errors and names every
// bad cell of the file; a failure of r itself is wrapped.
func ReadCGATS(name string, r io.Reader) (*CGATS, error) {
	data, err := io.ReadAll(io.LimitReader(r, grammar.MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	p := &cgatsReader{name: name, into: &CGATS{}}
	switch bad := grammar.FirstInvalid(data); {
	case len(data) > grammar.MaxBytes:
		p.line = 1
		p.fault("", "the file is larger than %d MiB", grammar.MaxBytes>>20)
	case bad < len(data):
		p.line = 1 + lineEnds(string(data[:bad]))
		p.fault("", "is not text in ASCII or UTF-8")
	default:
		p.read(string(bytes.TrimPrefix(data, []byte("\ufeff"))))
	}
	if len(p.faults) > 0 {
		slices.SortStableFunc(p.faults, func(a, b *grammar.Error) int { return cmp.Compare(a.Line, b.Line) })
		return nil, p.faults
	}
	return p.into, nil
}

// cgatsReader reads a file line by line; each part of a table has a method for
// its lines, which returns false where reading has to end.
type cgatsReader struct {
	name   string
	into   *CGATS
	line   int
	faults grammar.Errors
	rows   int // of all tables

	part    func(cgatsLine) bool
	table   CGATSTable
	started bool // the table has a line already
	fields  cgatsCount
	sets    cgatsCount
	tabbed  bool // the field names follow the convention of one tab
	format  int  // how many lines hold field names
	numeric []bool
	found   int // sets, good or bad
}

// cgatsCount is a number that a file says to have of something.
type cgatsCount struct{ n, line int } // line 0: it does not say

func (p *cgatsReader) fault(key, format string, args ...any) bool {
	p.faults = append(p.faults, &grammar.Error{File: p.name, Line: p.line, Key: key, Msg: fmt.Sprintf(format, args...)})
	return false
}

func (p *cgatsReader) read(text string) {
	p.begin()
	last := 1 // line that is not blank
	for text != "" && len(p.faults) < maxFaults {
		p.line++
		end := strings.IndexAny(text, "\r\n")
		var line string
		switch {
		case end < 0:
			line, text = text, ""
		case strings.HasPrefix(text[end:], "\r\n"):
			line, text = text[:end], text[end+2:]
		default:
			line, text = text[:end], text[end+1:]
		}
		l, err := splitCGATS(line)
		switch {
		case err != nil && p.numeric == nil:
			p.fault("", "%v", err)
			return
		case err != nil:
			p.fault("", "%v", err)
			p.found++
		case len(l.words) > 0 && !p.part(l):
			return
		}
		if strings.TrimSpace(line) != "" {
			last = p.line
		}
	}
	if n := len(p.faults); n >= maxFaults {
		p.fault("", "reading ends here, after %d faults", n)
		return
	}
	switch p.line = last; {
	case p.numeric != nil:
		p.fault("", "the file ends before END_DATA")
	case p.started:
		p.fault("", "the file ends before BEGIN_DATA")
	case len(p.into.Tables) == 0:
		p.fault("", "has no data")
	}
}

// begin makes ready for a table.
func (p *cgatsReader) begin() {
	p.table, p.started, p.fields, p.sets = CGATSTable{}, false, cgatsCount{}, cgatsCount{}
	p.tabbed, p.format, p.numeric, p.found = false, 0, nil, 0
	p.part = p.header
}

func (p *cgatsReader) header(l cgatsLine) bool {
	first := !p.started
	p.started = true
	if l.words[0].quoted {
		return p.fault("", "begins with the string %q where a keyword is expected", clip(l.words[0].text))
	}
	word := strings.ToUpper(l.words[0].text)
	if !cgatsWord(word) {
		return p.fault("", "the keyword %q has other letters than ASCII", clip(word))
	}
	switch word {
	case "BEGIN_DATA_FORMAT":
		if p.table.Fields != nil {
			return p.fault("", "a second data format; the first is on line %d", p.table.Line)
		}
		p.table.Line, p.table.Fields, p.part = p.line, []string{}, p.names
		return p.names(l.from(1))
	case "BEGIN_DATA":
		return p.beginData(l)
	case "END_DATA", "END_DATA_FORMAT":
		return p.fault("", "%s without BEGIN%s", word, strings.TrimPrefix(word, "END"))
	case "NUMBER_OF_FIELDS":
		return p.count(&p.fields, word, l)
	case "NUMBER_OF_SETS":
		return p.count(&p.sets, word, l)
	}
	if len(l.words) == 1 {
		if first && !cgatsKeywords[word] {
			if len(p.into.Tables) == 0 {
				p.into.ID = l.words[0].text
			}
			return true
		}
		return p.fault("", "%s has no value", clip(word))
	}
	value, ok := l.text(1, len(l.words))
	if !ok {
		return p.fault("", "%s has more than one value", clip(word))
	}
	if word != "KEYWORD" {
		p.table.Header = append(p.table.Header, CGATSKeyword{word, value, p.line})
	}
	return true
}

func (p *cgatsReader) count(c *cgatsCount, word string, l cgatsLine) bool {
	if c.line > 0 {
		return p.fault("", "a second %s; the first is on line %d", word, c.line)
	}
	if len(l.words) != 2 {
		return p.fault("", "%s needs one number", word)
	}
	n, err := strconv.Atoi(l.words[1].text)
	if err != nil || n < 0 {
		return p.fault("", "%s %q is not a whole number", word, clip(l.words[1].text))
	}
	*c = cgatsCount{n, p.line}
	return true
}

// names reads a line of field names.
func (p *cgatsReader) names(l cgatsLine) bool {
	for i, w := range l.words {
		upper := strings.ToUpper(w.text)
		switch {
		case w.quoted:
			return p.fault("", "the field name %q is in quotes", clip(w.text))
		case upper == "END_DATA_FORMAT":
			if i+1 < len(l.words) {
				return p.fault("", "%q follows END_DATA_FORMAT on its line", clip(l.words[i+1].text))
			}
			p.part = p.header
			return true
		case cgatsStructure[upper]:
			return p.fault("", "%s among the field names: END_DATA_FORMAT is missing", upper)
		case !cgatsWord(w.text):
			return p.fault("", "the field name %q has other letters than ASCII", clip(w.text))
		case len(p.table.Fields) == maxFields:
			return p.fault("", "has more than %d fields", maxFields)
		}
		if cgatsField(upper) {
			w.text = upper
		}
		p.table.Fields = append(p.table.Fields, w.text)
	}
	if len(l.words) > 0 {
		p.format++
		cells, _ := l.cells()
		p.tabbed = p.format == 1 && len(l.words) > 1 && len(cells) == len(l.words)
	}
	return true
}

func (p *cgatsReader) beginData(l cgatsLine) bool {
	switch n := len(p.table.Fields); {
	case p.table.Fields == nil:
		return p.fault("", "BEGIN_DATA without a data format above it")
	case n == 0:
		return p.fault("", "the data format on line %d has no field", p.table.Line)
	case p.fields.line > 0 && p.fields.n != n:
		p.line = p.fields.line
		return p.fault("", "NUMBER_OF_FIELDS is %d, but the data format on line %d has %d", p.fields.n, p.table.Line, n)
	case len(l.words) > 1:
		return p.fault("", "%q follows BEGIN_DATA on its line", clip(l.words[1].text))
	}
	p.numeric = make([]bool, len(p.table.Fields))
	for i, name := range p.table.Fields {
		p.numeric[i] = cgatsNumeric(name)
	}
	p.part = p.row
	return true
}

// row reads a line of data.
func (p *cgatsReader) row(l cgatsLine) bool {
	if word := strings.ToUpper(l.words[0].text); !l.words[0].quoted && cgatsStructure[word] {
		if word != "END_DATA" {
			return p.fault("", "%s among the data: END_DATA is missing", word)
		}
		if len(l.words) > 1 {
			return p.fault("", "%q follows END_DATA on its line", clip(l.words[1].text))
		}
		return p.endData()
	}
	p.found++
	if p.rows++; p.rows > grammar.MaxReadings {
		return p.fault("", "brings the file to more than %d rows", grammar.MaxReadings)
	}
	cells, err := l.row(len(p.table.Fields), p.tabbed)
	if err != nil {
		p.fault("", "%v", err)
		return true
	}
	for i, cell := range cells {
		if p.numeric[i] && cell != "" {
			if fault := cgatsNumberFault(cell); fault != "" {
				p.fault(p.table.Fields[i], "%q %s", clip(cell), fault)
			}
		}
	}
	p.table.Rows, p.table.Lines = append(p.table.Rows, cells), append(p.table.Lines, p.line)
	return true
}

func (p *cgatsReader) endData() bool {
	if p.sets.line > 0 && p.sets.n != p.found {
		p.line, p.sets.line = p.sets.line, p.line
		p.fault("", "NUMBER_OF_SETS is %d, but the data up to line %d have %d", p.sets.n, p.sets.line, p.found)
		p.line = p.sets.line
	}
	p.into.Tables = append(p.into.Tables, p.table)
	p.begin()
	return true
}

// clip shortens a text for a message.
func clip(s string) string {
	const longest = 40
	n := 0
	for i := range s { // no further than it is shown, since a text may be very long
		if n == longest {
			return s[:i] + "..."
		}
		n++
	}
	return s
}
