package page

import (
	"net/http"
	"net/url"
	"path/filepath"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/notebook"
)

// notebook answers with what is in the notebook and what is to be done.
func (s *Server) notebook(w http.ResponseWriter, r *http.Request) error {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	files := s.kept.all(entries)
	n, err := s.whole(r, files)
	if err != nil {
		return err
	}
	content := screen.NewNotebook(n, changed(files), addresses(entries))
	open, _, _, err := s.open()
	if err != nil {
		return err
	}
	for _, o := range open {
		content.Open = append(content.Open, screen.Link{Address: o.Address, Text: o.Text, Says: o.Says})
	}
	if content.Empty() {
		p := s.page(r, "An empty notebook", "/")
		p.Terminal = "sensito demo"
		return s.write(w, "first", p)
	}
	p := s.page(r, filepath.Base(s.dir), "/")
	p.Content, p.Terminal = content, s.terminal("ls", "")
	return s.write(w, "notebook", p)
}

// choose asks of which trial a strip is to be keyed in.
func (s *Server) choose(w http.ResponseWriter, r *http.Request) error {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	var links []link
	for _, e := range entries {
		if e.Kind != notebook.FilmKind && e.Kind != notebook.PaperKind {
			continue
		}
		f := s.kept.get(e)
		if _, err := f.trial(); err == nil {
			links = append(links, link{"/t/" + url.PathEscape(nameOf(e.Name)) + "/strips/new", f.title()})
		}
	}
	if len(links) == 0 {
		http.Redirect(w, r, "/new", http.StatusSeeOther)
		return nil
	}
	p := s.page(r, "Key in a strip", "/")
	says := "Of which trial is it? A strip goes to the film and the development that it is of."
	p.Content = &message{Says: []string{says}, Links: append(links, link{"/new", "Of a new trial"}, link{"/picture", "Read it from a picture"})}
	p.Terminal = s.terminal("enter", "")
	return s.write(w, "message", p)
}
