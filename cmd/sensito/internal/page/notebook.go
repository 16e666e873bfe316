package page

import (
	"fmt"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"sensito/sensito/notebook"
)

// A title is one file of the notebook, with the address of its page.
type title struct{ Address, Name, Kind string }

// notebook answers with what is in the notebook.
func (s *Server) notebook(w http.ResponseWriter, r *http.Request) error {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	p := s.page(r, filepath.Base(s.dir), "/")
	var titles []title
	for _, e := range entries {
		if e.Kind != notebook.UnknownKind {
			titles = append(titles, title{address(e), e.Name, e.Kind.String()})
		}
	}
	p.Content, p.Terminal = titles, "sensito ls "+filepath.Base(s.dir)
	return s.write(w, "notebook", p)
}

// rooms are the first part of the address of a file's page, by its kind.
var rooms = map[notebook.Kind]string{notebook.FilmKind: "/t/", notebook.PaperKind: "/p/", notebook.ControlKind: "/control/",
	notebook.RollKind: "/roll/", notebook.ProcedureKind: "/procedure/", notebook.TableKind: "/import/"}

// address returns that of the page of a file.
func address(e notebook.Entry) string { return rooms[e.Kind] + nameOf(e.Name) }

// nameOf returns the name of a file without its ending, as addresses have it.
func nameOf(file string) string { return strings.TrimSuffix(file, filepath.Ext(file)) }

// find returns the file of one of the kinds that an address names. A name is looked up in
// the folder, and never made a path.
func (s *Server) find(name string, kinds ...notebook.Kind) (notebook.Entry, error) {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return notebook.Entry{}, err
	}
	for _, e := range entries {
		if nameOf(e.Name) == name && slices.Contains(kinds, e.Kind) {
			return e, nil
		}
	}
	return notebook.Entry{}, &missingError{fmt.Sprintf("There is no file %q of this kind in the notebook.", name)}
}
