package page

import (
	"bytes"
	"context"
	"net/http"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"sensito/cmd/sensito/internal/page/typeset"
	"sensito/sensito/notebook/store"
)

// A Gate is what a server asks of what stands before it.
type Gate interface {
	// FormToken returns what a form of the answer to this request carries.
	FormToken(r *http.Request) string

	// Computing waits until an answer may be computed, and returns what ends that. The
	// error is that of ctx.
	Computing(ctx context.Context) (release func(), err error)

	// Stream begins an answer of events. After an error the page has been told why there
	// is none.
	Stream(w http.ResponseWriter, r *http.Request) (Stream, error)
}

// A Stream is an answer of events, which goes on until the page is left.
type Stream interface {
	// Context ends when the page is left or the server stops.
	Context() context.Context

	// Send sends an event with its data. The error is that nobody takes it.
	Send(event, data string) error

	// Close gives the place of the stream to another.
	Close()
}

// A Server answers for one notebook.
type Server struct {
	dir      string // absolute
	root     *store.Root
	gate     Gate
	mux      *http.ServeMux
	kept     cache
	sent     sent
	pictures *pictureFiles
	now      func() time.Time // the clock on the wall

	starting sync.Mutex // a session
}

// SetNow has the server go by another clock than that on the wall, as tests of a session do.
func (s *Server) SetNow(now func() time.Time) { s.now = now }

// A handler answers a request, or says why it cannot, and has written nothing then.
type handler func(w http.ResponseWriter, r *http.Request) error

func (s *Server) get(pattern string, h handler)  { s.handle("GET "+pattern, h) }
func (s *Server) post(pattern string, h handler) { s.handle("POST "+pattern, h) }

func (s *Server) handle(pattern string, h handler) {
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
}

// Close removes what was sent and not brought in. The error is that of removing it.
func (s *Server) Close() error { return s.sent.close() }

func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.mux.ServeHTTP(w, r) }

// asset answers with a file that pages refer to.
func (s *Server) asset(w http.ResponseWriter, r *http.Request) error {
	data, mediaType, ok := typeset.Asset(filepath.Base(r.URL.Path))
	if !ok {
		return &missingError{"There is no such file."}
	}
	w.Header().Set("Content-Type", mediaType)
	_, err := w.Write(data)
	return err
}

// lookCookie holds the theme that was chosen.
const lookCookie = "look"

// look keeps the theme that was chosen and leads back.
func (s *Server) look(w http.ResponseWriter, r *http.Request) error {
	value := r.PostFormValue("look")
	if !slices.ContainsFunc(typeset.Themes, func(t typeset.Theme) bool { return t.Value == value }) {
		return &badRequestError{"This look is none of the four: as the system, light, dark, red."}
	}
	const year = 365 * 24 * 60 * 60 // seconds
	http.SetCookie(w, &http.Cookie{Name: lookCookie, Value: value, Path: "/", MaxAge: year, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, within(r.PostFormValue("back")), http.StatusSeeOther)
	return nil
}

// within returns an address if it is one of these pages, else that of the notebook.
func within(address string) string {
	if len(address) == 0 || address[0] != '/' || len(address) > 1 && (address[1] == '/' || address[1] == '\\') {
		return "/"
	}
	return address
}

// page returns what every page has, for the answer to a request.
func (s *Server) page(r *http.Request, title, part string) *typeset.Page {
	p := &typeset.Page{Title: title, Notebook: filepath.Base(s.dir), Part: part, Token: s.gate.FormToken(r), Address: r.URL.RequestURI()}
	if c, err := r.Cookie(lookCookie); err == nil && c.Value != typeset.Themes[0].Value {
		for _, t := range typeset.Themes {
			if t.Value == c.Value {
				p.Theme = t.Value
			}
		}
	}
	if r.Method != http.MethodGet {
		p.Address = "/"
	}
	return p
}

// write sets a page by the template of the name.
func (s *Server) write(w http.ResponseWriter, name string, p *typeset.Page) error {
	return s.writeStatus(w, http.StatusOK, name, p)
}

func (s *Server) writeStatus(w http.ResponseWriter, status int, name string, p *typeset.Page) error {
	var b bytes.Buffer
	if err := typeset.Write(&b, name, p); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, err := w.Write(b.Bytes())
	return err
}

// A missingError says that there is nothing at an address.
type missingError struct{ reason string }

func (e *missingError) Error() string { return e.reason }

// A badRequestError says why a request is none that can be answered.
type badRequestError struct{ reason string }

func (e *badRequestError) Error() string { return e.reason }
