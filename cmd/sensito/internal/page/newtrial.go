package page

import (
	"errors"
	"net/http"
	"net/url"

	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito"
)

// A trialForm is what the page of a new trial shows: its fields or, once they are
// understood, those of its first strip.
type trialForm struct {
	Fields []keyed.Field
	Faulty []keyed.Field
	Says   string  // the trial, where it is understood
	Said   []given // its fields
	Back   string  // to them
}

// newTrial answers with the page that begins a trial. Its address holds what was said of
// the trial, and nothing is written before the first strip is known.
func (s *Server) newTrial(w http.ResponseWriter, r *http.Request) error {
	typed := lastTyped(r.URL.Query())
	if !keyed.HasFacts(typed) {
		return s.showNewTrial(w, r, typed, nil, http.StatusOK)
	}
	t, err := keyed.Facts(typed)
	var faults keyed.Faults
	switch {
	case errors.As(err, &faults):
		return s.showNewTrial(w, r, typed, faults, http.StatusUnprocessableEntity)
	case err != nil:
		return err
	case typed["again"] != "":
		return s.showNewTrial(w, r, typed, nil, http.StatusOK)
	}
	return s.showFirst(w, r, t, typed, nil, http.StatusOK)
}

// lastTyped returns the fields of a form, of one that was sent twice the last.
func lastTyped(sent url.Values) map[string]string {
	typed := map[string]string{}
	for name, values := range sent {
		typed[name] = values[len(values)-1]
	}
	return typed
}

func (s *Server) showNewTrial(w http.ResponseWriter, r *http.Request, typed map[string]string, faults keyed.Faults, status int) error {
	f := &trialForm{Fields: keyed.TrialFields(typed, faults)}
	f.Faulty = faulty(f.Fields)
	p := s.page(r, "A new trial", "/")
	p.Content, p.Terminal = f, s.terminal("enter", "NEW.toml")
	return s.writeStatus(w, status, "newtrial", p)
}

// faulty returns the fields that are not understood.
func faulty(fields []keyed.Field) []keyed.Field {
	var out []keyed.Field
	for _, f := range fields {
		if f.Fault != "" {
			out = append(out, f)
		}
	}
	return out
}

// showFirst answers with the page that asks for the first strip of a new trial.
func (s *Server) showFirst(w http.ResponseWriter, r *http.Request, t *sensito.Trial, typed map[string]string, faults keyed.Faults, status int) error {
	f := &trialForm{Fields: keyed.FirstFields(t, typed, faults), Says: screen.Begun(t)}
	f.Faulty = faulty(f.Fields)
	back := url.Values{"again": {"yes"}}
	for _, field := range keyed.TrialFields(typed, nil) {
		f.Said = append(f.Said, given{field.Name, field.Value})
		back.Set(field.Name, field.Value)
	}
	f.Back = "/new?" + back.Encode()
	p := s.page(r, "The first strip", "/")
	p.Content, p.Terminal = f, s.terminal("enter", "NEW.toml")
	return s.writeStatus(w, status, "first-strip", p)
}

// createTrial writes a new trial with its first strip and leads to the first step of it.
func (s *Server) createTrial(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	typed := lastTyped(r.PostForm)
	var faults keyed.Faults
	t, err := keyed.Facts(typed)
	switch {
	case errors.As(err, &faults):
		return s.showNewTrial(w, r, typed, faults, http.StatusUnprocessableEntity)
	case err != nil:
		return err
	}
	file, err := keyed.NewTrial(s.dir, t, typed)
	switch {
	case errors.As(err, &faults):
		return s.showFirst(w, r, t, typed, faults, http.StatusUnprocessableEntity)
	case err != nil:
		return err
	}
	return seeOther(w, r, "/t/"+url.PathEscape(nameOf(file))+"/strips/1/1", nil)
}
