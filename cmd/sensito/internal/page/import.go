package page

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/notebook/table"
	"sensito/sensito/printable"
)

// bring answers with the page that a file is sent from. Tables that lie in the notebook's
// folder are at hand, without the dialog of the browser, which is white under red light.
func (s *Server) bring(w http.ResponseWriter, r *http.Request) error {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	var tables []keyed.Link
	for _, e := range entries {
		if e.Kind == notebook.TableKind {
			tables = append(tables, keyed.Link{Address: address(e), Text: printable.Text(e.Name)})
		}
	}
	p := s.page(r, "Bring in a file", "/")
	p.Content, p.Terminal = tables, s.terminal("import", "FILE")+" --dry-run"
	return s.write(w, "import", p)
}

// inMemory is how much of a form with a file is held before it goes to a file.
const inMemory = 1 << 20 // bytes

// receive keeps a file that is sent, or a table that is pasted, and leads to what it was
// taken for. Nothing of the notebook is written.
func (s *Server) receive(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseMultipartForm(inMemory); err != nil {
		if tooLarge := (*http.MaxBytesError)(nil); errors.As(err, &tooLarge) {
			return err
		}
		return &badRequestError{"The form cannot be read. Nothing was saved."}
	}
	defer r.MultipartForm.RemoveAll()
	name, in := "pasted", io.Reader(strings.NewReader(r.PostFormValue("pasted")))
	if f, header, err := r.FormFile("table"); err == nil && header.Size > 0 {
		defer func(f multipart.File) { f.Close() }(f)
		name, in = printable.Text(filepath.Base(header.Filename)), f
	}
	id, err := s.sent.keep(name, in)
	if err != nil {
		return err
	}
	return seeOther(w, r, "/import/"+id, nil)
}

// A taking is what a file was taken for.
type taking struct {
	Name, Address string
	Guesses       []string
	Columns       []table.ReadColumn
	Trials        []string // in words
	Fault         string
	Question      string // what can be meant in two ways
	Choices       []choiceOf
	Values        []keyed.Field // what the file does not say
	Into          []keyed.Link  // trials that strips can be added to: the name, and the title
	Chosen        string        // of these
	Given         []given       // the options as they are
	Ready         bool
}

// A choiceOf is one answer to a question.
type choiceOf struct{ Name, Value, Means string }

// A given option is one of the address.
type given struct{ Name, Value string }

// read reads a file that was sent, or a table of the notebook, by the options of a query
// or a form.
func (s *Server) read(r *http.Request, q url.Values) (name string, o table.ImportOptions, into *notebook.Entry, seen []byte, found *table.Found, err error) {
	id := r.PathValue("file")
	f, ok := s.sent.find(id)
	if !ok {
		e, err := s.find(id, notebook.TableKind)
		if err != nil {
			return "", o, nil, nil, nil, err
		}
		f = sentFile{id, e.Name, e.Path}
	}
	o = table.ImportOptions{Times: q.Get("times"), Dates: q.Get("dates"), Decimal: q.Get("decimal"), Separator: q.Get("separator"),
		Orientation: q.Get("orientation"), Sheet: q.Get("sheet"), Without: q["without"], Values: map[string]string{}}
	for _, v := range table.ImportValues {
		if text := strings.TrimSpace(q.Get(v.Flag)); text != "" {
			o.Values[v.Column] = text
		}
	}
	if developer, dilution := sensito.SplitDilution(o.Values["developer"]); dilution != "" && o.Values["dilution"] == "" {
		o.Values["developer"], o.Values["dilution"] = developer, dilution
	}
	if name := q.Get("into"); name != "" {
		e, err := s.find(name, notebook.FilmKind, notebook.PaperKind)
		if err != nil {
			return f.name, o, nil, nil, nil, err
		}
		if seen, err = store.ReadBytes(e.Path); err != nil {
			return f.name, o, nil, nil, nil, err
		}
		if o.Into, err = notebook.Read(e.Name, bytes.NewReader(seen)); err != nil {
			return f.name, o, nil, nil, nil, err
		}
		into = &e
	}
	if err := o.Check(); err != nil {
		return f.name, o, into, seen, nil, err
	}
	in, err := os.Open(f.path)
	if err != nil {
		return f.name, o, into, seen, nil, err
	}
	defer in.Close()
	found, err = table.Import(f.name, in, o)
	return f.name, o, into, seen, found, err
}

// taken answers with what a file was taken for, and what is still to be said.
func (s *Server) taken(w http.ResponseWriter, r *http.Request) error {
	return s.showTaken(w, r, r.URL.Query(), http.StatusOK)
}

func (s *Server) showTaken(w http.ResponseWriter, r *http.Request, q url.Values, status int) error {
	name, _, _, _, found, err := s.read(r, q)
	if missing := (*missingError)(nil); errors.As(err, &missing) {
		return err
	}
	shown := printable.Text(name)
	t := &taking{Name: shown, Address: "/import/" + url.PathEscape(r.PathValue("file")), Chosen: q.Get("into"), Ready: err == nil}
	if found != nil {
		t.Guesses, t.Columns = found.Guesses, found.Columns
		for _, f := range found.Trials {
			t.Trials = append(t.Trials, inWords(f))
		}
	}
	var doubt *table.Doubt
	switch {
	case errors.As(err, &doubt):
		t.Question = doubt.Question
		for _, c := range doubt.Choices {
			if c.Value != "" {
				t.Choices = append(t.Choices, choiceOf{c.Flag, c.Value, c.Means})
			}
		}
	case err != nil:
		t.Fault = printable.Lines(err.Error())
	}
	for _, v := range table.ImportValues {
		t.Values = append(t.Values, keyed.Field{Name: v.Flag, Label: strings.ReplaceAll(v.Flag, "-", " "), Value: q.Get(v.Flag), Hint: strings.ReplaceAll(v.Usage, "`", "")})
	}
	for _, name := range []string{"times", "dates", "decimal", "separator", "orientation", "sheet", "without"} {
		for _, value := range q[name] {
			t.Given = append(t.Given, given{name, value})
		}
	}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if printable.Text(e.Name) != e.Name { // which no form can send
			continue
		}
		if e.Kind == notebook.FilmKind || e.Kind == notebook.PaperKind {
			t.Into = append(t.Into, keyed.Link{Address: nameOf(e.Name), Text: e.Name})
		}
	}
	p := s.page(r, "What "+shown+" was taken for", "/")
	p.Content, p.Terminal = t, s.terminal("import", name)+" --dry-run"
	return s.writeStatus(w, status, "taken", p)
}

// inWords tells of a trial that was found.
func inWords(f *table.Imported) string {
	var times []string
	for _, strip := range f.Strips {
		times = append(times, strip.Minutes.Clock(1))
	}
	title := f.Trial.Title()
	if title == "" {
		title = f.Trial.Film().Name
	}
	return fmt.Sprintf("%s: %s (%s)", title, printable.Counted(len(times), "strip"), strings.Join(times, ", "))
}

// bringIn writes what a file was taken for, into new files or into a trial, and leads
// there.
func (s *Server) bringIn(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	_, _, into, seen, found, err := s.read(r, r.PostForm)
	if missing := (*missingError)(nil); errors.As(err, &missing) {
		return err
	}
	if err != nil {
		return s.showTaken(w, r, r.PostForm, http.StatusUnprocessableEntity)
	}
	if into != nil {
		_, err := store.Update(into.Path, nil, func(old []byte) ([]byte, error) {
			text, _, err := table.AppendStrips(old, seen, found.Trials[0].Strips, found.Trials[0].Trial.Calibrations()...)
			return text, err
		})
		if err != nil {
			return err
		}
		s.sent.drop(r.PathValue("file"))
		return seeOther(w, r, address(*into), nil)
	}
	first := ""
	for _, f := range found.Trials {
		file, err := keyed.Create(s.dir, f.Trial)
		if err != nil {
			return err
		}
		if first == "" {
			kind := notebook.FilmKind
			if f.Trial.Material() == sensito.PaperMaterial {
				kind = notebook.PaperKind
			}
			first = address(notebook.Entry{Name: file, Kind: kind})
		}
	}
	s.sent.drop(r.PathValue("file"))
	return seeOther(w, r, first, nil)
}
