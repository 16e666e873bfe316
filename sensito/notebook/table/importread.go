package table

import (
	"fmt"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/printable"
)

// describe says how each column of a table was read.
func (im *importer) describe(t *sheet, drafts []*draft) {
	first, last := -1, -1 // columns of steps
	steps := func() {
		if first >= 0 {
			im.readAs = append(im.readAs, ReadColumn{t.headingAt(first).name + " to " + t.headingAt(last).name,
				fmt.Sprintf("readings of steps %d to %d", t.steps[first], t.steps[last])})
		}
		first = -1
	}
	for j, c := range t.columns {
		if t.steps[j] > 0 {
			if last = j; first < 0 {
				first = j
			}
			continue
		}
		steps()
		as := ""
		switch h := t.headings[j]; {
		case t.strips[j] != nil:
			as = im.stripRead(t.strips[j], slices.Index(drafts[0].strips, t.strips[j])+1)
		case t.without[j]:
			as = "left out"
		case c == nil && h == "":
			continue
		case c == nil:
			as = "not used"
			if near := nearColumn(h); near != "" {
				as += fmt.Sprintf(" (did you mean %s?)", near)
			}
		case t.strips != nil && (c.of == ofStrip || c.name == colIgnored), t.steps != nil && c.of == ofStep:
			as = "not used: it has no place in a table of this layout"
		default:
			as = im.columnRead(t, j)
		}
		im.readAs = append(im.readAs, ReadColumn{t.headingAt(j).name, as})
	}
	steps()
}

// stripRead says what was read of a strip that is a column.
func (im *importer) stripRead(s *draftStrip, number int) string {
	text := fmt.Sprintf("strip %d", number)
	if c, ok := s.values[colMinutes]; ok {
		text += ", developed for " + im.clock(c.text, s.unit)
	}
	w := s.words
	for _, at := range []string{w.dilution, w.temperature} {
		if at != "" {
			text += ", at " + at
		}
	}
	if iso, reason := parseDate(w.date, im.dates); reason == "" {
		text += ", on " + iso
	}
	if w.note != "" {
		text += fmt.Sprintf(", note %q", clip(w.note))
	}
	text += ": " + printable.Counted(s.count(), "reading")
	if len(s.fog) > 0 {
		text += fmt.Sprintf(" and %d of base plus fog", len(s.fog))
	}
	return text
}

func (im *importer) clock(text, unit string) string {
	m, reason := parseMinutes(text, unit, im.o.Times, im.decimal)
	if reason != "" {
		return "?"
	}
	return sensito.Minutes(m).Clock(1)
}

// columnRead says as what a column was read and, where that is not what stands
// there, its values.
func (im *importer) columnRead(t *sheet, j int) string {
	c := t.columns[j]
	as := strings.ReplaceAll(c.name, "_", " ")
	var all []string
	for i := range t.rows {
		if text := t.cell(i, j).text; text != "" && !slices.Contains(all, text) {
			all = append(all, text)
		}
	}
	read := func(text string) string { return text }
	switch {
	case c.kind == aTime:
		as = "development time"
		read = func(text string) string {
			w := readStripWords(text)
			if w.time == "" {
				return text
			}
			out := im.clock(w.time, t.units[j])
			for _, more := range []string{w.dilution, w.temperature, w.date, w.note} {
				if more != "" {
					out += ", " + more
				}
			}
			return out
		}
	case c.kind == aDate:
		as = "date of development"
		read = func(text string) string {
			if iso, reason := parseDate(text, im.dates); reason == "" {
				return iso
			}
			return text
		}
	case slices.Contains(exposureColumns, c.name) && len(all) > 1:
		return fmt.Sprintf("%s, %s to %s", as, clip(all[0]), clip(all[len(all)-1]))
	case c.of == ofStep, c.name == colBaseFog, c.name == colNote:
		return as
	}
	const most = 8
	var says []string
	for _, text := range all[:min(len(all), most)] {
		if out := read(text); out != text {
			says = append(says, clip(text)+" is "+out)
		} else {
			says = append(says, clip(text))
		}
	}
	if more := len(all) - most; more > 0 {
		says = append(says, fmt.Sprintf("and %d more", more))
	}
	if len(says) == 0 {
		return as
	}
	return as + ": " + strings.Join(says, "; ")
}
