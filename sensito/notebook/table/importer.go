package table

import (
	"fmt"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook/internal/grammar"
)

// ImportOptions say what a file leaves open. The zero value guesses all of it.
type ImportOptions struct {
	Separator   string // of a text table: comma, semicolon or tab; "" is guessed
	Decimal     string // mark of its numbers: point or comma; "" is guessed
	Orientation string // of a table: one of Orientations; "" is guessed
	Sheet       string // of a workbook; "" is the only one with cells

	Times   string   // how times that do not say it are meant: one of Times; "" is found, or a Doubt
	Dates   string   // how dates such as 3/4/2026 are meant: one of Dates; "" is found, or a Doubt
	Without []string // headings of columns to leave out

	// Values are what the file does not say, as text with a decimal point, by
	// the name of the column that would say it.
	Values map[string]string

	// Into is the trial that the strips are for: what the file does not say is
	// as there, and what it says must not contradict. Nil makes a trial of the
	// file alone.
	Into *sensito.Trial
}

// Orientations are how a table may be laid out: a row for each reading, a
// column for each strip, or a row for each strip.
var Orientations = []string{"long", "columns", "rows"}

var decimals = map[string]rune{"point": '.', "comma": ','}

// Imported is a trial found in a file.
type Imported struct {
	Trial  *sensito.Trial      // with Into, that trial with these strips in place of its own
	Strips []sensito.StripSpec // as found, to be added to Into
}

// Found is what was found in a file.
type Found struct {
	Trials  []*Imported  // nil with an error
	Guesses []string     // in words, what was not in the file and was concluded from it
	Columns []ReadColumn // of a table, in order
}

// ReadColumn says how a column of a table was read.
type ReadColumn struct {
	Heading string // or the headings of columns side by side
	As      string
}

// importer reads one file.
type importer struct {
	name    string
	o       ImportOptions
	guesses []string
	readAs  []ReadColumn
	faults  grammar.Errors
	decimal rune
	dates   string // see ImportOptions
	words   map[string]stripWords
	left    map[string]bool // of ImportOptions.Without, what was found
}

// locate notes a fault of a key at its place in the file.
func (im *importer) locate(src *source, f sensito.FieldError) {
	at, key, reason := src.place(f.Key), f.Key, f.Reason
	if at.name != "" {
		key = at.name
	}
	if _, there := src.at[f.Key]; !there && strings.HasPrefix(reason, "is missing") {
		if c := columnOfKey(f.Key); c != nil {
			key = c.name
			if c.flag != "" {
				reason = "is missing; give --" + c.flag
			}
		}
	}
	im.faults = append(im.faults, &grammar.Error{File: im.name, Line: at.line, Key: key, Msg: reason})
}

var inStrip = lazy.Regexp(`^strip\[\d+\]\.(\w+)$`)

// columnOfKey returns the column that tells what stands at a key, or nil.
func columnOfKey(key string) *column {
	if rest, ok := strings.CutPrefix(key, "paper."); ok && key != "paper.name" {
		key = "film." + rest
	}
	of := []level{ofTrial, ofEither}
	if part := inStrip().FindStringSubmatch(key); part != nil {
		key, of = part[1], []level{ofStrip}
	}
	for i, c := range tableColumns {
		if c.key == key && slices.Contains(of, c.of) {
			return &tableColumns[i]
		}
	}
	return nil
}

func (im *importer) guess(format string, args ...any) {
	im.guesses = append(im.guesses, fmt.Sprintf(format, args...))
}

func (im *importer) fault(at place, format string, args ...any) {
	im.faults = append(im.faults, &grammar.Error{File: im.name, Line: at.line, Key: at.name, Msg: fmt.Sprintf(format, args...)})
}

// refuse returns an error that ends the reading of the file.
func (im *importer) refuse(line int, format string, args ...any) error {
	return grammar.Errors{{File: im.name, Line: line, Msg: fmt.Sprintf(format, args...)}}
}
