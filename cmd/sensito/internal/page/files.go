package page

import (
	"fmt"
	"net/http"
	"net/url"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"slices"
	"strings"
)

// rooms are the first part of the address of a file's page, by its kind.
var rooms = map[notebook.Kind]string{notebook.FilmKind: "/t/", notebook.PaperKind: "/p/", notebook.ControlKind: "/control/",
	notebook.RollKind: "/roll/", notebook.TableKind: "/import/"}

// address returns that of the page of a file; "" for one that has none.
func address(e notebook.Entry) string {
	room := rooms[e.Kind]
	if room == "" {
		return ""
	}
	return room + url.PathEscape(nameOf(e.Name))
}

// addresses returns the addresses of the files of a notebook.
func addresses(entries []notebook.Entry) screen.Addresses {
	return func(file string) string {
		i := slices.IndexFunc(entries, func(e notebook.Entry) bool { return e.Name == file })
		if i < 0 {
			return ""
		}
		return address(entries[i])
	}
}

// nameOf returns the name of a file as addresses have it: without the ending that files of
// a notebook have, so that no two files of a folder have the same.
func nameOf(file string) string { return strings.TrimSuffix(file, ".toml") }

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

// file is find with what the file comes to.
func (s *Server) file(name string, kinds ...notebook.Kind) (*file, error) {
	e, err := s.find(name, kinds...)
	if err != nil {
		return nil, err
	}
	return s.kept.get(e), nil
}

// whole puts the notebook together when it may be computed.
func (s *Server) whole(r *http.Request, files []*file) (*listing.Notebook, error) {
	release, err := s.gate.Computing(r.Context())
	if err != nil {
		return nil, err
	}
	defer release()
	return s.kept.notebook(r.Context(), files)
}
