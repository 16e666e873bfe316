package keyed

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// Faults say what is wrong with fields of a form, by their names.
type Faults map[string]string

func (f Faults) Error() string {
	var out []string
	for _, text := range f {
		out = append(out, text)
	}
	slices.Sort(out)
	return strings.Join(out, "; ")
}

// understood returns the fields of a form as they would be written, and Faults where one
// cannot be understood. A field that is none of a strip is passed over.
func understood(k *entry.Keying, typed map[string]string) (map[string]string, error) {
	out, faults := map[string]string{}, Faults{}
	for field, text := range typed {
		text = strings.TrimSpace(text)
		written, err := understand(k, field, text)
		switch {
		case err != nil:
			faults[field] = err.Error()
		case slices.Contains(ownFields, field) || stepOf(field, k.Steps()) > 0:
			out[field] = written
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return out, nil
}

func understand(k *entry.Keying, field, text string) (string, error) {
	paper := k.Trial().Material() == sensito.PaperMaterial
	switch {
	case field == minutesField && text == "" && !paper:
		return "", errors.New("the time that it was developed for, like 8:00")
	case field == gradeField && text != "" && !paper:
		return "", errors.New("a grade is of paper, and this is a film")
	case text == "":
		return "", nil
	case field == minutesField:
		m, err := sensito.ParseMinutes(text)
		return minutesText(m), err
	case field == fogField:
		readings, err := readingsOf(k, text, k.ExpectFog(), true)
		return readingsText(readings), err
	case field == dateField:
		return text, sensito.CheckDate(text)
	case field == temperatureField:
		c, err := sensito.ParseTemperature(text)
		return number(math.Round(100*c) / 100), err
	case stepOf(field, k.Steps()) > 0:
		x, ok := k.ExpectAt(stepOf(field, k.Steps()))
		readings, err := readingsOf(k, text, x, ok)
		return readingsText(readings), err
	}
	return text, nil
}

// mostReadings is more readings of one step than anybody takes.
const mostReadings = 50

// readingsOf reads readings with a space between; one in EV or steps may have a fraction,
// as 9 2/3.
func readingsOf(k *entry.Keying, text string, x entry.Expectation, expected bool) ([]sensito.Density, error) {
	words := strings.Fields(text)
	for i := len(words) - 1; i > 0; i-- {
		if strings.Contains(words[i], "/") && !strings.ContainsAny(words[i-1], "/.,") {
			words[i-1] += " " + words[i]
			words = slices.Delete(words, i, i+1)
		}
	}
	if len(words) > mostReadings {
		return nil, fmt.Errorf("%d readings are more than %d", len(words), mostReadings)
	}
	var out []sensito.Density
	for _, word := range words {
		r, err := k.Typed(word)
		if err == nil {
			r, err = r.Settled(x, expected)
		}
		if err == nil {
			err = k.Trial().Reading().CheckReading(r.Density)
		}
		if err != nil {
			return nil, err
		}
		out = append(out, r.Density)
	}
	return out, nil
}

// put puts the fields, as understood returns them, in their places in a strip.
func put(k *entry.Keying, spec *sensito.StripSpec, fields map[string]string) error {
	for field, text := range fields {
		var readings []sensito.Density
		var err error
		step := stepOf(field, len(spec.Density))
		if field == fogField || step > 0 {
			if readings, err = readingsOf(k, text, entry.Expectation{}, false); err != nil {
				return err
			}
		}
		switch {
		case field == minutesField:
			if spec.Minutes = 0; text != "" {
				spec.Minutes, err = sensito.ParseMinutes(text)
			}
		case field == gradeField:
			spec.Grade = text
		case field == fogField:
			spec.BaseFog = readings
		case field == dateField:
			spec.Date = text
		case field == temperatureField:
			if spec.Process.TemperatureC = 0; text != "" {
				spec.Process.TemperatureC, err = sensito.ParseTemperature(text)
			}
		case field == noteField:
			spec.Note = text
		case step > 0:
			setReadings(spec, step, readings)
		}
		if err != nil {
			return Faults{field: err.Error()}
		}
	}
	return nil
}

func setReadings(spec *sensito.StripSpec, step int, readings []sensito.Density) {
	delete(spec.Repeats, step)
	switch len(readings) {
	case 0:
		spec.Density[step-1] = sensito.Density(math.NaN())
	case 1:
		spec.Density[step-1] = readings[0]
	default:
		if spec.Repeats == nil {
			spec.Repeats = map[int][]sensito.Density{}
		}
		spec.Repeats[step] = readings
		spec.Density[step-1] = sensito.AverageDensity(readings)
	}
}

// Amend changes fields of the strip that was drawn, near the number in the address, and
// returns its number. The error is Faults, a *Conflict, or that of reading or writing;
// nothing is written then.
func Amend(path string, d Drawn, hint int, typed map[string]string) (int, error) {
	at := 0
	_, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		t, err := notebook.Read(path, bytes.NewReader(old))
		if err != nil {
			return nil, err
		}
		if at = d.find(old, t, hint); at == 0 {
			return nil, lost(d, typed, t.Exposures().Len())
		}
		k := entry.NewKeying(t, at)
		mine, err := understood(k, typed)
		if err != nil {
			return nil, err
		}
		write, err := d.join(old, t, at, mine)
		if err != nil || len(write) == 0 {
			return old, err
		}
		spec := t.Strips()[at-1].Spec()
		if err := put(k, &spec, write); err != nil {
			return nil, err
		}
		text, err := notebook.ReplaceStrip(old, at, spec)
		return text, ofFields(err, at)
	})
	return at, err
}

// lost is the Conflict of a strip that is not to be found.
func lost(d Drawn, mine map[string]string, steps int) *Conflict {
	c := &Conflict{}
	for _, field := range append(slices.Clone(ownFields), stepFields(steps)...) {
		if text, ok := mine[field]; ok && text != d.Old[field] {
			c.Rows = append(c.Rows, Row{Field: field, Label: label(field, steps), Before: d.Old[field], Mine: text})
		}
	}
	return c
}

func stepFields(steps int) []string {
	var out []string
	for i := range steps {
		out = append(out, stepField(i+1))
	}
	return out
}

// ofFields returns the faults that a trial finds with a strip as Faults of its fields,
// and another error as it is.
func ofFields(err error, at int) error {
	var fault *sensito.FieldError
	if !errors.As(err, &fault) {
		return err
	}
	_, key, ok := strings.Cut(fault.Key, fmt.Sprintf("strip[%d].", at))
	if !ok || !slices.Contains(ownFields, key) {
		return err
	}
	return Faults{key: fault.Reason}
}

// Begin puts another strip at the end of a trial, with the fields of a form, and returns
// its number; one that is there already and has no reading yet is not put there twice.
// Errors are as for Amend, but nothing is in conflict with a new strip.
func Begin(path string, typed map[string]string) (int, error) {
	at := 0
	_, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		t, err := notebook.Read(path, bytes.NewReader(old))
		if err != nil {
			return nil, err
		}
		k := entry.NewKeying(t, 1) // any strip reads what is typed
		fields, err := understood(k, typed)
		if err != nil {
			return nil, err
		}
		spec := empty(t.Exposures().Len())
		if err := put(k, &spec, fields); err != nil {
			return nil, err
		}
		text, err := notebook.AppendStrip(old, spec)
		if err != nil {
			return nil, ofFields(err, len(t.Strips())+1)
		}
		with, err := notebook.Read(path, bytes.NewReader(text))
		if err != nil {
			return nil, err
		}
		at = len(with.Strips())
		for number := range at - 1 {
			if told.Text(with, number+1) == told.Text(with, at) {
				at = number + 1
				return old, nil
			}
		}
		return text, nil
	})
	return at, err
}

// empty is a strip whose first step comes next.
func empty(steps int) sensito.StripSpec {
	return sensito.StripSpec{NextStep: 1, Density: slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, steps)}
}

// Remove takes out the strip that was drawn, if it still is as it was drawn. The error is
// a *Conflict where it is not, or that of reading, writing or removing.
func Remove(path string, d Drawn, hint int) error {
	_, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		t, err := notebook.Read(path, bytes.NewReader(old))
		if err != nil {
			return nil, err
		}
		at := d.find(old, t, hint)
		if at == 0 || draw(old, t, at).Strip != d.Strip {
			return nil, &Conflict{}
		}
		return notebook.RemoveStrip(old, at)
	})
	return err
}

// Undo puts back the version before of the file, if the file is the one of the hash. It
// says whether that changed anything. The error is a *Conflict where the file is another
// one, or that of store.Undo.
func Undo(path, file string) (changed bool, err error) {
	from, to, err := store.Undo(path)
	if err != nil {
		return false, err
	}
	if Hash(from) == file {
		return !bytes.Equal(from, to), nil
	}
	if !bytes.Equal(from, to) { // somebody saved in between: theirs comes back
		if _, _, err := store.Undo(path); err != nil {
			return false, err
		}
	}
	return false, &Conflict{}
}
