package page

import (
	"net/http"
	"os"
	"time"

	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// looked is how often a file is looked at for changes.
const looked = time.Second

// events tells a page of a trial what the file of the trial holds: an event "changed"
// with its hash at the beginning and whenever the file was saved, by whomever.
func (s *Server) events(w http.ResponseWriter, r *http.Request) error {
	file, err := s.find(r.URL.Query().Get("file"), notebook.FilmKind, notebook.PaperKind)
	if err != nil {
		return err
	}
	stream, err := s.gate.Stream(w, r)
	if err != nil {
		return nil // the page was told
	}
	defer stream.Close()
	tick := time.NewTicker(looked)
	defer tick.Stop()
	var seen os.FileInfo
	for {
		info, err := os.Stat(file.Path)
		if err == nil && (seen == nil || !os.SameFile(seen, info) || !seen.ModTime().Equal(info.ModTime()) || seen.Size() != info.Size()) {
			if data, err := store.ReadBytes(file.Path); err == nil {
				if stream.Send("changed", keyed.Hash(data)) != nil {
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
