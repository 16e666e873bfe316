package page

import (
	"net/http"
	"path/filepath"
)

// New returns the handler of the notebook in the folder dir.
func New(dir string, gate Gate) (*Server, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	s := &Server{dir: dir, gate: gate, mux: http.NewServeMux()}
	s.route()
	return s, nil
}

// route says which handler answers which address.
func (s *Server) route() {
	s.get("/{$}", s.notebook)
	s.get("/strips/new", s.choose)
	s.get("/t/{trial}", s.trial)
	s.get("/p/{paper}", s.paper)
	s.get("/log", s.log)
	s.get("/help", s.help)
	s.get("/help/{topic}", s.topic)
	s.get("/style.css", s.asset)
	s.post("/look", s.look)
	s.routeKeying()
	s.routeScenes()
	s.mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, &missingError{"There is nothing at this address."})
	})
}
