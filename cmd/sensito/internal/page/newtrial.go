package page

import (
	"errors"
	"net/http"
	"net/url"

	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
)

// A trialForm is what the page of a new trial shows.
type trialForm struct {
	Fields     []keyed.Field
	Faulty     []keyed.Field
	Agitations []string
}

// newTrial answers with the page that begins a trial.
func (s *Server) newTrial(w http.ResponseWriter, r *http.Request) error {
	return s.showNewTrial(w, r, nil, nil, http.StatusOK)
}

func (s *Server) showNewTrial(w http.ResponseWriter, r *http.Request, typed map[string]string, faults keyed.Faults, status int) error {
	f := &trialForm{Fields: keyed.TrialFields(typed, faults), Agitations: keyed.Agitations()}
	for _, field := range f.Fields {
		if field.Fault != "" {
			f.Faulty = append(f.Faulty, field)
		}
	}
	p := s.page(r, "A new trial", "/")
	p.Content, p.Terminal = f, s.terminal("enter", "NEW.toml")
	return s.writeStatus(w, status, "newtrial", p)
}

// createTrial writes a new trial and leads to the first step of its first strip.
func (s *Server) createTrial(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	typed := map[string]string{}
	for name := range r.PostForm {
		typed[name] = r.PostForm.Get(name)
	}
	file, err := keyed.NewTrial(s.dir, typed)
	var faults keyed.Faults
	switch {
	case errors.As(err, &faults):
		return s.showNewTrial(w, r, typed, faults, http.StatusUnprocessableEntity)
	case err != nil:
		return err
	}
	return seeOther(w, r, "/t/"+url.PathEscape(nameOf(file))+"/strips/1/1", nil)
}

// A condition is one of a trial, with its key in the file.
type condition struct{ Key, Name, Value string }

// A change is what the page shows that says where the conditions of a trial stand.
type change struct {
	File       string // its path
	Trial      keyed.Link
	Conditions []condition
}

// change answers with the conditions of a trial and where they stand: what a person wrote
// there, comments and all, is edited in the file itself.
func (s *Server) change(w http.ResponseWriter, r *http.Request) error {
	p, err := s.trialOf(r)
	if err != nil {
		return err
	}
	_, trial, err := keyed.Open(p.file.Path, 1)
	if err != nil {
		return err
	}
	page := s.page(r, "The conditions of a trial", "/")
	page.Content = &change{File: p.file.Path, Trial: keyed.Link{Address: p.home(), Text: trial.Title()}, Conditions: conditionsOf(trial)}
	page.Terminal = s.terminal("curve", p.file.Name)
	if trial.Material() == sensito.PaperMaterial {
		page.Terminal = s.terminal("paper", p.file.Name)
	}
	return s.write(w, "change", page)
}

func conditionsOf(t *sensito.Trial) []condition {
	film, process := t.Film(), t.Process()
	table := "film"
	if t.Material() == sensito.PaperMaterial {
		table = "paper"
	}
	temperature := ""
	if process.TemperatureC != 0 {
		temperature = sensito.Celsius(process.TemperatureC)
	}
	reading := t.Reading().How()
	if reading == "" {
		reading = "densities, zeroed on " + string(t.Reading().Zero)
	}
	all := []condition{{"title", "Title", t.Title()}, {"[" + table + "] name", "Name", film.Name}, {"[" + table + "] batch", "Batch", film.Batch}, {"[" + table + "] format", "Format", film.Format},
		{"[process] developer", "Developer", process.Developer}, {"[process] dilution", "Dilution", process.Dilution},
		{"[process] temperature_c", "Temperature", temperature}, {"[process] agitation", "Agitation", string(process.Agitation)},
		{"[exposure]", "Exposure", told.Exposures(t.Exposures())}, {"[reading]", "Reading", reading}}
	for i := range all {
		if all[i].Value == "" {
			all[i].Value = "not stated"
		}
	}
	return all
}
