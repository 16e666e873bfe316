package notebook

import (
	"math"
	"sensito/sensito"
	"slices"
	"time"

	"github.com/pelletier/go-toml/v2"
)

// readTrial returns the trial, which is of use only when no fault was noted.
func readTrial(root *table) *sensito.Trial {
	material, what := readMaterial(root)
	root.refuseOthers([]string{"kind", "title", what, "process", "exposure", "reading", "strip", "reciprocity", "done"})

	names := []string{"name", "batch", "format"}
	if material == sensito.FilmMaterial {
		names = append(names, "rated_speed")
	}
	film := root.sub(what, names...)
	film.need("name")
	process := root.sub("process", append([]string{"developer", "q10", "q10_sd"}, processKeys...)...)
	reading := root.sub("reading", "repeatability", "zero")
	spec := sensito.TrialSpec{
		Title:    root.text("title"),
		Material: material,
		Film: sensito.Film{Name: film.text("name"), Batch: film.text("batch"), Format: film.text("format"),
			RatedSpeed: sensito.Speed(film.nonzero("rated_speed"))},
		Process: readProcess(process),
		Q10:     process.nonzero("q10"),
		Q10SD:   process.nonzero("q10_sd"),
		Reading: sensito.Reading{Repeatability: sensito.Density(reading.nonzero("repeatability")),
			Zero: sensito.Zero(reading.text("zero"))},
	}
	spec.Reciprocity = readReciprocity(root)
	spec.Done = readDone(root)
	spec.Strips = readStrips(root, material)
	spec.Exposures = readExposures(root, spec)
	trial, err := sensito.NewTrial(spec)
	root.absorb(err)
	return trial
}

var processKeys = []string{"dilution", "temperature_c", "agitation"}

// readProcess returns what the table says of the development.
func readProcess(t *table) sensito.Process {
	return sensito.Process{Developer: t.text("developer"), Dilution: t.text("dilution"),
		TemperatureC: t.nonzero("temperature_c"), Agitation: sensito.Agitation(t.text("agitation"))}
}

func readStrips(root *table, material sensito.Material) []sensito.StripSpec {
	if root.has("strip") && kindOf(root.values["strip"]) == "a table" {
		root.add("strip", "must be written [[strip]], in double brackets")
		return nil
	}
	minutes := minutesIfKnown
	if material == sensito.FilmMaterial {
		minutes = readMinutesOf // which a film needs
	}
	var strips []sensito.StripSpec
	readings := 0
	list := root.list("strip", "a list of tables")
	if len(list) > maxStrips {
		root.add(element("strip", maxStrips), "brings the file to more than %d strips", maxStrips)
		root.hide("strip")
		return nil
	}
	for i, v := range list {
		t := &table{faults: root.faults, path: element("strip", i)}
		var ok bool
		if t.values, ok = v.(map[string]any); !ok {
			t.wrong(t.path, "a table", v)
		}
		known := append([]string{"minutes", "base_fog", "density", "ignore", "developed", "note", "seconds", "illuminance_lx", "next_step"}, processKeys...)
		if material == sensito.PaperMaterial {
			known = append(known, gradeKeys...)
		}
		t.refuseOthers(known)
		if material == sensito.FilmMaterial {
			t.need("minutes")
		}
		t.need("density")
		for _, name := range []string{"base_fog", "density"} {
			if readings += count(t.values[name]); readings > maxReadings {
				t.add(t.key(name), "brings the file to more than %d readings", maxReadings)
				root.hide("strip")
				return nil
			}
		}
		s := sensito.StripSpec{
			Minutes: minutes(t, "minutes"),
			Ignore:  t.integers("ignore"),
			Note:    t.text("note"),
			Date:    readDate(t),
			Process: readProcess(t),

			Seconds:       sensito.Seconds(t.nonzero("seconds")),
			IlluminanceLx: t.nonzero("illuminance_lx"),
		}
		s.Density, s.Repeats = readDensities(t)
		if t.has("next_step") {
			s.NextStep = t.integer("next_step", 1, maxSteps)
		}
		if v := t.values["base_fog"]; v != nil && kindOf(v) == "a number" {
			s.BaseFog = []sensito.Density{sensito.Density(t.number("base_fog"))}
		} else {
			s.BaseFog = as[sensito.Density](t.numbers("base_fog", false))
		}
		if material == sensito.PaperMaterial {
			s.Grade = readGrade(t)
		}
		strips = append(strips, s)
	}
	return strips
}

// count returns how many readings a list holds, those of repeated steps too.
func count(v any) int {
	list, _ := v.([]any)
	n := len(list)
	for _, v := range list {
		repeats, _ := v.([]any)
		n += len(repeats)
	}
	return n
}

// readDensities returns one density a step; a list in place of one holds the
// readings of a step that was read more than once.
func readDensities(t *table) ([]sensito.Density, map[int][]sensito.Density) {
	list := t.list("density", "a list of numbers")
	densities := make([]sensito.Density, len(list))
	var repeats map[int][]sensito.Density
	for i, v := range list {
		key := element(t.key("density"), i)
		again, ok := v.([]any)
		if !ok {
			densities[i] = sensito.Density(t.finite(key, v, true))
			continue
		}
		densities[i] = sensito.Density(math.NaN())
		if len(again) == 0 {
			t.add(key, "has no reading; write nan where a step was not read")
			continue
		}
		if repeats == nil {
			repeats = map[int][]sensito.Density{}
		}
		for j, v := range again {
			repeats[i+1] = append(repeats[i+1], sensito.Density(t.finite(element(key, j), v, false)))
		}
	}
	return densities, repeats
}

// readMinutesOf returns a number of minutes as it is, or "m:ss" or "h:mm:ss"; 0
// when it is missing. A number that can mean two times, as written, is a fault.
func readMinutesOf(t *table, name string) sensito.Minutes {
	const like = `a number or a time in quotes like "5:30"`
	switch v := t.values[name].(type) {
	case nil:
		return 0
	case int64, float64:
		if text := t.written[t.key(name)]; text != "" {
			t.add(t.key(name), "%s", eitherTime(text))
		}
		return sensito.Minutes(t.number(name))
	case string:
		minutes, ok := clockMinutes(v)
		if !ok {
			t.add(t.key(name), "%q is not a time like 5:30 or 1:02:30", v)
		}
		return sensito.Minutes(minutes)
	default:
		t.wrong(t.key(name), like, v)
		return 0
	}
}

// minutesIfKnown is readMinutesOf for a time that may be left out, and that a zero
// does not stand for.
func minutesIfKnown(t *table, name string) sensito.Minutes {
	m := readMinutesOf(t, name)
	if m == 0 && t.has(name) && !t.hidden(t.key(name)) {
		t.add(t.key(name), "must not be 0; leave the key out if it is not known")
	}
	return m
}

// readDate returns a date as YYYY-MM-DD, or "".
func readDate(t *table) string {
	switch v := t.values["developed"].(type) {
	case nil:
	case toml.LocalDate:
		return v.String()
	case string:
		if _, err := time.Parse(time.DateOnly, v); err == nil {
			return v
		}
		t.add(t.key("developed"), "%q is not a date like 2026-03-01", v)
	default:
		t.wrong(t.key("developed"), "a date like 2026-03-01", v)
	}
	return ""
}

// kinds are the keys that go with each kind of exposure.
var kinds = []struct {
	kind sensito.Kind
	keys []string
}{
	{sensito.Contact, []string{"illuminance_lx", "seconds", "wedge", "wedge_first", "wedge_step", "wedge_count"}},
	{sensito.Camera, []string{"meter_index", "stops"}},
	{sensito.Relative, []string{"log_h", "reference_speed_point_log_h"}},
}

// readExposures returns the exposures or, when they are faulty, others as many,
// so that the readings can still be checked.
func readExposures(root *table, spec sensito.TrialSpec) sensito.Exposures {
	known := []string{"kind", "log_h_sd", "meter_k", "meter_q"}
	for _, k := range kinds {
		known = append(known, k.keys...)
	}
	t := root.sub("exposure", known...)
	meter := sensito.MeterConstants{K: t.nonzero("meter_k"), Q: t.nonzero("meter_q")}
	kind := sensito.Kind(t.text("kind"))
	if t.need("kind") && kindOf(t.values["kind"]) == "text" {
		refuseOtherKinds(t, kind)
	}

	var e sensito.Exposures
	var err error
	steps := 0
	switch kind {
	case sensito.Contact:
		t.need("illuminance_lx")
		t.need("seconds")
		wedge := readWedge(t)
		steps = len(wedge)
		e, err = sensito.NewContact(t.number("illuminance_lx"), t.number("seconds"), wedge)
	case sensito.Camera:
		t.need("meter_index")
		t.need("stops")
		stops := t.numbers("stops", false)
		steps = len(stops)
		e, err = sensito.NewCamera(sensito.Speed(t.number("meter_index")), stops, meter)
	case sensito.Relative:
		t.need("log_h")
		logH := as[sensito.LogExposure](t.numbers("log_h", false))
		steps = len(logH)
		e, err = sensito.NewRelative(logH)
	}
	t.absorb(err)

	if spec.Material == sensito.PaperMaterial && t.has("reference_speed_point_log_h") {
		t.add(t.key("reference_speed_point_log_h"), "is of film; with relative exposures a paper has a range but no speed")
	} else if kind == sensito.Relative && t.has("reference_speed_point_log_h") {
		tied, err := e.TiedTo(sensito.LogExposure(t.number("reference_speed_point_log_h")), spec.Film.RatedSpeed)
		t.absorb(err)
		e = tied
	}
	if kind != sensito.Camera {
		e, err = e.WithMeter(meter)
		t.absorb(err)
	}
	if t.has("log_h_sd") {
		e, err = e.WithCommonSD(sensito.LogRange(t.number("log_h_sd")))
		t.absorb(err)
	}
	if e.Len() > 0 {
		return e
	}
	if steps < 3 && len(spec.Strips) > 0 {
		steps = len(spec.Strips[0].Density)
	}
	// By contact, so that what a strip says of its exposure is checked as well.
	standIn, _ := sensito.NewContact(1, 1, sensito.EvenWedge(0, 0.001, min(max(steps, 3), maxSteps)))
	return standIn
}

func refuseOtherKinds(t *table, kind sensito.Kind) {
	if !slices.Contains([]sensito.Kind{sensito.Contact, sensito.Camera, sensito.Relative}, kind) {
		t.add(t.key("kind"), "%q is not contact, camera or relative", kind)
		return
	}
	for _, k := range kinds {
		for _, name := range k.keys {
			if k.kind != kind && t.has(name) {
				t.add(t.key(name), "goes with kind = %q, but the kind is %q", k.kind, kind)
			}
		}
	}
}

// readWedge returns the step densities, listed or in equal steps.
func readWedge(t *table) []sensito.Density {
	even := []string{"wedge_first", "wedge_step", "wedge_count"}
	given := slices.DeleteFunc(slices.Clone(even), func(name string) bool { return !t.has(name) })
	if len(given) == 0 {
		if !t.has("wedge") && !t.hidden("exposure") {
			t.add(t.key("wedge"), "is missing; list the step densities, or give wedge_first, wedge_step and wedge_count")
		}
		return as[sensito.Density](t.numbers("wedge", false))
	}
	if t.has("wedge") {
		t.hide(t.key("wedge"))
		t.add(t.key(given[0]), "does not go with wedge; list the steps or give wedge_first, wedge_step and wedge_count, not both")
		return nil
	}
	for _, name := range even {
		t.need(name)
	}
	first, step, count := t.number("wedge_first"), t.number("wedge_step"), t.number("wedge_count")
	if !math.IsNaN(first + step + count) { // else told above
		which, reason := sensito.CheckEvenWedge(first, step, count)
		if which == "" {
			return sensito.EvenWedge(sensito.Density(first), sensito.Density(step), int(count))
		}
		t.add(t.key("wedge_"+which), "%s", reason)
	}
	t.hide(t.key("wedge"))
	return nil
}

// as gives plain numbers their meaning.
func as[T ~float64](xs []float64) []T {
	out := make([]T, len(xs))
	for i, x := range xs {
		out[i] = T(x)
	}
	return out
}

// readDateOf returns the date at a key as YYYY-MM-DD, or "".
func readDateOf(t *table, name string) string {
	const like = "a date like 2026-03-01"
	switch v := t.values[name].(type) {
	case nil:
	case toml.LocalDate:
		return v.String()
	case string:
		if _, err := time.Parse(time.DateOnly, v); err == nil {
			return v
		}
		t.add(t.key(name), "%q is not %s", v, like)
	default:
		t.wrong(t.key(name), like, v)
	}
	return ""
}
