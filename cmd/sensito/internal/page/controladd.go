package page

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook"
)

// The fields of a control strip are named as the flags of the command; those of further
// patches begin with a word.
const (
	patchField = "patch "
	freshField = "fresh"
)

// addFields returns the fields of a further strip of a log, with what was typed into them.
func addFields(log *control.Log, typed url.Values, faults keyed.Faults) []screen.StripField {
	out := []screen.StripField{{Name: "date", Label: "developed on", Hint: "as 2026-03-01"}, {Name: "base-fog", Label: "base plus fog"},
		{Name: "low", Label: "low density"}, {Name: "high", Label: "high density"}}
	for _, name := range screen.FurtherPatches(log) {
		out = append(out, screen.StripField{Name: patchField + name, Label: name})
	}
	out = append(out, screen.StripField{Name: "note", Label: "a note"})
	for i := range out {
		out[i].ID, out[i].Value, out[i].Fault = fmt.Sprintf("f-%d", i+1), typed.Get(out[i].Name), faults[out[i].Name]
	}
	return out
}

// addControl adds the strip of a form to a control log and leads to the log. A strip meets
// nothing that others did to the file, so that the form is joined with any state of it.
func (s *Server) addControl(w http.ResponseWriter, r *http.Request) error {
	f, err := s.file(r.PathValue("log"), notebook.ControlKind)
	if err != nil {
		return err
	}
	if err := formOf(r); err != nil {
		return err
	}
	c, err := f.content()
	if err != nil {
		return err
	}
	fields := addFields(c.control, nil, nil)
	strip, faults := controlStrip(fields, r.PostForm)
	if len(faults) == 0 {
		err = ask.CheckControl(strip)
		if err == nil {
			_, _, err = ask.AddControl(f.Path, strip)
		}
		var fault *ask.StripFault
		switch {
		case errors.As(err, &fault):
			faults = faultOfStrip(fields, fault)
		case err != nil:
			return err
		}
	}
	if len(faults) > 0 {
		return s.showControl(w, r, r.PostForm, faults, http.StatusUnprocessableEntity)
	}
	return seeOther(w, r, address(f.Entry), nil)
}

// controlStrip returns the strip that a form tells of, and what of it is not understood.
func controlStrip(fields []screen.StripField, form url.Values) (control.Strip, keyed.Faults) {
	strip := control.Strip{Fresh: form.Get(freshField) != ""}
	faults := keyed.Faults{}
	for _, f := range fields {
		text := strings.TrimSpace(form.Get(f.Name))
		patch, further := strings.CutPrefix(f.Name, patchField)
		switch {
		case f.Name == "note":
			strip.Note = text
			continue
		case further && text == "":
			continue
		case text == "":
			faults[f.Name] = "needed"
			continue
		case f.Name == "date":
			strip.Date = text
			continue
		}
		density, err := control.ParseDensity(text)
		switch {
		case err != nil:
			faults[f.Name] = err.Error()
		case f.Name == "base-fog":
			strip.BaseFog = density
		case f.Name == "low":
			strip.Low = density
		case f.Name == "high":
			strip.High = density
		case strip.Others == nil:
			strip.Others = map[string]sensito.Density{patch: density}
		default:
			strip.Others[patch] = density
		}
	}
	return strip, faults
}

// faultOfStrip returns the fault of a strip by the field of the form, or by none.
func faultOfStrip(fields []screen.StripField, fault *ask.StripFault) keyed.Faults {
	name := strings.ReplaceAll(fault.Field, "_", "-")
	if patch, further := strings.CutPrefix(fault.Field, "patches."); further {
		name = patchField + patch
	}
	for _, f := range fields {
		if f.Name == name {
			return keyed.Faults{name: fault.Reason}
		}
	}
	return keyed.Faults{"": fault.Error()}
}
