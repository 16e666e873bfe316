package page

import (
	"net/http"
	"os"
	"time"

	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/sessions"
	"sensito/sensito/notebook/store"
)

// looked is how often a file is looked at for changes, and lookedSession that of a session,
// which two hands in one darkroom go by.
const (
	looked        = time.Second
	lookedSession = 150 * time.Millisecond
)

// events tells a page what its file holds: an event with the hash of it at the
// beginning and whenever it was saved, by whomever. It is the file of a trial, or that of a
// session.
func (s *Server) events(w http.ResponseWriter, r *http.Request) error {
	path, every, err := s.watched(r)
	if err != nil {
		return err
	}
	stream, err := s.gate.Stream(w, r)
	if err != nil {
		return nil // the page was told
	}
	defer stream.Close()
	tick := time.NewTicker(every)
	defer tick.Stop()
	var seen os.FileInfo
	for {
		info, err := os.Stat(path)
		if err == nil && (seen == nil || !os.SameFile(seen, info) || !seen.ModTime().Equal(info.ModTime()) || seen.Size() != info.Size()) {
			if data, err := store.ReadBytes(path); err == nil {
				if stream.Send("message", keyed.Hash(data)) != nil {
					return nil
				}
				seen = info
			}
		}
		select {
		case <-stream.Context().Done():
			return nil
		case <-tick.C:
		}
	}
}

// watched returns the file that a page goes by, and how often it is looked at.
func (s *Server) watched(r *http.Request) (path string, every time.Duration, err error) {
	if id := r.PathValue("id"); id != "" {
		path, err = sessions.Path(s.dir, id)
		return path, lookedSession, s.missingSession(id, err)
	}
	file, err := s.find(r.URL.Query().Get("file"), notebook.FilmKind, notebook.PaperKind)
	return file.Path, looked, err
}
