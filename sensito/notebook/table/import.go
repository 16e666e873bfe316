package table

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"sensito/sensito"
	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
	"sensito/sensito/notebook/store"
)

// ImportChoices returns what the options that are a choice can be, by the names of
// their flags.
func ImportChoices() map[string][]string {
	var marks []string
	for _, s := range separators {
		marks = append(marks, s.name)
	}
	return map[string][]string{"separator": marks, "decimal": sortedKeys(decimals), "orientation": Orientations, "times": Times, "dates": Dates}
}

// Check returns an error for options that are not among those named.
func (o ImportOptions) Check() error {
	choices := ImportChoices()
	for _, c := range []struct{ name, value string }{{"separator", o.Separator}, {"decimal", o.Decimal}, {"orientation", o.Orientation},
		{"times", o.Times}, {"dates", o.Dates}} {
		if from := choices[c.name]; c.value != "" && !slices.Contains(from, c.value) {
			return fmt.Errorf("--%s %q is not one of %s", c.name, c.value, strings.Join(from, ", "))
		}
	}
	im := importer{decimal: '.'}
	for _, name := range sortedKeys(o.Values) {
		c := columnNamed(name)
		if c == nil || c.flag == "" {
			return fmt.Errorf("%q is not a column that a value can stand for", name)
		}
		texts := []string{o.Values[name]}
		if list := splitTimes(o.Values[name]); c.kind == aTime && len(list) > 1 {
			texts = list
		}
		for _, text := range texts {
			if err := sensito.EitherTime(text); c.kind == aTime && err != nil {
				return fmt.Errorf("--%s %w", c.flag, err)
			}
			if _, ok := im.content(c, cell{text: text}, ""); !ok {
				return fmt.Errorf("--%s %s", c.flag, im.faults[0].Msg)
			}
		}
	}
	return nil
}

// Import returns the trials in r, whatever form it has, which its content tells:
// a table in text or a workbook (.xlsx), measurement data in CGATS.17, JSON as
// written by Export, or a notebook. Name stands for the file in errors. What is
// found is not nil with an error either. The error is a Doubt where the file can
// be meant in two ways, else of type Errors and names every fault of the file; a
// failure of r itself is wrapped. The options must pass Check.
func Import(name string, r io.Reader, o ImportOptions) (*Found, error) {
	data, err := store.ReadAll(name, r)
	if err != nil {
		return &Found{}, err
	}
	im := &importer{name: name, o: o, left: map[string]bool{}}
	sources, err := im.read(data)
	found := &Found{Guesses: im.guesses, Columns: im.readAs}
	if err != nil {
		return found, err
	}
	for _, heading := range o.Without {
		if !im.left[heading] {
			im.fault(place{1, "--without"}, "no column is headed %q", clip(heading))
		}
	}
	var trials []*Imported
	for _, src := range sources {
		trials = append(trials, im.finish(src))
	}
	found.Guesses = im.guesses
	if len(im.faults) > 0 {
		slices.SortStableFunc(im.faults, func(a, b *grammar.Error) int { return cmp.Compare(a.Line, b.Line) })
		return found, im.faults
	}
	if n := len(trials); o.Into != nil && n > 1 {
		return found, im.refuse(1, "has %d trials; strips are added from one at a time", n)
	}
	found.Trials = trials
	return found, nil
}

var cgatsForm = lazy.Regexp(`(?mi)^[ \t]*BEGIN_DATA(_FORMAT)?\b|\A\s*CGATS\b`)

// read finds out what the file is.
func (im *importer) read(data []byte) ([]*source, error) {
	text := bytes.TrimPrefix(data, []byte("\ufeff"))
	const enough = 64 << 10 // bytes, to tell what it is by
	head := text[:min(len(text), enough)]
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")):
		if err := im.useless("a workbook", "separator"); err != nil {
			return nil, err
		}
		g, err := readXLSX(im.name, data, im.o.Sheet)
		if err != nil {
			return nil, err
		}
		return im.tables(&sheet{grid: g})
	case bytes.HasPrefix(bytes.TrimLeft(text, " \t\r\n"), []byte("{")):
		if err := im.useless("JSON", "separator", "decimal", "orientation", "sheet", "times", "dates", "without"); err != nil {
			return nil, err
		}
		return im.readJSON(text)
	case cgatsForm().Match(head):
		if err := im.useless("in the form CGATS.17", "separator", "decimal", "sheet"); err != nil {
			return nil, err
		}
		return im.readCGATS(data)
	}
	switch k := notebook.KindOf(head); k {
	case notebook.FilmKind, notebook.PaperKind:
		if err := im.useless("a notebook", "separator", "decimal", "orientation", "sheet", "times", "dates", "without"); err != nil {
			return nil, err
		}
		return im.readNotebook(text)
	case notebook.TableKind, notebook.UnknownKind:
		if err := im.useless("a table in text", "sheet"); err != nil {
			return nil, err
		}
	default:
		return nil, im.refuse(1, "%s", k.Instead("a table of readings or a trial"))
	}
	var separator rune
	for _, s := range separators {
		if s.name == im.o.Separator {
			separator = s.mark
		}
	}
	decoded, charset, err := grammar.DecodeText(im.name, data)
	if err != nil {
		return nil, err
	}
	if charset != "" {
		im.guess("the letters are %s", charset)
	}
	g, found, err := readCSV(im.name, decoded, separator)
	if err != nil {
		return nil, err
	}
	for _, s := range separators {
		if s.mark == found && separator == 0 {
			im.guess("cells are parted by a %s", s.name)
		}
	}
	return im.tables(&sheet{grid: g, separator: found})
}

// useless returns an error for an option with one of the names, since the file is
// of a form in which there is nothing that it could say.
func (im *importer) useless(form string, names ...string) error {
	given := map[string]bool{"separator": im.o.Separator != "", "decimal": im.o.Decimal != "", "orientation": im.o.Orientation != "", "sheet": im.o.Sheet != "",
		"times": im.o.Times != "", "dates": im.o.Dates != "", "without": len(im.o.Without) > 0}
	for _, name := range names {
		if given[name] {
			return grammar.Errors{{File: im.name, Line: 1, Key: "--" + name, Msg: "has no use: the file is " + form}}
		}
	}
	return nil
}

func (im *importer) readNotebook(data []byte) ([]*source, error) {
	if line := grammar.Crowded(data); line > 0 {
		return nil, im.refuse(line, "%s", grammar.TooManyKeys)
	}
	src := &source{at: map[string]place{}, told: map[string]bool{}, written: grammar.EitherTimes(data)}
	if err := toml.Unmarshal(data, &src.values); err != nil {
		return nil, grammar.Errors{grammar.SyntaxError(im.name, err)}
	}
	for key, line := range grammar.Lines(data) {
		src.at[key] = place{line: line}
	}
	return []*source{src}, nil
}

// finish makes the trial of a source; it is of use only when no fault is noted.
func (im *importer) finish(src *source) *Imported {
	im.fill(src)
	switch {
	case im.o.Into != nil:
		im.fit(src)
	case src.table:
		im.expose(src)
	}
	root := &grammar.Table{Faults: &grammar.Faults{Told: maps.Clone(src.told), Written: src.written}, Values: src.values}
	out := &Imported{Trial: trialfile.Trial(root)}
	told := grammar.Faults{Told: src.told}
	for _, f := range root.Found {
		if !told.Hidden(f.Key) {
			im.locate(src, f)
		}
	}
	if out.Trial != nil && im.o.Into == nil {
		im.leaveCopies(src, out)
	}
	if out.Trial != nil {
		again := &grammar.Table{Faults: &grammar.Faults{}, Values: src.values}
		out.Strips = trialfile.Strips(again, out.Trial.Material())
		for i := range out.Strips {
			if len(out.Strips[i].BaseFog) == 0 {
				out.Strips[i].BaseFog = nil // so that none is written
			}
		}
	}
	return out
}
