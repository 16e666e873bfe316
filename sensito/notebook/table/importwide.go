package table

import (
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/notebook/internal/grammar"
)

// stripColumns reads a table with a column for each strip, headed by its
// development time, and a row for each step.
func (im *importer) stripColumns(t *sheet) ([]*draft, error) {
	d := &draft{exposures: map[int][]cell{}}
	step, exposure := t.find(colStep), t.find(exposureColumns...)
	t.strips = map[int]*draftStrip{}
	for j, h := range t.headings {
		if t.columns[j] != nil || t.without[j] {
			continue
		}
		w := readStripWords(h)
		if w.unit == "" && unitTime().MatchString("1"+t.units[j]) {
			w.unit = t.units[j] // from the row of units
		}
		switch {
		case w.twice != "":
			im.fault(place{t.line, ""}, "%q names two %s; a column is one strip", clip(h), w.twice)
		case w.time != "" && !w.sound(im.o.Times), w.time == "" && h != "" && h[0] >= '0' && h[0] <= '9':
			im.fault(place{t.line, ""}, "%q is not a development time like 5:30", clip(h))
		case w.time != "":
			s := im.newStrip(d, place{t.line, h})
			s.tell(w, s.place, strconv.Itoa(len(d.strips)))
			t.strips[j] = s
		}
	}
	if len(t.strips) == 0 {
		return nil, im.refuse(t.line, "has no column headed by a development time like 5:30")
	}
	if doubt := im.unreadDoubt(t); doubt != nil && len(im.faults) == 0 {
		return nil, doubt
	}
	if exposure >= 0 {
		d.exposure = t.columns[exposure]
	}
	for i := range t.rows {
		for j, c := range t.columns {
			if here := t.cell(i, j); c != nil && here.text != "" && (c.of == ofTrial || c.of == ofEither) {
				im.constant(d, c, here)
			}
		}
		number := im.wideStep(t, d, i, step, exposure)
		for j := range t.headings {
			s, c := t.strips[j], t.cell(i, j)
			switch {
			case s == nil || notRead(c.text):
			case number == 0:
				s.fog = append(s.fog, c)
			case number > 0:
				s.readings[number] = append(s.readings[number], c)
			}
		}
	}
	im.lift(d)
	return []*draft{d}, nil
}

// wideStep returns the number of the step of a row, 0 for unexposed film and
// less for a row that is of neither.
func (im *importer) wideStep(t *sheet, d *draft, row, step, exposure int) int {
	for _, j := range []int{step, exposure} {
		if j >= 0 && (baseRow(t.cell(row, j).text) || j == step && t.cell(row, j).text == "0") {
			return 0
		}
	}
	number := d.steps + 1
	if step >= 0 {
		c := t.cell(row, step)
		n, err := strconv.Atoi(c.text)
		if err != nil || n < 1 || n > grammar.MaxSteps {
			im.fault(c.place, "%q is not the number of a step, 1 to %d", clip(c.text), grammar.MaxSteps)
			return -1
		}
		number = n
	}
	if number > grammar.MaxSteps {
		im.fault(t.at(row, 0), "brings the table to more than %d steps", grammar.MaxSteps)
		return -1
	}
	d.steps = max(d.steps, number)
	if exposure >= 0 {
		d.expose(number, t.cell(row, exposure))
	}
	return number
}

// stripRows reads a table with a row for each strip and a column for each step,
// headed by its number or its exposure.
func (im *importer) stripRows(t *sheet) ([]*draft, error) {
	d := &draft{exposures: map[int][]cell{}}
	t.steps = map[int]int{}
	steps := t.steps
	numbered := true
	for j, h := range t.headings {
		words := strings.TrimPrefix(h, "step ")
		if _, ok := eitherNumber(words); t.columns[j] != nil || t.without[j] || !ok {
			continue
		}
		steps[j] = len(steps) + 1
		numbered = numbered && words == strconv.Itoa(steps[j])
	}
	if len(steps) == 0 {
		return nil, im.refuse(t.line, "has no columns of steps, headed 1, 2, 3 or by their exposures")
	}
	if len(steps) > grammar.MaxSteps {
		return nil, im.refuse(t.line, "has %d columns of steps, more than %d", len(steps), grammar.MaxSteps)
	}
	d.steps = len(steps)
	if !numbered {
		kind := im.o.Values[colKind]
		name, ok := map[string]string{"contact": colWedge, "camera": colStopsOf, "relative": colLogH}[kind]
		if !ok {
			return nil, im.refuse(t.line, "heads the steps by their exposures; give --kind contact (wedge densities), camera (stops) or relative (log H) to say what they are")
		}
		d.exposure = columnNamed(name)
		for j, n := range steps {
			d.expose(n, cell{t.headings[j], place{t.line, t.headings[j]}})
		}
	}
	for i := range t.rows {
		s := im.newStrip(d, place{t.lines[i], colMinutes})
		for j := range t.headings {
			c, here := t.columns[j], t.cell(i, j)
			switch {
			case here.text == "":
			case steps[j] > 0 && !notRead(here.text):
				s.readings[steps[j]] = append(s.readings[steps[j]], here)
			case c == nil:
			case c.of == ofTrial:
				im.constant(d, c, here)
			case c.of == ofStrip || c.of == ofEither:
				im.value(s, c, here, t.units[j])
			}
		}
	}
	d.strips = slices.DeleteFunc(d.strips, func(s *draftStrip) bool {
		return len(s.readings) == 0 && len(s.fog) == 0 && len(s.values) == 0
	})
	im.lift(d)
	return []*draft{d}, nil
}
