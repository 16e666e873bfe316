package table

import (
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// constant is a value that holds for a whole table.
type constant struct {
	*column
	cell
}

// draft is a trial of a table before its numbers are read.
type draft struct {
	constants []constant
	strips    []*draftStrip
	exposure  *column        // nil where the table has none
	exposures map[int][]cell // by step: different ones only
	steps     int            // highest number
	contrary  contrary
}

// A contrary is what rows said of a column that an earlier one says otherwise.
type contrary map[string]bool

// first says whether no row said that before: one is told for all that say the same,
// since it may be the earlier one that is wrong.
func (said *contrary) first(c *column, here cell) bool {
	if *said == nil {
		*said = contrary{}
	}
	key := c.name + "\x00" + here.text
	was := (*said)[key]
	(*said)[key] = true
	return !was
}

// expose notes the exposure of a step, where it differs from what is known of it.
func (d *draft) expose(step int, c cell) {
	if c.text != "" && !slices.ContainsFunc(d.exposures[step], func(before cell) bool { return before.text == c.text }) {
		d.exposures[step] = append(d.exposures[step], c)
	}
}

type draftStrip struct {
	place
	values   map[string]cell // by column
	unit     string          // of the minutes
	words    stripWords      // what its heading says
	label    string          // by which rows tell it
	fog      []cell
	readings map[int][]cell
	ignored  []int
	last     int // step of the row before
	contrary contrary
}

// count returns how many readings of steps the strip has.
func (s *draftStrip) count() int {
	n := 0
	for _, cells := range s.readings {
		n += len(cells)
	}
	return n
}

// tell notes what the words say of a strip, the number-th of its table. A number
// of the strip that its place tells as well is no note.
func (s *draftStrip) tell(w stripWords, at place, number string) {
	if part := stripNumber().FindStringSubmatch(w.note); part != nil && part[1] == number {
		w.note = ""
	}
	s.unit, s.words = w.unit, w
	for name, text := range map[string]string{colMinutes: w.time, "dilution": w.dilution, "temperature_c": w.temperature, colDeveloped: w.date, colNote: w.note} {
		if _, there := s.values[name]; text != "" && !there {
			s.values[name] = cell{text, at}
		}
	}
}

func (im *importer) newStrip(d *draft, at place) *draftStrip {
	s := &draftStrip{place: at, values: map[string]cell{}, readings: map[int][]cell{}}
	d.strips = append(d.strips, s)
	return s
}

// assemble makes of a draft what a notebook would say, reading its numbers.
func (im *importer) assemble(d *draft) *source {
	src := &source{values: map[string]any{}, at: map[string]place{}, told: map[string]bool{}, table: true}
	for _, c := range d.constants {
		if c.name == colPaper {
			src.values["kind"] = "paper"
		}
	}
	for _, c := range d.constants {
		switch {
		case c.key == "" && c.name != colLogHlxs:
		case c.of == ofTrial || c.of == ofEither:
			im.set(src, c.column, c.cell)
		case c.of == ofStep: // of all steps, in a list
			list := split(c.cell)
			for i, one := range list {
				d.expose(i+1, one)
			}
			d.exposure, d.steps = c.column, max(d.steps, min(len(list), grammar.MaxSteps+1))
		default:
			for _, s := range d.strips {
				if _, ok := s.values[c.name]; !ok {
					s.values[c.name] = c.cell
				}
			}
		}
	}
	im.reciprocity(src)
	if d.exposure != nil {
		im.exposures(src, d)
	}
	var strips []any
	for i, s := range d.strips {
		strips = append(strips, im.stripOf(src, s, grammar.Element("strip", i), d.steps))
	}
	if strips != nil {
		src.values["strip"] = strips
		im.gather(src, strips)
	}
	return src
}

// set notes a value of the trial at its key.
func (im *importer) set(src *source, c *column, here cell) {
	key := src.keyOf(c)
	src.at[key] = here.place
	v, ok := im.content(c, here, "")
	if !ok {
		src.told[key] = true
		return
	}
	src.put(key, v)
}

// content reads a cell as its column wants it. It is not ok where a fault was
// noted; a number that is not there is nil.
func (im *importer) content(c *column, here cell, unit string) (v any, ok bool) {
	switch c.kind {
	case aNumber:
		return im.number(here)
	case aTime:
		minutes, reason := parseMinutes(here.text, unit, im.o.Times, im.decimal)
		if reason != "" {
			im.fault(here.place, "%s", reason)
		}
		return minutes, reason == ""
	case aDate:
		iso, reason := parseDate(here.text, im.dates)
		if reason != "" {
			im.fault(here.place, "%s", reason)
		}
		return iso, reason == ""
	case aCelsius:
		if c, err := sensito.ParseTemperature(bare(here.text)); err == nil {
			return c, true
		}
		return im.number(here)
	case aList:
		list, sound := []any{}, true
		for _, one := range split(here) {
			v, ok := im.number(one)
			list, sound = append(list, v), sound && ok
		}
		return list, sound
	}
	return here.text, true
}

// split returns the numbers of a cell that may hold several.
func split(c cell) []cell {
	var out []cell
	for _, text := range splitList(c.text) {
		out = append(out, cell{text, c.place})
	}
	return out
}

func (im *importer) number(here cell) (v float64, ok bool) {
	v, reason := parseNumber(here.text, im.decimal)
	if reason != "" {
		im.fault(here.place, "%s", reason)
	}
	return v, reason == ""
}

// reciprocity turns two lists of times into pairs.
func (im *importer) reciprocity(src *source) {
	law, _ := src.values["reciprocity"].(map[string]any)
	metered, _ := law["metered_s"].([]any)
	corrected, _ := law["corrected_s"].([]any)
	if metered == nil && corrected == nil {
		return
	}
	if len(metered) != len(corrected) || len(law) > 2 {
		im.fault(src.place("reciprocity.metered_s"), "%d metered and %d corrected times; they go in pairs, and without a law", len(metered), len(corrected))
		delete(src.values, "reciprocity")
		return
	}
	var pairs []any
	for i := range metered {
		pairs = append(pairs, map[string]any{"metered_s": metered[i], "corrected_s": corrected[i]})
	}
	src.values["reciprocity"] = pairs
	src.at["reciprocity"] = src.place("reciprocity.metered_s")
}

// exposures notes the exposures of all steps.
func (im *importer) exposures(src *source, d *draft) {
	key := "exposure." + d.exposure.name
	list := make([]any, d.steps)
	missing := 0
	for i := range list {
		list[i] = math.NaN()
		cells := d.exposures[i+1]
		if len(cells) == 0 {
			if missing == 0 {
				missing = i + 1
			}
			continue
		}
		src.at[grammar.Element(key, i)] = cells[0].place
		v, ok := im.number(cells[0])
		if list[i] = v; !ok {
			src.told[grammar.Element(key, i)] = true
		}
		for _, other := range cells[1:] {
			if w, ok := im.number(other); ok && math.Abs(w-v) > 1e-9 {
				im.fault(other.place, "%s for step %d, but %s in line %d", other.text, i+1, cells[0].text, cells[0].line)
			}
		}
	}
	src.at[key] = place{src.firstLine(key), d.exposure.name}
	if missing > 0 {
		im.fault(src.at[key], "step %d has none", missing)
		src.told[key] = true
	}
	src.put(key, list)
}

// stripOf makes of a strip what a notebook would say.
func (im *importer) stripOf(src *source, s *draftStrip, key string, steps int) map[string]any {
	src.at[key] = s.place
	values := map[string]any{}
	for _, name := range sortedKeys(s.values) {
		c, here := columnNamed(name), s.values[name]
		inner := c.key
		if c.of == ofEither {
			_, inner, _ = strings.Cut(c.key, ".")
		}
		if inner == "" {
			continue
		}
		at := grammar.Below(key, inner)
		src.at[at] = here.place
		v, ok := im.content(c, here, s.unit)
		if !ok {
			src.told[at] = true
		} else {
			values[inner] = v
		}
	}
	if len(s.fog) > 0 {
		fog, _ := values["base_fog"].([]any)
		for _, here := range s.fog {
			at := grammar.Element(grammar.Below(key, "base_fog"), len(fog))
			v, ok := im.number(here)
			src.at[at], fog = here.place, append(fog, v)
			if !ok {
				src.told[at] = true
			}
		}
		values["base_fog"] = fog
	}
	if len(s.ignored) > 0 {
		list, _ := values["ignore"].([]any)
		for _, n := range slices.Sorted(slices.Values(s.ignored)) {
			list = append(list, float64(n))
		}
		values["ignore"] = list
	}
	values["density"] = im.densities(src, s, grammar.Below(key, "density"), steps)
	return values
}

// densities returns the readings of a strip, those of a step that was read more
// than once as a list.
func (im *importer) densities(src *source, s *draftStrip, key string, steps int) []any {
	src.at[key] = place{s.line, s.name}
	list := make([]any, steps)
	for i := range list {
		at := grammar.Element(key, i)
		var read []any
		for j, here := range s.readings[i+1] {
			v, ok := im.number(here)
			read = append(read, v)
			src.at[grammar.Element(at, j)] = here.place
			if !ok {
				src.told[at] = true
			}
		}
		if cells := s.readings[i+1]; len(cells) > 0 {
			src.at[at] = cells[0].place
		}
		switch len(read) {
		case 0:
			list[i] = math.NaN()
		case 1:
			list[i] = read[0]
		default:
			list[i] = read
		}
	}
	return list
}
