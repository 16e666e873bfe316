package page

import (
	"errors"
	"net/http"

	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/sensito"
	"sensito/sensito/printable"
)

// A change is what the page shows that changes what is said of a trial.
type change struct {
	File    string // its path
	Address string // that the form is sent to
	Room    string // of the trial's strips
	Trial   keyed.Link
	Drawn   keyed.Drawn
	Fields  []keyed.Field
	Faulty  []keyed.Field
	Fault   string // of no field
}

// change answers with what is said of a trial, in fields.
func (s *Server) change(w http.ResponseWriter, r *http.Request) error {
	return s.showChange(w, r, nil, nil, http.StatusOK)
}

func (s *Server) showChange(w http.ResponseWriter, r *http.Request, typed map[string]string, faults keyed.Faults, status int) error {
	p, err := s.trialOf(r)
	if err != nil {
		return err
	}
	drawn, trial, err := keyed.OpenFacts(p.file.Path)
	if err != nil {
		return err
	}
	c := &change{File: p.file.Path, Address: p.room() + "/change", Room: p.room(), Trial: keyed.Link{Address: p.home(), Text: trial.Name()}, Drawn: drawn,
		Fields: keyed.FactFields(drawn, typed, faults), Fault: printable.Text(faults[""])}
	c.Faulty = faulty(c.Fields)
	page := s.page(r, "What is said of a trial", "/")
	page.Content, page.Terminal = c, s.terminal("curve", p.file.Name)
	if trial.Material() == sensito.PaperMaterial {
		page.Terminal = s.terminal("paper", p.file.Name)
	}
	if page.Address == "/" {
		page.Address = c.Address
	}
	return s.writeStatus(w, status, "change", page)
}

// changeFacts saves what is said of a trial, or what was chosen where it was changed
// elsewhere, and leads to the trial.
func (s *Server) changeFacts(w http.ResponseWriter, r *http.Request) error {
	p, err := s.trialOf(r)
	if err != nil {
		return err
	}
	drawn, err := drawnOf(r)
	if err != nil {
		return err
	}
	typed := typedInto(r, keyed.IsFact)
	err = keyed.ChangeFacts(p.file.Path, drawn, typed)
	var faults keyed.Faults
	var conflict *keyed.Conflict
	switch {
	case errors.As(err, &faults):
		return s.showChange(w, r, typed, faults, http.StatusUnprocessableEntity)
	case errors.As(err, &conflict):
		page := s.page(r, "This trial was changed elsewhere", "/")
		page.Content = &clash{Conflict: conflict, Head: "Said", Address: p.room() + "/change", Trial: keyed.Link{Address: p.home(), Text: nameOf(p.file.Name)}}
		return s.writeStatus(w, http.StatusConflict, "conflict", page)
	case err != nil:
		return err
	}
	return seeOther(w, r, p.home(), nil)
}
