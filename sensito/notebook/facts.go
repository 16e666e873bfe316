package notebook

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// A factForm is how a fact stands in a file.
type factForm int

const (
	textFact    factForm = iota
	numberFact           // left out where it is not known, so never 0
	zeroFact             // a number that may be 0
	numbersFact          // one number or several, with a blank between
	wedgeFact            // the same, of densities
)

// factForms are the facts of a trial that SetFacts changes, by their keys.
var factForms = map[string]factForm{
	"title": textFact, "film.name": textFact, "film.batch": textFact, "film.format": textFact, "film.rated_speed": numberFact,
	"paper.name": textFact, "paper.batch": textFact, "paper.format": textFact,
	"process.developer": textFact, "process.dilution": textFact, "process.temperature_c": numberFact, "process.agitation": textFact,
	"exposure.illuminance_lx": numberFact, "exposure.seconds": numberFact, "exposure.wedge_first": zeroFact, "exposure.wedge_step": numberFact,
	"exposure.wedge": wedgeFact, "exposure.stops": numbersFact, "exposure.log_h": numbersFact,
	"exposure.meter_index": numberFact, "exposure.meter_k": numberFact,
	"reading.open_ev": numbersFact, "reading.repeatability": numberFact, "reading.zero": textFact,
}

// Facts returns what the text of a trial says that is not of one strip alone, by keys such
// as "process.dilution": numbers as they can be typed, "" where nothing is said. What a
// trial of its kind cannot say has no key, and of a wedge there is what the text says, its
// list or its equal steps. The error is that of Read.
func Facts(data []byte) (map[string]string, error) {
	t, err := readText(data)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for name, fields := range factTables(t, data) {
		for _, f := range fields {
			key := grammar.Below(name, f.key)
			switch form, known := factForms[key]; {
			case !known:
			case f.absent():
				out[key] = ""
			case form == textFact:
				out[key] = grammar.Decode([]byte("v = " + f.text)).Text("v")
			case f.list != nil:
				out[key] = strings.ReplaceAll(strings.Trim(f.String(), "[]"), ",", "")
			default:
				out[key] = f.text
			}
		}
	}
	return out, nil
}

// factTables returns the tables that hold facts with their keys in the order of Format, as
// the text says them.
func factTables(t *sensito.Trial, data []byte) map[string][]field {
	what, spec := "film", t.Spec()
	film := []field{{"name", quotedValue(spec.Film.Name)}, {"batch", quotedValue(spec.Film.Batch)}, {"format", quotedValue(spec.Film.Format)},
		{"rated_speed", known(float64(spec.Film.RatedSpeed))}}
	if t.Material() == sensito.PaperMaterial {
		what, film = "paper", film[:3]
	}
	stated := grammar.Decode(data).Sub("exposure")
	exposure := exposureFields(spec.Exposures)
	if i := slices.IndexFunc(exposure, func(f field) bool { return f.key == "wedge_first" }); i >= 0 && stated.Has("wedge") {
		const evenly = 3 // fields of a wedge in equal steps
		exposure = slices.Replace(exposure, i, i+evenly, wedgeList("wedge", spec.Exposures.Wedge()))
	}
	if spec.Exposures.Kind() == sensito.Camera && !slices.ContainsFunc(exposure, func(f field) bool { return f.key == "meter_k" }) {
		exposure = append(exposure, field{"meter_k", value{}})
	}
	reading := readingFields(spec.Reading)
	if spec.Reading.Unit != sensito.UnitDensity {
		reading = slices.DeleteFunc(reading, func(f field) bool { return f.key == "zero" })
	}
	return map[string][]field{"": {{"kind", quotedValue(string(spec.Material))}, {"title", quotedValue(spec.Title)}}, what: film,
		"process": processFields(statedProcess(data)), "exposure": exposure, "reading": reading}
}

// SetFacts returns the text of a trial in which facts are otherwise, given by the keys of
// Facts and as Facts has them; "" takes one out. Only they are rewritten, each in its place
// or put where Format has it: comments, order and strips stay. What a strip says for itself
// stays with the strip. The error is that of Read for the old text, joins a
// sensito.FieldError for every fact that cannot be, or says why one cannot be written.
func SetFacts(data []byte, facts map[string]string) ([]byte, error) {
	old, err := readText(data)
	if err != nil {
		return nil, err
	}
	if err := appendable(data); err != nil {
		return nil, err
	}
	tables, left := factTables(old, data), maps.Clone(facts)
	text := data
	for _, name := range slices.Sorted(maps.Keys(tables)) {
		fields := tables[name]
		changed := slices.Clone(fields)
		for i, f := range fields {
			key := grammar.Below(name, f.key)
			set, given := left[key]
			form, known := factForms[key]
			if !given || !known {
				continue
			}
			delete(left, key)
			if changed[i].value, err = factValue(form, set); err != nil {
				return nil, &sensito.FieldError{Key: key, Reason: err.Error()}
			}
		}
		if text, err = setTable(text, name, fields, changed); err != nil {
			return nil, err
		}
	}
	if len(left) > 0 {
		return nil, fmt.Errorf("%s is nothing that this trial says", strings.Join(slices.Sorted(maps.Keys(left)), ", "))
	}
	got, err := readText(text)
	if err != nil {
		return nil, withoutLines(err)
	}
	if !onlyFacts(old, got, facts) || statedProcess(text) != withFacts(statedProcess(data), facts) {
		return nil, errNotFacts
	}
	return text, nil
}

var errNotFacts = errors.New("this cannot be written into the file so that it reads as meant; nothing was changed")

// factValue returns a fact as it stands in a file.
func factValue(form factForm, text string) (value, error) {
	if text == "" {
		return value{}, nil
	}
	if form == textFact {
		return quotedValue(text), nil
	}
	var list []value
	for _, word := range strings.Fields(text) {
		v, err := strconv.ParseFloat(word, 64)
		if err != nil || v == 0 && form == numberFact {
			return value{}, fmt.Errorf("%q is not a number other than 0", word)
		}
		if text := grammar.Number(v); form != wedgeFact {
			list = append(list, plain(text))
		} else {
			list = append(list, plain(grammar.Hundredths(sensito.Density(v))))
		}
	}
	switch {
	case form == numbersFact || form == wedgeFact:
		return value{list: list}, nil
	case len(list) == 1:
		return list[0], nil
	}
	return value{}, fmt.Errorf("%q is not one number", text)
}

// setTable returns the text with what differs from old to new in a table, "" for the top of
// the file. A table that is not there is put before the strips.
func setTable(text []byte, name string, old, new []field) ([]byte, error) {
	if slices.EqualFunc(old, new, func(a, b field) bool { return a.String() == b.String() }) {
		return text, nil
	}
	at, found := tableText(text, name)
	strips := outline(text, "strip")
	switch root := grammar.Decode(text); {
	case found:
		return (&editor{text: text, strip: at}).change(old, new), nil
	case root.Has(name) || len(strips) == 0:
		return nil, fmt.Errorf("what is said of %s is not written as a table, [%s]; change it in a text editor", name, name)
	}
	var said []field
	for i, f := range new {
		if f.String() != old[i].String() { // the others stand for what is usual
			said = append(said, f)
		}
	}
	p := &printer{}
	p.table(name, false, said)
	p.WriteByte('\n')
	before := aboveComments(text, 0, strips[0].header)
	return slices.Concat(text[:before], []byte(strings.ReplaceAll(p.String(), "\n", newline(text))), text[before:]), nil
}

// aboveComments returns where the lines of comment begin that stand directly above a place,
// from an offset on.
func aboveComments(text []byte, from, at int) int {
	for at > from {
		line := bytes.TrimSpace(text[lineStart(text, at-1):at])
		if len(line) == 0 || line[0] != '#' {
			break
		}
		at = lineStart(text, at-1)
	}
	return at
}

// onlyFacts says whether two trials differ in nothing but facts of those keys, and in what
// strips have from the trial.
func onlyFacts(a, b *sensito.Trial, facts map[string]string) bool {
	flat := func(t *sensito.Trial) map[string]string {
		spec := t.Spec()
		spec.Process = sensito.Process{} // compared as it is stated
		for i := range spec.Strips {
			spec.Strips[i].Process, spec.Strips[i].Seconds, spec.Strips[i].IlluminanceLx = sensito.Process{}, 0, 0
		}
		out := map[string]string{}
		for name, v := range grammar.Decode(format(spec, nil)).Values {
			table, is := v.(map[string]any)
			if !is {
				out[name] = fmt.Sprint(v)
			}
			for key, v := range table {
				out[grammar.Below(name, key)] = fmt.Sprint(v)
			}
		}
		for key := range facts {
			delete(out, key)
			if key == "exposure.wedge" { // which may have come to equal steps, or left them
				for _, even := range []string{"_first", "_step", "_count"} {
					delete(out, key+even)
				}
			}
		}
		return out
	}
	return maps.Equal(flat(a), flat(b))
}

// withFacts returns a process with the facts of it.
func withFacts(p sensito.Process, facts map[string]string) sensito.Process {
	set := func(key string, to *string) {
		if text, ok := facts[key]; ok {
			*to = text
		}
	}
	agitation := string(p.Agitation)
	set("process.developer", &p.Developer)
	set("process.dilution", &p.Dilution)
	set("process.agitation", &agitation)
	p.Agitation = sensito.Agitation(agitation)
	if text, ok := facts["process.temperature_c"]; ok {
		p.TemperatureC, _ = strconv.ParseFloat(text, 64) // checked; 0 for ""
	}
	return p
}
