package table

import (
	"fmt"
	"slices"

	"sensito/sensito/notebook/internal/grammar"
)

// tables reads the trials of a table.
func (im *importer) tables(t *sheet) ([]*source, error) {
	if err := im.header(t); err != nil {
		return nil, err
	}
	if t.columns == nil {
		return nil, nil
	}
	im.leaveOut(t)
	layout, err := im.layout(t)
	if err != nil {
		return nil, err
	}
	im.twice(t)
	var drafts []*draft
	switch layout {
	case "long":
		drafts, err = im.long(t)
	case "columns":
		drafts, err = im.stripColumns(t)
	default:
		drafts, err = im.stripRows(t)
	}
	if err != nil {
		return nil, err
	}
	if err := im.findDecimal(t, drafts, layout); err != nil {
		return nil, err
	}
	if err := im.doubts(t, drafts); err != nil && len(im.faults) == 0 {
		return nil, err
	}
	im.describe(t, drafts)
	var sources []*source
	for _, d := range drafts {
		if d.steps == 0 && len(im.faults) > 0 {
			return nil, im.faults // which leave nothing to go on with
		}
		d.constants = append(d.constants, t.constants...)
		sources = append(sources, im.assemble(d))
	}
	return sources, nil
}

// header finds the line of headings, and the units below it.
func (im *importer) header(t *sheet) error {
	var above []int // lines of headings of the whole sheet
	named := slices.IndexFunc(t.rows[:min(len(t.rows), mostAbove)], namesColumns)
	for i, row := range t.rows {
		filled := 0
		for _, cell := range row {
			if c, _ := columnOf(cell); c != nil {
				filled++ // a table may have one column
			}
			if cell != "" {
				filled++
			}
		}
		if (filled < 2 || i < named) && t.headings == nil && len(t.rows) > i+1 {
			above = append(above, t.lines[i])
			continue
		}
		t.headings, t.line = row, t.lines[i]
		t.rows, t.lines = t.rows[i+1:], t.lines[i+1:]
		break
	}
	switch n := len(above); {
	case n == 1:
		im.guess("line %d is a heading of the sheet and passed over", above[0])
	case n > 1:
		im.guess("lines %d to %d are headings of the sheet and passed over", above[0], above[n-1])
	}
	if len(t.headings) == 0 {
		return im.refuse(1, "is empty; the first line names the columns, such as minutes, step, wedge, density")
	}
	if len(t.rows) == 0 && !slices.ContainsFunc(t.headings, func(h string) bool { c, _ := columnOf(h); return c != nil }) {
		return im.refuse(t.line, "%s", noDensity)
	}
	if len(t.rows) == 0 {
		return im.refuse(t.line, "has headings but no readings below them")
	}
	if n := len(t.headings); n > maxHeadings {
		return im.refuse(t.line, "has %d columns, more than %d", n, maxHeadings)
	}
	for _, h := range t.headings {
		c, unit := columnOf(h)
		if c != nil && c.name == colDensity && isTime(unit) && !plainTime().MatchString(unit) {
			c = nil // the densities of one strip
		}
		if c != nil && c.kind == aTime && unit == "" && minuteWords().MatchString(h) {
			unit = "min"
		}
		t.columns, t.units = append(t.columns, c), append(t.units, unit)
	}
	if i := slices.IndexFunc(t.headings, func(h string) bool { return plainWords(h) == "sample id" }); i >= 0 {
		if t.columns[i] = nil; t.find(colStep) < 0 { // else a step is told by that
			t.columns[i] = columnNamed(colStep)
		}
	}
	t.strippedTimes()
	if unitsRow(t.rows[0]) {
		im.guess("line %d holds units and is passed over", t.lines[0])
		for i, unit := range t.rows[0] {
			if i < len(t.units) && t.units[i] == "" {
				t.units[i] = unit
			}
		}
		t.rows, t.lines = t.rows[1:], t.lines[1:]
	}
	for i, row := range t.rows {
		if n := len(t.headings); len(row) > n && slices.ContainsFunc(row[n:], func(s string) bool { return s != "" }) {
			hint := ""
			if t.separator == ',' {
				hint = "; where numbers have a decimal comma, the cells must be parted otherwise, or be in quotes (--separator)"
			}
			return im.refuse(t.lines[i], "has %d cells for %d headings%s", len(row), n, hint)
		}
	}
	return nil
}

// namesColumns says whether a row can be nothing but the headings of readings, which what
// stands above a table, such as a line of the film, is not.
func namesColumns(row []string) bool {
	if unitsRow(row) {
		return false
	}
	times, numbers := 0, 0
	known := map[string]bool{}
	for _, cell := range row {
		_, number := eitherNumber(cell)
		switch c, _ := columnOf(cell); {
		case c != nil:
			known[c.name] = true
		case number:
			numbers++
		case isTime(cell):
			times++
		}
	}
	exposed := known[colStep] || slices.ContainsFunc(exposureColumns, func(name string) bool { return known[name] })
	return known[colDensity] || times > 1 || times > 0 && exposed || known[colMinutes] && numbers >= fewestReadings
}

// leaveOut leaves out the columns that the options name.
func (im *importer) leaveOut(t *sheet) {
	t.without = map[int]bool{}
	for j, h := range t.headings {
		for _, name := range im.o.Without {
			if name == h || name == t.headingAt(j).name {
				t.without[j], t.columns[j] = true, nil
				im.left[name] = true
			}
		}
	}
}

// layout returns how the table is laid out.
func (im *importer) layout(t *sheet) (string, error) {
	if im.o.Orientation != "" {
		return im.o.Orientation, nil
	}
	if t.find(colDensity) >= 0 {
		im.guess("each row is a reading")
		return "long", nil
	}
	if t.find(colMinutes) > 0 || t.find(colMinutes) == 0 && t.find(append([]string{colStep}, exposureColumns...)...) < 0 {
		im.guess("each row is a strip")
		return "rows", nil
	}
	times := 0
	for i, c := range t.columns {
		if c == nil && isTime(t.headings[i]) {
			times++
		}
	}
	switch {
	case times == 0:
		return "", im.refuse(t.line, "%s", t.strange())
	case t.find(append([]string{colStep}, exposureColumns...)...) >= 0:
		im.guess("each column is a strip")
		return "columns", nil
	}
	var down []string // what stands in place of steps or of times
	for i := range t.rows {
		if c := t.cell(i, 0); !baseRow(c.text) {
			down = append(down, c.text)
		}
	}
	down = slices.Compact(down) // a step may be read more than once
	switch across := t.headings[1:]; {
	case countsUp(down) && !countsUp(across):
		im.guess("each column is a strip, and the first column numbers the steps")
		t.columns[0] = columnNamed(colStep)
		return "columns", nil
	case countsUp(across) && !countsUp(down):
		im.guess("each row is a strip, and the first column is the development time")
		t.columns[0] = columnNamed(colMinutes)
		return "rows", nil
	}
	return "", im.refuse(t.line, "does not say whether a strip is a column or a row; name the first column step, wedge or minutes, or give --orientation columns or --orientation rows")
}

// countsUp says whether texts are the numbers from 1 on.
func countsUp(texts []string) bool {
	for i, s := range texts {
		if s != fmt.Sprint(i+1) {
			return false
		}
	}
	return len(texts) > 1
}

// twice notes columns that say the same as another.
func (im *importer) twice(t *sheet) {
	seen := map[string]bool{}
	for i, c := range t.columns {
		if c == nil {
			continue
		}
		if seen[c.name] {
			im.fault(place{t.line, clip(t.headings[i])}, "is there twice: as %s", c.name)
		}
		seen[c.name] = true
	}
}

// findDecimal settles the decimal mark from all numbers of the table.
func (im *importer) findDecimal(t *sheet, drafts []*draft, layout string) error {
	if im.decimal = decimals[im.o.Decimal]; im.decimal != 0 {
		return nil
	}
	var numbers, times []cell
	readings := false
	for _, d := range drafts {
		for _, cells := range d.exposures {
			numbers = append(numbers, cells...)
		}
		for _, s := range d.strips {
			for name, c := range s.values {
				switch columnNamed(name).kind {
				case aNumber, aList:
					numbers = append(numbers, split(c)...)
				case aTime:
					times = append(times, c)
				}
			}
			numbers = append(numbers, s.fog...)
			for _, cells := range s.readings {
				numbers, readings = append(numbers, cells...), true
			}
		}
		for _, c := range d.constants {
			if c.kind == aNumber || c.kind == aList {
				numbers = append(numbers, split(c.cell)...)
			}
		}
	}
	slices.SortFunc(numbers, func(a, b cell) int { return a.line - b.line })
	mark, found, fault := guessDecimal(numbers)
	if !found && fault == nil {
		if m, f, bad := guessDecimal(times); bad == nil { // which have a mark of their own
			mark, found = m, f
		}
	}
	switch {
	case fault != nil:
		fault.File = im.name
		return grammar.Errors{fault}
	case found && mark == ',':
		im.guess("the decimal mark is a comma")
	case !found && readings && t.separator == ',' && layout != "long":
		return im.refuse(t.line, "has numbers without decimals between commas; if the comma is the decimal mark, the cells must be parted otherwise or be in quotes; if they are whole numbers, give --decimal point")
	}
	im.decimal = mark
	return nil
}
