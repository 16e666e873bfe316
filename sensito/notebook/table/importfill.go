package table

import (
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
	"sensito/sensito/printable"
)

// fill adds what the options say where the file says nothing.
func (im *importer) fill(src *source) {
	if im.o.Values[colPaper] != "" && src.values["kind"] == nil && src.get("film.name") == nil {
		src.values["kind"] = "paper"
	}
	decimal := im.decimal
	im.decimal = '.'
	defer func() { im.decimal = decimal }()
	for _, name := range sortedKeys(im.o.Values) {
		c := columnNamed(name)
		here := cell{im.o.Values[name], place{1, "--" + c.flag}}
		if material, ok := ofMaterial[name]; ok && material != materialOf(src) {
			im.fault(here.place, "is of %s, and the trial is of %s", material, materialOf(src))
			continue
		}
		if c.kind == aTime {
			im.fillTimes(src, c, here)
			continue
		}
		v, ok := im.content(c, here, "")
		if !ok {
			continue
		}
		key := src.keyOf(c)
		switch there := src.get(key); {
		case there == nil:
			src.put(key, v)
			src.at[key] = here.place
		case !sameValue(there, v):
			im.fault(here.place, "%v, but the file says %v in line %d", v, there, src.place(key).line)
		}
	}
}

// fillTimes gives the strips without a time theirs: one for all, or one for each.
func (im *importer) fillTimes(src *source, c *column, here cell) {
	var missing []map[string]any
	list, _ := src.values["strip"].([]any)
	for i, s := range list {
		if strip, _ := s.(map[string]any); strip != nil && strip[c.key] == nil { // else told by whoever reads it
			missing = append(missing, strip)
			src.at[grammar.Below(grammar.Element("strip", i), c.key)] = here.place
		}
	}
	times := splitTimes(here.text) // at least one, by Check
	unlike := func(s any) bool {
		strip, _ := s.(map[string]any)
		return strip != nil && !slices.ContainsFunc(times, func(text string) bool { return sameTime(strip[c.key], text) })
	}
	if len(missing) == 0 && len(im.faults) == 0 && slices.ContainsFunc(list, unlike) {
		im.fault(here.place, "%s has no use: the file has the time of every strip", clip(here.text))
		return
	}
	if len(times) != 1 && len(missing) > 0 && len(times) != len(missing) {
		im.fault(here.place, "%d times for %s without one", len(times), printable.Counted(len(missing), "strip"))
		return
	}
	for i, strip := range missing {
		if m, reason := parseMinutes(times[min(i, len(times)-1)], "", "", '.'); reason == "" { // else told by Check
			strip[c.key] = m
		}
	}
}

// sameTime says whether a time of a file is the one that a text tells.
func sameTime(v any, text string) bool {
	if of, ok := v.(string); ok {
		v, _ = parseMinutes(of, "", "", '.')
	}
	m, reason := parseMinutes(text, "", "", '.')
	return reason == "" && sameValue(v, m)
}

// ofMaterial are the values that only a trial of one material has.
var ofMaterial = map[string]string{colFilm: "film", "rated_speed": "film", colPaper: "paper"}

// materialOf returns whether a source is of film or paper.
func materialOf(src *source) string {
	if src.values["kind"] == "paper" {
		return "paper"
	}
	return "film"
}

// fillStrips adds a value to the strips that have none.
func (im *importer) fillStrips(src *source, c *column, v any, at place) {
	list, _ := src.values["strip"].([]any)
	for i, s := range list {
		strip, _ := s.(map[string]any)
		if strip == nil {
			continue // told by whoever reads it
		}
		if strip[c.key] == nil {
			strip[c.key] = v
			src.at[grammar.Below(grammar.Element("strip", i), c.key)] = at
		}
	}
}

// sameValue says whether two values say the same, whole numbers or not.
func sameValue(a, b any) bool {
	x, isNumber := asNumber(a)
	y, both := asNumber(b)
	if isNumber && both {
		return math.Abs(x-y) <= 1e-9*math.Max(math.Abs(x), math.Abs(y))
	}
	return !isNumber && !both && isText(a) && isText(b) && a == b
}

func isText(v any) bool { _, ok := v.(string); return ok }

func asNumber(v any) (float64, bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, true
	}
	return 0, false
}

// expose settles the kind of exposure of a table, and its exposures where the
// table gives them in another form than a notebook.
func (im *importer) expose(src *source) {
	in := func(name string) bool { return src.get("exposure."+name) != nil }
	wedged := in("wedge") || in("wedge_first") || in("wedge_step") || in("wedge_count")
	if !in("kind") {
		switch {
		case wedged && (in("illuminance_lx") || in("seconds")), in(colLogHlxs):
			im.kind(src, sensito.Contact)
		case in("stops"):
			im.kind(src, sensito.Camera)
		case in("log_h"):
			im.kind(src, sensito.Relative)
		case wedged:
			im.fault(src.place("exposure.wedge"), "is known, but not the light; give --lux and --seconds, or --kind relative for contrast without speed")
			src.told["exposure"] = true
		default:
			im.fault(place{1, "exposure"}, "is missing; give a column wedge, stops or log_h, or --wedge-first, --wedge-step and --wedge-count")
			src.told["exposure"] = true
		}
	}
	switch kind := src.get("exposure.kind"); {
	case kind == string(sensito.Relative) && wedged && im.o.Into != nil && im.o.Into.Exposures().Wedge() == nil:
		im.relative(src)
	case kind == string(sensito.Contact) && (in(colLogHlxs) || in("log_h")):
		im.absolute(src)
	case in(colLogHlxs):
		im.fault(src.place("exposure.log_h_lxs"), "goes with exposures by contact")
		delete(src.values["exposure"].(map[string]any), colLogHlxs)
		src.told["exposure"] = true
	}
	im.pad(src)
}

func (im *importer) kind(src *source, k sensito.Kind) {
	im.guess("exposures are of the kind %s", k)
	src.put("exposure.kind", string(k))
}

// relative turns a wedge into exposures known up to a factor, which is that of
// the light on its thinnest step, as the trial that is imported into has them.
func (im *importer) relative(src *source) {
	t := &grammar.Table{Faults: &grammar.Faults{}, Path: "exposure", Values: src.values["exposure"].(map[string]any)}
	wedge := trialfile.Wedge(t)
	if len(t.Found) > 0 {
		for _, f := range t.Found {
			im.locate(src, f)
		}
		src.told["exposure"] = true
		return
	}
	thinnest := slices.Min(append([]sensito.Density{6}, wedge...))
	list := make([]any, len(wedge))
	for i, d := range wedge {
		list[i] = math.Round(float64(thinnest-d)*1e6) / 1e6
	}
	im.guess("the wedge gives relative exposures, 0 at its thinnest step")
	src.rename("wedge", "log_h", list)
	for _, name := range []string{"wedge_first", "wedge_step", "wedge_count"} {
		delete(t.Values, name)
	}
}

// absolute turns exposures in lux seconds into a wedge before a light, as a
// notebook has them; the largest is that of its clear step.
func (im *importer) absolute(src *source) {
	from := colLogHlxs
	list, _ := src.get("exposure." + from).([]any)
	if list == nil {
		from = colLogH
		list, _ = src.get("exposure." + from).([]any)
	}
	if src.told["exposure."+from] || src.get("exposure.illuminance_lx") != nil || src.get("exposure.wedge") != nil {
		im.fault(src.place("exposure."+from), "says the same as wedge and illuminance_lx; give one of them")
		src.told["exposure"] = true
		return
	}
	most := math.Inf(-1)
	for _, v := range list {
		if h, _ := asNumber(v); h > most {
			most = h
		}
	}
	wedge := make([]any, len(list))
	for i, v := range list {
		h, _ := asNumber(v)
		wedge[i] = math.Round((most-h)*1e6) / 1e6
	}
	seconds, ok := asNumber(src.get("exposure.seconds"))
	if !ok {
		seconds = 1
		src.put("exposure.seconds", seconds)
	}
	src.put("exposure.illuminance_lx", math.Pow(10, most)/seconds)
	im.guess("the exposures in lux seconds become a wedge before a light that lasts %g s", seconds)
	src.rename(from, "wedge", wedge)
}

// minWedge is how many steps stand in for exposures that are not known.
const minWedge = 3

// pad lengthens the strips to the number of steps that the exposures have, where
// the table had no row for the last ones.
func (im *importer) pad(src *source) {
	steps := minWedge // so that readings can be checked even without exposures
	for _, name := range []string{"wedge", "stops", "log_h"} {
		list, _ := src.get("exposure." + name).([]any)
		steps = max(steps, len(list))
	}
	if n, ok := asNumber(src.get("exposure.wedge_count")); ok && n <= grammar.MaxSteps {
		steps = max(steps, int(n))
	}
	list, _ := src.values["strip"].([]any)
	for _, s := range list {
		strip := s.(map[string]any) // of a table
		readings, _ := strip["density"].([]any)
		for len(readings) < steps {
			readings = append(readings, math.NaN())
		}
		strip["density"] = readings
	}
}
