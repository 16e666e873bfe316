package table

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/printable"
)

// longTable is a table of one reading a row that is being read.
type longTable struct {
	*importer
	*sheet
	drafts  []*draft
	byTrial map[string]*draft
	byStrip map[*draft]map[string]*draftStrip
	current string // trial of the row before
	before  *draft // the same
	step    int    // column of the step, -1 where steps go by exposure or order
	places  map[*draft][]float64
}

// long reads a table that has one row for each reading.
func (im *importer) long(s *sheet) ([]*draft, error) {
	t := &longTable{importer: im, sheet: s, byTrial: map[string]*draft{}, byStrip: map[*draft]map[string]*draftStrip{},
		step: s.find(colStep), places: map[*draft][]float64{}}
	if s.find(colDensity) < 0 {
		return nil, im.refuse(s.line, "has no column density, which a table of one reading a row needs")
	}
	if t.step >= 0 && t.named() {
		im.guess("%q names the steps; they are numbered in the order of the rows", s.headings[t.step])
		t.step = -1
	}
	exposure := s.find(exposureColumns...)
	if t.step < 0 && exposure >= 0 {
		im.guess("steps are numbered by their %s", s.columns[exposure].name)
		for i := range s.rows {
			t.notePlace(i, exposure)
		}
	} else if t.step < 0 {
		im.guess("steps are numbered in the order of the rows")
	}
	for i := range s.rows {
		t.row(i, exposure)
	}
	for _, d := range t.drafts {
		im.lift(d)
		for _, s := range d.strips {
			if n := s.count(); s.label != "" && n < minWedge && d.steps >= minWedge {
				im.guess("strip %q (line %d) has only %s: see that its name is right", clip(s.label), s.line, printable.Counted(n, "reading"))
			}
		}
	}
	return t.drafts, nil
}

// named says whether the steps have names in place of numbers, as a column of
// samples may.
func (t *longTable) named() bool {
	for i := range t.rows {
		c := t.cell(i, t.step).text
		if _, err := strconv.Atoi(c); err != nil && c != "" && !baseRow(c) {
			return plainWords(t.headings[t.step]) == "sample id"
		}
	}
	return false
}

// trial returns the trial of a row.
func (t *longTable) trial(row int) *draft {
	if i := t.find(colTrial); i >= 0 {
		if name := t.cell(row, i).text; name != "" {
			t.current = name
		}
	}
	d, ok := t.byTrial[t.current]
	if !ok {
		d = &draft{exposures: map[int][]cell{}}
		t.byTrial[t.current], t.byStrip[d] = d, map[string]*draftStrip{}
		t.drafts = append(t.drafts, d)
	}
	return d
}

// notePlace notes the exposure of a row, by which its step is found later.
func (t *longTable) notePlace(row, column int) {
	d, c := t.trial(row), t.cell(row, column)
	if v, ok := eitherNumber(c.text); ok && len(t.places[d]) <= grammar.MaxSteps && !slices.Contains(t.places[d], v) {
		t.places[d] = append(t.places[d], v)
	}
}

// row reads one row.
func (t *longTable) row(i, exposure int) {
	d := t.trial(i)
	s := t.strip(d, i)
	for j, c := range t.columns {
		if c == nil {
			continue
		}
		switch here := t.cell(i, j); {
		case here.text == "":
		case c.of == ofTrial:
			t.constant(d, c, here)
		case c.of == ofStrip || c.of == ofEither:
			t.value(s, c, here, t.units[j])
		}
	}
	reading := t.cell(i, t.find(colDensity))
	step, base := t.stepOf(d, s, i, exposure)
	switch {
	case base:
		if !notRead(reading.text) {
			s.fog = append(s.fog, reading)
		}
		return
	case step == 0:
		return
	}
	if exposure >= 0 {
		d.exposure = t.columns[exposure]
		d.expose(step, t.cell(i, exposure))
	}
	d.steps = max(d.steps, step)
	if !notRead(reading.text) {
		if len(s.readings[step]) > 0 && t.find(colStrip) < 0 && s.last != step {
			t.fault(reading.place, "step %d is there again (first in line %d); number the strips in a column strip if this is another one",
				step, s.readings[step][0].line)
		}
		s.readings[step] = append(s.readings[step], reading)
	}
	s.last = step
	if j := t.find(colIgnored); j >= 0 {
		switch c := t.cell(i, j); strings.ToLower(c.text) {
		case "", "no", "n", "0", "false", "-":
		case "yes", "y", "x", "1", "true":
			if !slices.Contains(s.ignored, step) {
				s.ignored = append(s.ignored, step)
			}
		default:
			t.fault(c.place, "%q is neither yes nor no", clip(c.text))
		}
	}
}

// strip returns the strip of a row: by its number or, where strips have none, by
// all that is said of it.
func (t *longTable) strip(d *draft, row int) *draftStrip {
	key, numbered := "", t.find(colStrip)
	if numbered >= 0 {
		key = t.cell(row, numbered).text
	} else {
		var parts []string
		for j, c := range t.columns {
			if c == nil || c.of != ofStrip && c.of != ofEither {
				continue
			}
			text := t.cell(row, j).text
			if text == "" && d == t.before && (c.name == colMinutes || c.name == colGrade) {
				text = t.cell(row-1, j).text // written once, for the rows below it too
				t.rows[row] = append(t.rows[row], make([]string, max(0, j+1-len(t.rows[row])))...)
				t.rows[row][j] = text
			}
			parts = append(parts, text)
		}
		key = strings.Join(parts, "\x00")
	}
	t.before = d
	s, ok := t.byStrip[d][key]
	if !ok {
		s = t.newStrip(d, place{line: t.lines[row], name: colStrip})
		if numbered >= 0 {
			if err := printable.CheckLine(key, printable.MaxName); err != nil {
				t.fault(t.at(row, numbered), "%v", err)
			}
			s.label = key
		}
		t.byStrip[d][key] = s
	}
	return s
}

// constant notes what a row says of the whole trial.
func (im *importer) constant(d *draft, c *column, here cell) {
	for _, before := range d.constants {
		if before.column == c {
			if before.text != here.text && d.contrary.first(c, here) {
				im.fault(here.place, "%q, but %q in line %d; a trial has one %s", clip(here.text), clip(before.text), before.line, strings.ReplaceAll(c.name, "_", " "))
			}
			return
		}
	}
	d.constants = append(d.constants, constant{c, here})
}

// value notes what a row says of its strip.
func (im *importer) value(s *draftStrip, c *column, here cell, unit string) {
	if c.name == colMinutes {
		if w := im.stripWords(here.text); w.time != "" && w.twice == "" {
			if here.text = w.time; w.unit == "" {
				w.unit = unit
			}
			if _, told := s.values[colMinutes]; !told {
				s.tell(w, here.place, "")
				return
			}
		}
	}
	before, ok := s.values[c.name]
	switch {
	case ok && before.text != here.text:
		if s.contrary.first(c, here) {
			im.fault(here.place, "%q, but %q in line %d for the same strip", clip(here.text), clip(before.text), before.line)
		}
	case !ok:
		s.values[c.name] = here
	}
}

// stepOf returns the number of the step that a row tells of, 0 where it tells
// of none, and whether it is of unexposed film.
func (t *longTable) stepOf(d *draft, s *draftStrip, row, exposure int) (step int, base bool) {
	if t.step >= 0 {
		c := t.cell(row, t.step)
		if baseRow(c.text) || c.text == "0" {
			return 0, true
		}
		n, err := strconv.Atoi(c.text)
		switch {
		case c.text == "" && notRead(t.cell(row, t.find(colDensity)).text):
			return 0, false
		case err != nil:
			t.fault(c.place, "%q is not the number of a step", clip(c.text))
			return 0, false
		case n < 1 || n > grammar.MaxSteps:
			t.fault(c.place, "step %d is outside 1 to %d", n, grammar.MaxSteps)
			return 0, false
		}
		return n, false
	}
	if exposure >= 0 {
		c := t.cell(row, exposure)
		if baseRow(c.text) {
			return 0, true
		}
		v, ok := eitherNumber(c.text)
		if !ok {
			if c.text != "" || !notRead(t.cell(row, t.find(colDensity)).text) {
				t.fault(c.place, "%q is not a number, which tells the step", clip(c.text))
			}
			return 0, false
		}
		return t.placeOf(d, v), false
	}
	if s.last >= grammar.MaxSteps {
		t.fault(t.at(row, 0), "brings the strip to more than %d steps", grammar.MaxSteps)
		return 0, false
	}
	return s.last + 1, false
}

// placeOf returns the number of the step of an exposure, in the direction in
// which the table begins.
func (t *longTable) placeOf(d *draft, v float64) int {
	ps := t.places[d]
	if !slices.IsSorted(ps) && !slices.IsSortedFunc(ps, func(a, b float64) int { return cmp.Compare(b, a) }) {
		falling := ps[1] < ps[0]
		slices.Sort(ps)
		if falling {
			slices.Reverse(ps)
		}
	}
	if i := slices.Index(ps, v); i >= 0 {
		return i + 1
	}
	return grammar.MaxSteps + 1 // told by whoever counts the steps
}

// lift makes a value of the trial of what strips say alike. Those that say nothing
// of it count as alike, but for what stands beside the time of a strip, which is
// of that strip alone. Where strips were exposed differently, the trial is exposed
// as the first of them.
func (im *importer) lift(d *draft) {
	every := slices.ContainsFunc(d.strips, func(s *draftStrip) bool { return s.words.dilution != "" || s.words.temperature != "" })
	for i := range tableColumns {
		c := &tableColumns[i]
		if c.of != ofEither {
			continue
		}
		var first *cell
		alike := true
		for _, s := range d.strips {
			v, ok := s.values[c.name]
			switch {
			case ok && first == nil:
				first = &v
			case ok && v.text != first.text, !ok && every:
				alike = false
			}
		}
		if first == nil || slices.ContainsFunc(d.constants, func(k constant) bool { return k.column == c }) || !alike && !strings.HasPrefix(c.key, "exposure.") {
			continue
		}
		d.constants = append(d.constants, constant{c, *first})
		for _, s := range d.strips {
			if alike {
				delete(s.values, c.name)
			}
		}
	}
}
