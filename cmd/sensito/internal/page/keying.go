package page

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strconv"

	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/notebook"
)

// A place is a strip that an address names.
type place struct {
	file   notebook.Entry
	name   string // of the trial, in addresses
	number int    // of the strip; a hint, since others may have moved it
	step   int    // 0 for none
}

// home is the address of the trial's page.
func (p place) home() string { return address(p.file) }

// room is the address below which the strips of the trial are keyed in.
func (p place) room() string { return "/t/" + p.name }

func (p place) strip() string { return fmt.Sprintf("%s/strips/%d", p.room(), p.number) }

// trialOf returns the trial that an address names.
func (s *Server) trialOf(r *http.Request) (place, error) {
	p := place{name: r.PathValue("trial")}
	var err error
	p.file, err = s.find(p.name, notebook.FilmKind, notebook.PaperKind)
	p.name = url.PathEscape(p.name)
	return p, err
}

// placeOf returns the strip, and the step, that an address names.
func (s *Server) placeOf(r *http.Request) (place, error) {
	p, err := s.trialOf(r)
	if err != nil {
		return p, err
	}
	for _, part := range []struct {
		name string
		at   *int
	}{{"n", &p.number}, {"step", &p.step}} {
		text := r.PathValue(part.name)
		if text == "" && part.name == "step" {
			continue
		}
		if *part.at, err = strconv.Atoi(text); err != nil || *part.at < 1 {
			return p, &missingError{"There is no such strip or step."}
		}
	}
	return p, nil
}

// formOf reads the form of a request.
func formOf(r *http.Request) error {
	err := r.ParseForm()
	if tooLarge := (*http.MaxBytesError)(nil); err == nil || errors.As(err, &tooLarge) {
		return err
	}
	return &badRequestError{"The form cannot be read. Nothing was saved."}
}

// drawnOf reads what a form was made from.
func drawnOf(r *http.Request) (keyed.Drawn, error) {
	if err := formOf(r); err != nil {
		return keyed.Drawn{}, err
	}
	d, err := keyed.Parse(r.PostForm.Get("file"), r.PostForm.Get("strip"), r.PostForm.Get("old"))
	if err != nil {
		return d, &badRequestError{err.Error()}
	}
	return d, nil
}

// desk answers with the page of a strip that is keyed in.
func (s *Server) desk(w http.ResponseWriter, r *http.Request) error {
	p, err := s.placeOf(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	after, _ := strconv.Atoi(q.Get("after"))
	look := keyed.Look{Step: p.step, After: after, Do: q.Get("do"), Typed: q.Get("typed")}
	return s.showDesk(w, r, p, look, http.StatusOK)
}

func (s *Server) showDesk(w http.ResponseWriter, r *http.Request, p place, look keyed.Look, status int) error {
	strip, _, err := keyed.Open(p.file.Path, p.number)
	if err != nil {
		return err
	}
	missing := &missingError{"There is no such strip or step."}
	if strip == nil {
		return missing
	}
	if info, err := os.Stat(p.file.Path); err == nil {
		look.Saved = info.ModTime()
	}
	look.Trial, look.Home = p.name, p.home()
	d, ok := strip.Desk(look)
	if !ok {
		return missing
	}
	if d.Step > 0 {
		if d.Figure, err = onPage(func(o plot.Options) (*plot.Figure, error) { return plot.Keying(d.Course, o) }, "keying"); err != nil {
			return err
		}
	}
	page := s.page(r, d.Title, "/")
	page.Bare, page.Content, page.Terminal = true, d, fmt.Sprintf("%s --strip %d", s.terminal("enter", p.file.Name), p.number)
	if page.Address == "/" {
		page.Address = p.strip()
	}
	w.Header().Set("ETag", strconv.Quote(d.Drawn.File))
	return s.writeStatus(w, status, "keying", page)
}

// sentOf returns the strip that a form is of, and what it was drawn from.
func (s *Server) sentOf(r *http.Request) (place, keyed.Drawn, error) {
	p, err := s.placeOf(r)
	if err != nil {
		return p, keyed.Drawn{}, err
	}
	drawn, err := drawnOf(r)
	return p, drawn, err
}

// key carries out what the form of a step asks for, and leads to the step that comes next.
func (s *Server) key(w http.ResponseWriter, r *http.Request) error {
	p, drawn, err := s.sentOf(r)
	if err != nil {
		return err
	}
	act := keyed.Act{Do: r.PostForm.Get("do"), Step: p.step, Typed: r.PostForm.Get("density"), Asked: r.PostForm.Get("asked")}
	if act.Do == "" {
		act.Do = keyed.Save
	}
	if !keyed.Known(act.Do) {
		return &badRequestError{fmt.Sprintf("%q is nothing that a strip can be asked for.", act.Do)}
	}
	out, err := keyed.Key(p.file.Path, drawn, p.number, act)
	if err != nil {
		return s.conflict(w, r, p, err)
	}
	p.number = out.Number
	q := url.Values{}
	if out.After > 0 {
		q.Set("after", strconv.Itoa(out.After))
	}
	if out.Again != "" {
		q.Set("typed", out.Again)
		if act.Do == keyed.Again {
			q.Set("do", act.Do)
		}
	}
	address := p.strip()
	if !out.Done {
		address += "/" + strconv.Itoa(out.Next)
	}
	return seeOther(w, r, address, q)
}

// seeOther leads to another page.
func seeOther(w http.ResponseWriter, r *http.Request, address string, q url.Values) error {
	if len(q) > 0 {
		address += "?" + q.Encode()
	}
	http.Redirect(w, r, address, http.StatusSeeOther)
	return nil
}

// typedInto returns what a form has in the fields of a strip, or of another thing that is
// is true of.
func typedInto(r *http.Request, is func(field string) bool) map[string]string {
	typed := map[string]string{}
	marked := r.PostForm.Get("marked") != ""
	for name := range r.PostForm {
		if is(name) && (!marked || r.PostForm.Get("take-"+name) == "mine") {
			typed[name] = r.PostForm.Get(name)
		}
	}
	return typed
}

// amend saves what is said of a strip, or what was chosen where it was changed elsewhere.
func (s *Server) amend(w http.ResponseWriter, r *http.Request) error {
	p, drawn, err := s.sentOf(r)
	if err != nil {
		return err
	}
	typed := typedInto(r, keyed.IsField)
	number, err := keyed.Amend(p.file.Path, drawn, p.number, typed)
	var faults keyed.Faults
	if errors.As(err, &faults) {
		step, _ := strconv.Atoi(r.PostForm.Get("step"))
		return s.showDesk(w, r, p, keyed.Look{Step: step, Typing: typed, Faults: faults}, http.StatusUnprocessableEntity)
	}
	if err != nil {
		return s.conflict(w, r, p, err)
	}
	p.number = number
	return seeOther(w, r, p.strip(), nil)
}

// A beginning is what the page of a new strip shows.
type beginning struct {
	Address string
	Trial   keyed.Link
	Fields  []keyed.Field
	Faulty  []keyed.Field
	Picture string // where strips are read from a picture; "" where readings are no densities
}

// newStrip answers with the page that begins a strip.
func (s *Server) newStrip(w http.ResponseWriter, r *http.Request) error {
	return s.showBeginning(w, r, nil, nil, http.StatusOK)
}

func (s *Server) showBeginning(w http.ResponseWriter, r *http.Request, typed map[string]string, faults keyed.Faults, status int) error {
	p, err := s.trialOf(r)
	if err != nil {
		return err
	}
	_, trial, err := keyed.Open(p.file.Path, 1)
	if err != nil {
		return err
	}
	b := &beginning{Address: p.room() + "/strips/new", Trial: keyed.Link{Address: p.home(), Text: trial.Title()},
		Fields: keyed.NewFields(trial, typed, faults)}
	b.Faulty = faulty(b.Fields)
	if trial.Reading().Unit == sensito.UnitDensity && p.file.Kind == notebook.FilmKind {
		b.Picture = "/picture?" + url.Values{"into": {nameOf(p.file.Name)}}.Encode()
	}
	page := s.page(r, "Another strip", "/")
	page.Content, page.Terminal = b, s.terminal("enter", p.file.Name)+" --minutes "+timeLike(trial)
	return s.writeStatus(w, status, "newstrip", page)
}

func timeLike(t *sensito.Trial) string {
	if m := t.Strips()[0].Minutes(); m > 0 {
		return m.Clock(1)
	}
	return "1:30"
}

// beginStrip puts another strip into a trial and leads to its first step.
func (s *Server) beginStrip(w http.ResponseWriter, r *http.Request) error {
	p, err := s.trialOf(r)
	if err != nil {
		return err
	}
	if err := formOf(r); err != nil {
		return err
	}
	typed := typedInto(r, keyed.IsField)
	p.number, err = keyed.Begin(p.file.Path, typed)
	var faults keyed.Faults
	switch {
	case errors.As(err, &faults):
		return s.showBeginning(w, r, typed, faults, http.StatusUnprocessableEntity)
	case err != nil:
		return err
	}
	return seeOther(w, r, p.strip()+"/1", nil)
}

// A deletion is what the page shows that asks whether to take a strip out.
type deletion struct {
	Address, Back string
	Says          string
	Drawn         keyed.Drawn
}

// askDelete answers with the page that asks whether to take a strip out.
func (s *Server) askDelete(w http.ResponseWriter, r *http.Request) error {
	p, err := s.placeOf(r)
	if err != nil {
		return err
	}
	strip, trial, err := keyed.Open(p.file.Path, p.number)
	if err != nil {
		return err
	}
	if strip == nil {
		return &missingError{"There is no such strip."}
	}
	is := trial.Strips()[p.number-1]
	page := s.page(r, "Delete the strip?", "/")
	page.Content = &deletion{Address: p.strip() + "/delete", Back: p.strip(), Drawn: strip.Drawn,
		Says: fmt.Sprintf("%s of %s has %d of %d steps read.", keyed.Title(is), trial.Title(), is.StepsRead(), len(is.Steps()))}
	page.Terminal = fmt.Sprintf("%s --strip %d --delete", s.terminal("enter", p.file.Name), p.number)
	return s.write(w, "delete", page)
}

// deleteStrip takes a strip out.
func (s *Server) deleteStrip(w http.ResponseWriter, r *http.Request) error {
	p, drawn, err := s.sentOf(r)
	if err != nil {
		return err
	}
	if err := keyed.Remove(p.file.Path, drawn, p.number); err != nil {
		return s.conflict(w, r, p, err)
	}
	return seeOther(w, r, p.home(), nil)
}

// undo puts back the version before of a trial.
func (s *Server) undo(w http.ResponseWriter, r *http.Request) error {
	p, err := s.trialOf(r)
	if err != nil {
		return err
	}
	if err := formOf(r); err != nil {
		return err
	}
	if _, err := keyed.Undo(p.file.Path, r.PostForm.Get("file")); err != nil {
		return s.conflict(w, r, p, err)
	}
	return seeOther(w, r, within(r.PostForm.Get("back")), nil)
}

// A clash is what the page shows of a form that cannot be joined with the file.
type clash struct {
	*keyed.Conflict
	Head    string // of what both changed
	Address string // that the choices are sent to
	Trial   keyed.Link
	Step    int
}

// conflict answers with what differs between a form and the file, where that is the error.
func (s *Server) conflict(w http.ResponseWriter, r *http.Request, p place, err error) error {
	var c *keyed.Conflict
	if !errors.As(err, &c) {
		return err
	}
	if c.Number > 0 {
		p.number = c.Number
	}
	page := s.page(r, "This strip was changed elsewhere", "/")
	page.Content = &clash{Conflict: c, Head: "Reading", Address: p.strip(), Trial: keyed.Link{Address: p.home(), Text: nameOf(p.file.Name)}, Step: p.step}
	return s.writeStatus(w, http.StatusConflict, "conflict", page)
}
