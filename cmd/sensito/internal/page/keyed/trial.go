package keyed

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/typed"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/notebook/table"
)

// What most people have, which a new trial stands for: a wedge of 21 steps of half a stop,
// and a densitometer that was zeroed on air.
const (
	wedgeFirst, wedgeStep, wedgeCount = 0.05, 0.15, 21
)

// A fact is one that a new trial needs.
type fact struct {
	Field
	parse func(text string) (answer, words string, err error)
	key   string // of the file
}

var facts = []fact{
	{Field{Name: "film", Label: "Film", Hint: "as its box calls it"}, nil, "film.name"},
	{Field{Name: "developer", Label: "Developer and dilution", Hint: "like Ashlar 1+4"}, typed.Developer, "process.developer"},
	{Field{Name: "temperature_c", Label: "Temperature, °C", Hint: "20, or 68F"}, typed.Temperature, "process.temperature_c"},
	{Field{Name: "agitation", Label: "Agitation", Choices: Agitations()}, nil, "process.agitation"},
	{Field{Name: "illuminance_lx", Label: "Illuminance at the film, lux", Hint: "nothing in between, the wedge not either"}, typed.Number, "exposure.illuminance_lx"},
	{Field{Name: "seconds", Label: "Exposure, seconds", Hint: "0.5 or 1/2"}, typed.Seconds, "exposure.seconds"},
}

// TrialFields returns the fields of a new trial, with what was typed into them.
func TrialFields(typing map[string]string, faults Faults) []Field {
	var out []Field
	for _, f := range facts {
		f.Value, f.Fault = typing[f.Name], faults[f.Name]
		if f.Name == "agitation" && f.Value == "" {
			f.Value = string(sensito.AgitationContinuous)
		}
		out = append(out, f.Field)
	}
	return out
}

// Agitations are what the field agitation can be.
func Agitations() []string {
	var out []string
	for _, a := range sensito.Agitations {
		out = append(out, string(a))
	}
	return out
}

// HasFacts says whether anything was typed into the fields of a new trial.
func HasFacts(typing map[string]string) bool {
	return slices.ContainsFunc(facts, func(f fact) bool { _, typed := typing[f.Name]; return typed })
}

// Facts returns the trial of film, exposed under a wedge, that the fields of a new trial
// tell of. Its strip stands for the first one, of which nothing is known yet. The error is
// Faults.
func Facts(typing map[string]string) (*sensito.Trial, error) {
	answers, faults := map[string]string{}, Faults{}
	for _, f := range facts {
		text := strings.TrimSpace(typing[f.Name])
		switch {
		case text == "" && f.Name != "developer":
			faults[f.Name] = strings.TrimSuffix("needed: "+f.Hint, ": ")
		case f.parse != nil && text != "":
			answer, _, err := f.parse(text)
			if answers[f.Name] = answer; err != nil {
				faults[f.Name] = err.Error()
			}
		default:
			answers[f.Name] = text
		}
	}
	if a := answers["agitation"]; !slices.Contains(Agitations(), a) {
		faults["agitation"] = fmt.Sprintf("%q is not one of %s", a, strings.Join(Agitations(), ", "))
	}
	trial, err := trialOf(answers)
	for _, fault := range fieldErrors(err) {
		for _, f := range facts {
			if faults[f.Name] == "" && (fault.Key == f.key || strings.HasSuffix(fault.Key, "]."+f.key) || f.Name == "developer" && fault.Key == "process.dilution") {
				faults[f.Name] = fault.Reason
				err = nil
			}
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return trial, err
}

// FirstFields returns the fields of the first strip of a new trial, with what was typed
// into them. Its temperature is that of the trial.
func FirstFields(t *sensito.Trial, typing map[string]string, faults Faults) []Field {
	typed := map[string]string{}
	for _, name := range ownFields {
		if text, ok := typing[name]; ok && name != temperatureField {
			typed[name] = text
		}
	}
	return slices.DeleteFunc(NewFields(t, typed, faults), func(f Field) bool { return f.Name == temperatureField })
}

// NewTrial puts the trial that Facts has returned into a new file of the folder, with its
// first strip, and returns the name of the file. No file is replaced: the name is made of
// film and developer, with a number where it is taken. The error is Faults of the strip, or
// that of writing.
func NewTrial(dir string, t *sensito.Trial, typing map[string]string) (string, error) {
	typed := map[string]string{}
	for _, f := range FirstFields(t, typing, nil) {
		typed[f.Name] = f.Value
	}
	k := entry.NewKeying(t, 1)
	fields, err := understood(k, typed)
	if err != nil {
		return "", err
	}
	spec := t.Spec()
	if err := put(k, &spec.Strips[0], fields); err != nil {
		return "", err
	}
	if t, err = sensito.NewTrial(spec); err != nil {
		return "", ofFields(err, 1)
	}
	return Create(dir, t)
}

// Create puts a trial into a new file of the folder and returns the name of the file: it is
// made of title, or film and developer, with a number where it is taken. The error is that
// of writing.
func Create(dir string, trial *sensito.Trial) (string, error) {
	name, text := table.FileName(trial), notebook.Format(trial)
	const most = 100
	for n := 1; ; n++ {
		file := name + ".toml"
		if n > 1 {
			file = fmt.Sprintf("%s-%d.toml", name, n)
		}
		err := store.CreateFile(filepath.Join(dir, file), text)
		if taken := (*store.TakenError)(nil); !errors.As(err, &taken) || n == most {
			return file, err
		}
	}
}

// fieldErrors returns the faults of fields that an error joins.
func fieldErrors(err error) []*sensito.FieldError {
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var out []*sensito.FieldError
		for _, e := range many.Unwrap() {
			out = append(out, fieldErrors(e)...)
		}
		return out
	}
	var one *sensito.FieldError
	if errors.As(err, &one) {
		return []*sensito.FieldError{one}
	}
	return nil
}

// trialOf returns the trial that answers tell of.
func trialOf(answers map[string]string) (*sensito.Trial, error) {
	read := func(name string) float64 {
		v, _ := entry.ParseNumber(answers[name]) // checked
		return v
	}
	spec := sensito.TrialSpec{Film: sensito.Film{Name: answers["film"]},
		Process: sensito.Process{TemperatureC: read("temperature_c"), Agitation: sensito.Agitation(answers["agitation"])},
		Reading: sensito.Reading{Repeatability: sensito.DefaultRepeatability, Zero: sensito.ZeroAir}}
	spec.Process.Developer, spec.Process.Dilution = sensito.SplitDilution(answers["developer"])
	spec.Title = spec.Film.Name
	if answers["developer"] != "" {
		spec.Title += " in " + answers["developer"]
	}
	var faults []error
	var err error
	if spec.Exposures, err = sensito.NewContact(read("illuminance_lx"), read("seconds"), sensito.EvenWedge(wedgeFirst, wedgeStep, wedgeCount)); err != nil {
		faults = append(faults, err)
		spec.Exposures, _ = sensito.NewContact(1, 1, sensito.EvenWedge(wedgeFirst, wedgeStep, wedgeCount))
	}
	first := empty(wedgeCount)
	first.Minutes = 10 // until it is known
	spec.Strips = []sensito.StripSpec{first}
	trial, err := sensito.NewTrial(spec)
	if err != nil {
		faults = append(faults, err)
	}
	return trial, errors.Join(faults...)
}
