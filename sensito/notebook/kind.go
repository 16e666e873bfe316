package notebook

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/store"
)

// Kind says what a file of a notebook is.
type Kind string

const (
	UnknownKind Kind = ""        // not of a notebook
	FilmKind    Kind = "film"    // a trial
	PaperKind   Kind = "paper"   // a trial
	ControlKind Kind = "control" // a control log
	RollKind    Kind = "roll"    // the frames of a roll

	// ProcedureKind is the steps of processing.
	ProcedureKind Kind = "procedure"

	// PictureKind is the calibration of pictures by a tablet, or the tablet alone.
	PictureKind Kind = "picture"

	// TableKind is a table of readings, a spreadsheet or an export, to import.
	TableKind Kind = "table"
)

var kindNames = map[Kind]struct{ one, several, taker string }{
	FilmKind:      {"a trial of film", "trials of film", "sensito curve, family, scene or card"},
	PaperKind:     {"a trial of paper", "trials of paper", "sensito paper or --paper"},
	ControlKind:   {"a control log", "control logs", "sensito control or --control"},
	RollKind:      {"a roll of scenes", "rolls of scenes", "sensito scene --roll"},
	ProcedureKind: {"a procedure", "procedures", "sensito sheet --procedure"},
	PictureKind:   {"a calibration of pictures", "calibrations of pictures", "sensito picture --by or --tablet"},
	TableKind:     {"a table of readings", "tables of readings", "sensito import"},
	UnknownKind:   {"not of a notebook", "files of another kind", "another program"},
}

// String returns the kind with its article, as "a trial of film".
func (k Kind) String() string { return kindNames[k].one }

// Plural returns the kind as several, as "trials of film".
func (k Kind) Plural() string { return kindNames[k].several }

// Instead says of a file that it is of kind k where one of another was wanted,
// and what takes it.
func (k Kind) Instead(wanted string) string {
	return fmt.Sprintf("is %s (for %s), and %s was wanted", k, kindNames[k].taker, wanted)
}

var kindLine = lazy.Regexp(`^\s*kind\s*=\s*["'](\w+)["']`)

var filmLine = lazy.Regexp(`^\s*["']?film["']?\s*=\s*["']`)

// unblanked returns a part of a line of TOML without the blanks that it begins with.
func unblanked(text []byte) []byte {
	for len(text) > 0 && (text[0] == ' ' || text[0] >= '\t' && text[0] <= '\r' && text[0] != '\v') {
		text = text[1:]
	}
	return text
}

// headerOf returns the name, or its beginning, of the table that a line of TOML begins;
// keyOf that of the key. They are part of the line, and empty for other lines.
func headerOf(line []byte) []byte {
	rest, ok := bytes.CutPrefix(unblanked(line), []byte("["))
	if !ok {
		return nil
	}
	rest = unblanked(bytes.TrimPrefix(rest, []byte("[")))
	return nameOf(unquoted(rest))
}

func keyOf(line []byte) []byte {
	rest := unquoted(unblanked(line))
	name := nameOf(rest)
	rest = unblanked(unquoted(rest[len(name):]))
	if len(rest) == 0 || rest[0] != '.' && rest[0] != '=' {
		return nil
	}
	return name
}

// unquoted returns text without the quote that it may begin with.
func unquoted(text []byte) []byte {
	if len(text) > 0 && (text[0] == '"' || text[0] == '\'') {
		return text[1:]
	}
	return text
}

// nameOf returns the letters that text begins with.
func nameOf(text []byte) []byte {
	n := bytes.IndexFunc(text, func(r rune) bool { return r != '_' && (r < 'A' || r > 'Z') && (r < 'a' || r > 'z') })
	if n < 0 {
		return text
	}
	return text[:n]
}

// namesFilm says whether a line of TOML gives the name of a film, where a trial has
// a table.
func namesFilm(line []byte) bool { return filmLine().Match(line) }

// KindOf returns what a file is by its content, which may be faulty: by the
// tables and keys of TOML, by the columns of a table.
func KindOf(data []byte) Kind {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	for _, sign := range []string{"PK\x03\x04", "\xd0\xcf\x11\xe0", "{", "CGATS"} { // spreadsheets, JSON, CGATS
		if bytes.HasPrefix(data, []byte(sign)) {
			return TableKind
		}
	}
	if k := tableKind(data); k != UnknownKind { // first, for a scene may be called [film]
		return k
	}
	return tomlKind(data)
}

// kindSigns are the tables and keys by which a kind is told; those of a strip are in its
// table.
var kindSigns, stripSigns = [...]string{"paper", "film", "exposure", "process", "reading", "tablet", "step", "aim", "reference", "limits", "strip"},
	[...]string{"density", "date", "low", "high"}

func tomlKind(data []byte) Kind {
	var signs [len(kindSigns)]bool
	var ofStrip [len(stripSigns)]bool
	note := func(in []bool, known []string, name []byte) {
		if i := slices.IndexFunc(known, func(k string) bool { return k == string(name) }); i >= 0 {
			in[i] = true
		}
	}
	has := func(names ...string) bool {
		return slices.ContainsFunc(names, func(name string) bool { return signs[slices.Index(kindSigns[:], name)] })
	}
	stripHas := func(names ...string) bool {
		return slices.ContainsFunc(names, func(name string) bool { return ofStrip[slices.Index(stripSigns[:], name)] })
	}
	stated, table := Kind(""), []byte(nil)
	for line := range bytes.Lines(data) {
		if name := headerOf(line); len(name) > 0 {
			told := string(name) == "strip" && has("strip") // by the first strip
			table = name
			note(signs[:], kindSigns[:], table)
			if told || stated == "" && has("film") {
				break
			}
			continue
		}
		name := keyOf(line)
		switch {
		case len(name) == 0:
		case string(table) == "strip":
			note(ofStrip[:], stripSigns[:], name)
		case len(table) > 0:
		case string(name) == "kind":
			if k := kindLine().FindSubmatch(line); k != nil {
				stated = Kind(k[1])
			}
		case string(name) != "film" || !namesFilm(line): // as a control log does
			note(signs[:], kindSigns[:], name)
		}
	}
	switch {
	case stated == ControlKind, stated == PaperKind, stated == ProcedureKind, stated == PictureKind:
		return stated
	case has("paper") && !has("film"):
		return PaperKind
	case has("film", "exposure", "process", "reading"), stripHas("density"):
		return FilmKind
	case has("tablet"):
		return PictureKind
	case has("step"):
		return ProcedureKind
	case has("aim", "reference", "limits"), stripHas("date", "low", "high"):
		return ControlKind
	}
	return UnknownKind
}

// readingColumns are words of the first line of a table of readings.
var readingColumns = []string{"density", "step", "wedge", "log_h", "minutes"}

// tableKind looks at the first line that says something.
func tableKind(data []byte) Kind {
	for line := range bytes.Lines(data) {
		line = bytes.TrimSpace(line[:min(len(line), 4096)])
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		if bytes.ContainsAny(line, "=[{") {
			break
		}
		text := strings.ToLower(string(line))
		cells := strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '\t' })
		for i, c := range cells {
			cells[i] = strings.Trim(c, " \"")
		}
		has := func(name string) bool { return slices.Contains(cells, name) }
		switch {
		case len(cells) < 2:
		case has(colName) && (has(colRange) || has(colShadow)), has(colShadow) && has(colHighlight):
			return RollKind
		case slices.ContainsFunc(readingColumns, has):
			return TableKind
		}
		break
	}
	return UnknownKind
}

// An Entry is a file of a folder.
type Entry struct {
	Name string // within the folder
	Path string
	Kind Kind
}

// List returns the files of a folder, but not of the folders in it, sorted by
// name; hidden ones are passed over. A file that cannot be read, and one whose
// name ends in .toml and that is not well-formed, counts as a trial of film if
// nothing else can be told, so that reading it says what is wrong. The error is
// that of reading the folder.
func List(dir string) ([]Entry, error) {
	found, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, store.Cause(err))
	}
	store.Sweep(dir)
	var list []Entry
	for _, f := range found {
		path := filepath.Join(dir, f.Name())
		if strings.HasPrefix(f.Name(), ".") {
			continue
		}
		if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
			continue
		}
		list = append(list, Entry{f.Name(), path, FileKind(path)})
	}
	return list, nil
}

// FileKind returns the kind of a file, as List does.
func FileKind(path string) Kind {
	unclear := UnknownKind
	if strings.EqualFold(filepath.Ext(path), ".toml") {
		unclear = FilmKind
	}
	f, err := os.Open(path)
	if err != nil {
		return unclear
	}
	defer f.Close()
	// What is not text is not read to its end.
	head := make([]byte, 4096)
	n, err := io.ReadFull(f, head)
	if n == 0 && err != io.EOF || bytes.IndexByte(head[:n], 0) >= 0 {
		return unclear
	}
	rest, err := io.ReadAll(io.LimitReader(f, grammar.MaxBytes))
	if err != nil {
		return unclear
	}
	data := append(head[:n], rest...)
	switch kind := KindOf(data); {
	case kind != UnknownKind:
		return kind
	case unclear != UnknownKind && grammar.WellFormed(data) && strings.TrimSpace(string(data)) != "":
		return UnknownKind // of another program
	}
	return unclear
}
