package trialfile

import (
	"math"
	"slices"
	"time"

	"github.com/pelletier/go-toml/v2"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// Trial returns the trial, which is of use only when no fault was noted.
func Trial(root *grammar.Table) *sensito.Trial {
	material, what := readMaterial(root)
	root.RefuseOthers([]string{"kind", "title", what, "process", "exposure", "reading", "calibration", "strip", "reciprocity", "done"})

	names := filmKeys
	if material == sensito.PaperMaterial {
		names = names[:len(names)-1] // but for its rated speed
	}
	film := root.Sub(what, names...)
	film.Need("name")
	process := root.Sub("process", processKeys...)
	reading := readReading(root)
	spec := sensito.TrialSpec{
		Title:    root.Text("title"),
		Material: material,
		Film: sensito.Film{Name: film.Text("name"), Batch: film.Text("batch"), Format: film.Text("format"),
			RatedSpeed: sensito.Speed(film.Nonzero("rated_speed"))},
		Process:   Process(process),
		Q10:       process.Nonzero("q10"),
		Q10SD:     process.Nonzero("q10_sd"),
		Reading:   reading,
		Repeating: sensito.Repeating{TemperatureSDC: process.Nonzero("temperature_sd_c"), TimeSD: sensito.Seconds(process.Nonzero("time_sd_s"))},
	}
	spec.Reciprocity = readReciprocity(root)
	spec.Done = readDone(root)
	faults := len(root.Found)
	spec.Calibrations = Calibrations(root)
	faulty := len(root.Found) > faults
	spec.Strips = Strips(root, material)
	for i := range spec.Strips {
		if faulty { // so that its name may not be known
			root.Hide(grammar.Element("strip", i) + ".calibration")
		}
	}
	spec.Exposures = readExposures(root, spec)
	trial, err := sensito.NewTrial(spec)
	root.Absorb(err)
	return trial
}

// ProcessKeys are the keys of a development, in the order in which files have them,
// but for the developer.
var ProcessKeys = []string{"dilution", "temperature_c", "agitation"}

// The keys of the tables of a trial; filmKeys end with the one that a paper does not have.
var (
	filmKeys    = []string{"name", "batch", "format", "rated_speed"}
	processKeys = slices.Concat([]string{"developer", "q10", "q10_sd", "temperature_sd_c", "time_sd_s"}, ProcessKeys)
	stripKeys   = slices.Concat([]string{"minutes", "base_fog", "density", "ignore", "developed", "note", "seconds", "illuminance_lx", "next_step", "picture", "calibration"}, ProcessKeys)
	paperKeys   = slices.Concat(stripKeys, gradeKeys) // of a strip of paper
)

// Process returns what the table says of the development.
func Process(t *grammar.Table) sensito.Process {
	return sensito.Process{Developer: t.Text("developer"), Dilution: t.Text("dilution"),
		TemperatureC: t.Nonzero("temperature_c"), Agitation: sensito.Agitation(t.Text("agitation"))}
}

// Strips returns what a file says of its strips; those of film are developed for
// minutes, those of paper have a grade.
func Strips(root *grammar.Table, material sensito.Material) []sensito.StripSpec {
	if root.Has("strip") && grammar.KindOfValue(root.Values["strip"]) == "a table" {
		root.Add("strip", "must be written [[strip]], in double brackets")
		return nil
	}
	minutes := MinutesIfKnown
	if material == sensito.FilmMaterial {
		minutes = MinutesOf // which a film needs
	}
	readings := 0
	list := root.List("strip", "a list of tables")
	if len(list) > grammar.MaxStrips {
		root.Add(grammar.Element("strip", grammar.MaxStrips), "brings the file to more than %d strips", grammar.MaxStrips)
		root.Hide("strip")
		return nil
	}
	strips := make([]sensito.StripSpec, 0, len(list))
	for i, v := range list {
		t := &grammar.Table{Faults: root.Faults, Path: grammar.Element("strip", i)}
		var ok bool
		if t.Values, ok = v.(map[string]any); !ok {
			t.Wrong(t.Path, "a table", v)
		}
		known := stripKeys
		if material == sensito.PaperMaterial {
			known = paperKeys
		}
		t.RefuseOthers(known)
		if material == sensito.FilmMaterial {
			t.Need("minutes")
		}
		t.Need("density")
		for _, name := range []string{"base_fog", "density"} {
			if readings += count(t.Values[name]); readings > grammar.MaxReadings {
				t.Add(t.Key(name), "brings the file to more than %d readings", grammar.MaxReadings)
				root.Hide("strip")
				return nil
			}
		}
		s := sensito.StripSpec{
			Minutes: minutes(t, "minutes"),
			Ignore:  t.Integers("ignore"),
			Note:    t.Text("note"),
			Date:    readDate(t),
			Process: Process(t),

			Seconds:       sensito.Seconds(t.Nonzero("seconds")),
			IlluminanceLx: t.Nonzero("illuminance_lx"),
			Picture:       t.Text("picture"),
			Calibration:   t.Text("calibration"),
		}
		s.Density, s.Repeats = readDensities(t)
		if t.Has("next_step") {
			s.NextStep = t.Integer("next_step", 1, grammar.MaxSteps)
		}
		s.BaseFog = oneOrMore[sensito.Density](t, "base_fog")
		if material == sensito.PaperMaterial {
			s.Grade = readGrade(t)
		}
		strips = append(strips, s)
	}
	return strips
}

// count returns how many readings a list holds, those of repeated steps too.
func count(v any) int {
	if numbers, ok := v.([]float64); ok {
		return len(numbers)
	}
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
func readDensities(t *grammar.Table) ([]sensito.Density, map[int][]sensito.Density) {
	if xs, ok := t.Listed("density", true); ok {
		return as[sensito.Density](xs), nil
	}
	list := t.List("density", "a list of numbers")
	densities := make([]sensito.Density, len(list))
	var repeats map[int][]sensito.Density
	for i, v := range list {
		again, ok := v.([]any)
		if !ok {
			densities[i] = sensito.Density(t.FiniteAt("density", i, v, true))
			continue
		}
		key := grammar.Element(t.Key("density"), i)
		densities[i] = sensito.Density(math.NaN())
		if len(again) == 0 {
			t.Add(key, "has no reading; write nan where a step was not read")
			continue
		}
		if repeats == nil {
			repeats = map[int][]sensito.Density{}
		}
		for j, v := range again {
			repeats[i+1] = append(repeats[i+1], sensito.Density(t.FiniteIn(key, j, v, false)))
		}
	}
	return densities, repeats
}

// MinutesOf returns a number of minutes as it is, or "m:ss" or "h:mm:ss"; 0
// when it is missing. A number that can mean two times, as written, is a fault.
func MinutesOf(t *grammar.Table, name string) sensito.Minutes {
	const like = `a number or a time in quotes like "5:30"`
	switch v := t.Values[name].(type) {
	case nil:
		return 0
	case int64, float64:
		if len(t.Written) > 0 {
			if text := t.Written[t.Key(name)]; text != "" {
				t.Add(t.Key(name), "%s", grammar.EitherTime(text))
			}
		}
		return sensito.Minutes(t.Number(name))
	case string:
		minutes, ok := grammar.ClockMinutes(v)
		if !ok {
			t.Add(t.Key(name), "%q is not a time like 5:30 or 1:02:30", v)
		}
		return sensito.Minutes(minutes)
	default:
		t.Wrong(t.Key(name), like, v)
		return 0
	}
}

// MinutesIfKnown is MinutesOf for a time that may be left out, and that a zero
// does not stand for.
func MinutesIfKnown(t *grammar.Table, name string) sensito.Minutes {
	m := MinutesOf(t, name)
	if m == 0 && t.Has(name) && !t.Hidden(t.Key(name)) {
		t.Add(t.Key(name), "must not be 0; leave the key out if it is not known")
	}
	return m
}

// readDate returns a date as YYYY-MM-DD, or "".
func readDate(t *grammar.Table) string {
	switch v := t.Values["developed"].(type) {
	case nil:
	case toml.LocalDate:
		return v.String()
	case string:
		if _, err := time.Parse(time.DateOnly, v); err == nil {
			return v
		}
		t.Add(t.Key("developed"), "%q is not a date like 2026-03-01", v)
	default:
		t.Wrong(t.Key("developed"), "a date like 2026-03-01", v)
	}
	return ""
}

type keysOfKind struct {
	kind sensito.Kind
	keys []string
}

// kinds are the keys that go with each kind of exposure.
var kinds = []keysOfKind{
	{sensito.Contact, []string{"illuminance_lx", "seconds", "wedge", "wedge_first", "wedge_step", "wedge_count"}},
	{sensito.Camera, []string{"meter_index", "stops"}},
	{sensito.Relative, []string{"log_h", "reference_speed_point_log_h", "frame", "wedge", "wedge_first", "wedge_step", "wedge_count"}},
}

// exposureKeys are the keys of all kinds of exposure.
var exposureKeys = func() []string {
	known := []string{"kind", "log_h_sd", "wedge_sd", "meter_k", "meter_q"}
	for _, k := range kinds {
		known = append(known, k.keys...)
	}
	return known
}()

// readExposures returns the exposures or, when they are faulty, others as many,
// so that the readings can still be checked.
func readExposures(root *grammar.Table, spec sensito.TrialSpec) sensito.Exposures {
	t := root.Sub("exposure", exposureKeys...)
	meter := sensito.MeterConstants{K: t.Nonzero("meter_k"), Q: t.Nonzero("meter_q")}
	kind := sensito.Kind(t.Text("kind"))
	if t.Need("kind") && grammar.KindOfValue(t.Values["kind"]) == "text" {
		refuseOtherKinds(t, kind)
	}

	var e sensito.Exposures
	var err error
	steps := 0
	switch kind {
	case sensito.Contact:
		t.Need("illuminance_lx")
		t.Need("seconds")
		wedge := Wedge(t)
		steps = len(wedge)
		e, err = sensito.NewContact(t.Number("illuminance_lx"), t.Number("seconds"), wedge)
	case sensito.Camera:
		t.Need("meter_index")
		t.Need("stops")
		stops := t.Numbers("stops", false)
		steps = len(stops)
		e, err = sensito.NewCamera(sensito.Speed(t.Number("meter_index")), stops, meter)
	case sensito.Relative:
		if hasWedge(t) {
			wedge := Wedge(t)
			steps = len(wedge)
			if e, err = sensito.NewRelativeWedge(wedge); t.Has("log_h") {
				t.Add(t.Key("log_h"), "does not go with a wedge; give one of them")
			}
			break
		}
		t.Need("log_h")
		logH := as[sensito.LogExposure](t.Numbers("log_h", false))
		steps = len(logH)
		e, err = sensito.NewRelative(logH)
	}
	t.Absorb(err)

	if spec.Material == sensito.PaperMaterial && t.Has("reference_speed_point_log_h") {
		t.Add(t.Key("reference_speed_point_log_h"), "is of film; with relative exposures a paper has a range but no speed")
	} else if kind == sensito.Relative && t.Has("reference_speed_point_log_h") {
		tied, err := e.TiedTo(sensito.LogExposure(t.Number("reference_speed_point_log_h")), spec.Film.RatedSpeed)
		t.Absorb(err)
		e = tied
	}
	if kind != sensito.Camera {
		e, err = e.WithMeter(meter)
		t.Absorb(err)
	}
	if t.Has("log_h_sd") {
		e, err = e.WithCommonSD(sensito.LogRange(t.Number("log_h_sd")))
		t.Absorb(err)
	}
	if t.Has("wedge_sd") {
		e, err = e.WithWedgeSD(sensito.LogRange(t.Number("wedge_sd")))
		t.Absorb(err)
	}
	if kind == sensito.Relative && t.Has("frame") {
		e, err = e.WithFrame(readFrame(t))
		t.Absorb(err)
	}
	if e.Len() > 0 {
		return e
	}
	if steps < 3 && len(spec.Strips) > 0 {
		steps = len(spec.Strips[0].Density)
	}
	// By contact, so that what a strip says of its exposure is checked as well.
	standIn, _ := sensito.NewContact(1, 1, sensito.EvenWedge(0, 0.001, min(max(steps, 3), grammar.MaxSteps)))
	return standIn
}

func refuseOtherKinds(t *grammar.Table, kind sensito.Kind) {
	if !slices.Contains([]sensito.Kind{sensito.Contact, sensito.Camera, sensito.Relative}, kind) {
		t.Add(t.Key("kind"), "%q is not contact, camera or relative", kind)
		return
	}
	of := slices.IndexFunc(kinds, func(k keysOfKind) bool { return k.kind == kind })
	for _, k := range kinds {
		for _, name := range k.keys {
			if t.Has(name) && !slices.Contains(kinds[of].keys, name) && !t.Hidden(t.Key(name)) {
				t.Add(t.Key(name), "goes with kind = %q, but the kind is %q", k.kind, kind)
				t.Hide(t.Key(name)) // once, though other kinds have it too
			}
		}
	}
}

// hasWedge says whether the table says anything of a wedge.
func hasWedge(t *grammar.Table) bool {
	return t.Has("wedge") || t.Has("wedge_first") || t.Has("wedge_step") || t.Has("wedge_count")
}

// Wedge returns the step densities of a wedge, listed or in equal steps.
func Wedge(t *grammar.Table) []sensito.Density { return stepsOf(t, wedgeKeys) }

// keysOfSteps are the keys of the steps of a wedge or a tablet.
type keysOfSteps struct{ list, first, step, count string }

var (
	wedgeKeys  = keysOfSteps{"wedge", "wedge_first", "wedge_step", "wedge_count"}
	tabletKeys = keysOfSteps{"tablet", "tablet_first", "tablet_step", "tablet_count"}
)

// stepsOf returns the densities of the steps of a wedge or a tablet, listed or in equal
// steps.
func stepsOf(t *grammar.Table, of keysOfSteps) []sensito.Density {
	even := [...]string{of.first, of.step, of.count}
	all := func() string { return of.first + ", " + of.step + " and " + of.count }
	given := slices.IndexFunc(even[:], t.Has)
	if given < 0 {
		if !t.Has(of.list) && !t.Hidden(t.Path) {
			t.Add(t.Key(of.list), "is missing; list the step densities, or give %s", all())
		}
		return as[sensito.Density](t.Numbers(of.list, false))
	}
	if t.Has(of.list) {
		t.Hide(t.Key(of.list))
		t.Add(t.Key(even[given]), "does not go with %s; list the steps or give %s, not both", of.list, all())
		return nil
	}
	for _, name := range even {
		t.Need(name)
	}
	first, step, count := t.Number(of.first), t.Number(of.step), t.Number(of.count)
	if !math.IsNaN(first + step + count) { // else told above
		which, reason := sensito.CheckEvenWedge(first, step, count)
		if which == "" {
			return sensito.EvenWedge(sensito.Density(first), sensito.Density(step), int(count))
		}
		t.Add(t.Key(of.list+"_"+which), "%s", reason)
	}
	t.Hide(t.Key(of.list))
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

// DateOf returns the date at a key as YYYY-MM-DD, or "".
func DateOf(t *grammar.Table, name string) string {
	const like = "a date like 2026-03-01"
	switch v := t.Values[name].(type) {
	case nil:
	case toml.LocalDate:
		return v.String()
	case string:
		if _, err := time.Parse(time.DateOnly, v); err == nil {
			return v
		}
		t.Add(t.Key(name), "%q is not %s", v, like)
	default:
		t.Wrong(t.Key(name), like, v)
	}
	return ""
}
