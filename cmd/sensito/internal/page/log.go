package page

import (
	"net/http"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito/listing"
	"sensito/sensito/logbook"
	"sensito/sensito/notebook"
)

// log answers with what was developed.
func (s *Server) log(w http.ResponseWriter, r *http.Request) error {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	var trials []logbook.Entry
	var controls []logbook.Control
	var broken []listing.Entry
	for _, e := range entries {
		if e.Kind != notebook.FilmKind && e.Kind != notebook.ControlKind {
			continue
		}
		f := s.kept.get(e)
		switch c, err := f.content(); {
		case err != nil:
			broken = append(broken, f.listed())
		case c.control != nil:
			controls = append(controls, logbook.Control{File: e.Name, Log: c.control})
		default:
			trials = append(trials, logbook.Entry{File: e.Name, Trial: c.trial})
		}
	}
	release, err := s.gate.Computing(r.Context())
	if err != nil {
		return err
	}
	defer release()
	log := logbook.New(trials, controls)
	var figure *plot.OnPage
	if len(log.Developments) > 0 {
		figure, err = onPage(func(o plot.Options) (*plot.Figure, error) { return plot.Log(log, o) }, "log")
		if err != nil {
			return err
		}
	}
	p := s.page(r, "What was developed", "/log")
	p.Content, p.Terminal = screen.NewLog(log, broken, figure, addresses(entries)), s.terminal("log", "")
	return s.write(w, "log", p)
}
