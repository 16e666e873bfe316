package keyed

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/typed"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A statement is a fact of a trial that a form changes.
type statement struct {
	Field
	parse func(text string) (answer, words string, err error)
}

// statements are the facts of a trial in the order in which they are shown, by the keys of
// notebook.Facts. One that its trial does not have is left out.
var statements = []statement{
	{Field{Name: "title", Label: "Title"}, nil},
	{Field{Name: "film.name", Label: "Film", Hint: "as its box calls it"}, nil},
	{Field{Name: "film.batch", Label: "Batch"}, nil},
	{Field{Name: "film.format", Label: "Format", Hint: "like 120 or 4x5"}, nil},
	{Field{Name: "film.rated_speed", Label: "Speed on the box", Hint: "ISO, like 125"}, typed.Number},
	{Field{Name: "paper.name", Label: "Paper", Hint: "as its box calls it"}, nil},
	{Field{Name: "paper.batch", Label: "Batch"}, nil},
	{Field{Name: "paper.format", Label: "Format", Hint: "like 18x24"}, nil},
	{Field{Name: "process.developer", Label: "Developer"}, nil},
	{Field{Name: "process.dilution", Label: "Dilution", Hint: "1+19, or stock"}, dilution},
	{Field{Name: "process.temperature_c", Label: "Temperature, °C", Hint: "20, or 68F"}, typed.Temperature},
	{Field{Name: "process.agitation", Label: "Agitation", Choices: append([]string{""}, Agitations()...)}, nil},
	{Field{Name: "exposure.illuminance_lx", Label: "Illuminance at the film, lux", Hint: "nothing in between, the wedge not either"}, typed.Number},
	{Field{Name: "exposure.seconds", Label: "Exposure, seconds", Hint: "0.5 or 1/2"}, typed.Seconds},
	{Field{Name: "exposure.wedge_first", Label: "Density of the first step", Hint: "of the wedge"}, typed.Signed},
	{Field{Name: "exposure.wedge_step", Label: "From step to step", Hint: "density; falling steps have a minus"}, typed.Number},
	{Field{Name: "exposure.wedge", Label: "Density of each step", Hint: "of the wedge, step 1 first, a space between"}, typed.Steps},
	{Field{Name: "exposure.stops", Label: "Exposed by, stops", Hint: "from the metered exposure, step 1 first, a space between"}, typed.Steps},
	{Field{Name: "exposure.log_h", Label: "log H of each step", Hint: "relative, step 1 first, a space between"}, typed.Steps},
	{Field{Name: "exposure.meter_index", Label: "Set on the meter", Hint: "the index, like 125"}, typed.Number},
	{Field{Name: "exposure.meter_k", Label: "Constant of the meter", Hint: "K in cd s/m²; empty for 12.5"}, typed.Number},
	{Field{Name: "reading.open_ev", Label: "The bare light, EV", Hint: "each reading, a space between"}, bareLight},
	{Field{Name: "reading.repeatability", Label: "Readings repeat to", Hint: "one standard deviation"}, typed.Number},
	{Field{Name: "reading.zero", Label: "Zeroed on", Choices: zeros()}, nil},
}

func zeros() []string {
	var out []string
	for _, z := range sensito.Zeros {
		out = append(out, string(z))
	}
	return out
}

// dilution understands a dilution, a colon as a plus.
func dilution(text string) (answer, words string, err error) {
	d, err := sensito.ParseDilution(text)
	if err != nil {
		return "", "", err
	}
	return d.String(), "", nil
}

// bareLight understands readings of the light with nothing in between.
func bareLight(text string) (answer, words string, err error) {
	vs, err := typed.Numbers(text)
	var out []string
	for _, v := range vs {
		out = append(out, typed.Written(v))
	}
	return strings.Join(out, " "), "", err
}

// IsFact says whether a form may have that field of a trial.
func IsFact(name string) bool { return statementOf(name) >= 0 }

func statementOf(name string) int {
	return slices.IndexFunc(statements, func(s statement) bool { return s.Name == name })
}

// factsMark stands for the strip in what a form of the facts of a trial carries.
const factsMark = "facts"

func drawFacts(data []byte) (Drawn, error) {
	facts, err := notebook.Facts(data)
	return Drawn{File: Hash(data), Strip: factsMark, Old: facts}, err
}

// OpenFacts returns what a form of the facts of the trial at path is made from, and the
// trial. The error is that of reading.
func OpenFacts(path string) (Drawn, *sensito.Trial, error) {
	data, err := store.ReadBytes(path)
	if err != nil {
		return Drawn{}, nil, err
	}
	t, err := notebook.Read(path, bytes.NewReader(data))
	if err != nil {
		return Drawn{}, nil, err
	}
	d, err := drawFacts(data)
	return d, t, err
}

// FactFields returns the fields of a trial's facts, with what was typed into them where
// something was.
func FactFields(d Drawn, typing map[string]string, faults Faults) []Field {
	var out []Field
	for _, s := range statements {
		was, has := d.Old[s.Name]
		if !has {
			continue
		}
		f := s.Field
		f.Value, f.Fault = was, faults[f.Name]
		if text, ok := typing[f.Name]; ok {
			f.Value = text
		}
		out = append(out, f)
	}
	return out
}

// ChangeFacts changes facts of the trial that was drawn. The error is Faults, a *Conflict,
// or that of reading or writing; nothing is written then. Faults of no field, as of
// readings that cannot be with the new facts, are those of "".
func ChangeFacts(path string, d Drawn, typing map[string]string) error {
	_, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		now, err := drawFacts(old)
		if err != nil {
			return nil, err
		}
		mine, err := d.understood(typing)
		if err != nil {
			return nil, err
		}
		var fields []string
		for _, s := range statements {
			fields = append(fields, s.Name)
		}
		write, err := d.joined(now, 1, mine, fields, func(field string) string { return statements[statementOf(field)].Label })
		if err != nil || len(write) == 0 {
			return old, err
		}
		text, err := notebook.SetFacts(old, write)
		return text, faultsOfFacts(now, err)
	})
	return err
}

// understood returns the facts of a form as they would be written, those that it leaves as
// they were included. The error is Faults.
func (d Drawn) understood(typing map[string]string) (map[string]string, error) {
	mine, faults := map[string]string{}, Faults{}
	for field, text := range typing {
		was, has := d.Old[field]
		i := statementOf(field)
		if i < 0 || !has {
			continue
		}
		s := statements[i]
		text = strings.TrimSpace(text)
		switch {
		case text == was:
			mine[field] = was
		case s.Choices != nil && !slices.Contains(s.Choices, text):
			faults[field] = fmt.Sprintf("%q is not one of %s", text, strings.Join(s.Choices, ", "))
		case s.parse != nil && text != "":
			answer, _, err := s.parse(text)
			if mine[field] = answer; err != nil {
				faults[field] = err.Error()
			}
		default:
			mine[field] = text
		}
	}
	const name, parts = "process.developer", "process.dilution"
	if text := mine[name]; text != d.Old[name] { // which may have the dilution with it
		developer, dilution, _, err := entry.ParseDeveloper(text)
		switch {
		case err != nil:
			faults[name] = err.Error()
		case dilution != "" && mine[parts] == d.Old[parts]:
			mine[name], mine[parts] = developer, dilution
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return mine, nil
}

// faultsOfFacts returns what a trial finds with its facts as Faults.
func faultsOfFacts(now Drawn, err error) error {
	found := fieldErrors(err)
	if len(found) == 0 {
		return err
	}
	faults := Faults{}
	var others []string // of no field
	for _, f := range found {
		key, reason := f.Key, f.Reason
		if list, step, of := strings.Cut(key, "["); of && IsFact(list) {
			key, reason = list, "step "+strings.TrimSuffix(step, "]")+": "+reason
		}
		if _, has := now.Old[key]; has && IsFact(key) {
			faults[key] = strings.TrimPrefix(faults[key]+"; "+reason, "; ")
		} else {
			others = append(others, f.Error())
		}
	}
	if len(others) > mostOthers {
		others = append(others[:mostOthers:mostOthers], fmt.Sprintf("and %d more", len(others)-mostOthers))
	}
	if len(others) > 0 {
		faults[""] = strings.Join(others, "; ")
	}
	return faults
}

// mostOthers is how many faults of no field are told.
const mostOthers = 3
