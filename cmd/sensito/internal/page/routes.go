package page

import (
	"net/http"
	"path/filepath"
	"time"

	"sensito/sensito/notebook/store"
)

// New returns the handler of the notebook in the folder dir.
func New(dir string, gate Gate) (*Server, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	root, err := store.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	s := &Server{dir: dir, root: root, gate: gate, mux: http.NewServeMux(), kept: cache{root: root}, pictures: newPictureFiles(root), now: time.Now}
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
	s.get("/favicon.ico", noIcon)
	s.post("/look", s.look)
	s.routeKeying()
	s.routeScenes()
	s.get("/compare", s.compare)
	s.get("/control", s.controls)
	s.get("/control/{log}", s.control)
	s.post("/control/{log}", s.addControl)
	s.get("/plan", s.plan)
	s.routeSession()
	s.routePictures()
	s.mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, &missingError{"There is nothing at this address."})
	})
}

// routeKeying says which handler answers which address of keying in.
func (s *Server) routeKeying() {
	s.get("/key.js", s.asset)
	s.get("/events", s.events)
	s.get("/new", s.newTrial)
	s.get("/import", s.bring)
	s.post("/import", s.receive)
	s.get("/import/{file}", s.taken)
	s.post("/import/{file}", s.bringIn)
	s.post("/t", s.createTrial)
	s.get("/t/{trial}/change", s.change)
	s.post("/t/{trial}/change", s.changeFacts)
	s.get("/t/{trial}/strips/new", s.newStrip)
	s.post("/t/{trial}/strips/new", s.beginStrip)
	s.get("/t/{trial}/strips/{n}", s.desk)
	s.get("/t/{trial}/strips/{n}/{step}", s.desk)
	s.post("/t/{trial}/strips/{n}/{step}", s.key)
	s.post("/t/{trial}/strips/{n}", s.amend)
	s.get("/t/{trial}/strips/{n}/delete", s.askDelete)
	s.post("/t/{trial}/strips/{n}/delete", s.deleteStrip)
	s.post("/t/{trial}/undo", s.undo)
}

// noIcon answers a browser that asks for the picture of the site: there is none.
func noIcon(w http.ResponseWriter, r *http.Request) error {
	w.WriteHeader(http.StatusNoContent)
	return nil
}
