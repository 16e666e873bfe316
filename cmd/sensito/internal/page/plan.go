package page

import (
	"net/http"
	"net/url"
	"strconv"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
)

// plan answers with what to test next for a trial, or first for a film that was never
// tested, which it asks for.
func (s *Server) plan(w http.ResponseWriter, r *http.Request) error {
	if r.URL.Query().Get("trial") == "" {
		return s.firstTest(w, r)
	}
	asking := &ask.Plan{}
	q, fault := s.query(r, "plan", asking)
	if q == nil {
		return fault
	}
	if !q.flags.Changed("range") && fault == nil {
		fault = ask.Set(q.flags, "range", strconv.FormatFloat(usualScene().Stops, 'g', -1, 64))
	}
	f := s.kept.get(q.trial)
	if _, err := f.trial(); err != nil {
		return err
	}
	content, status, err := s.planned(r, fault, asking, q.trial.Name)
	if err != nil {
		return err
	}
	title := f.title()
	content.Next = &screen.NextForm{Trial: nameOf(q.trial.Name), Title: title, Range: plainValue(q.values, "range", "7"), Within: plainValue(q.values, "within", "5%"),
		Wanted: chosen(plainValue(q.values, "wanted", "time"), "time", "the time to develop", "ei", "the exposure index")}
	p := s.page(r, "What to test next: "+title, "/")
	p.Content, p.Terminal = content, q.terminal()
	return s.writeStatus(w, status, "plan", p)
}

// firstTest plans the first test of a film, as far as it is told.
func (s *Server) firstTest(w http.ResponseWriter, r *http.Request) error {
	asking := &ask.Plan{}
	q, err := s.asking(r, "plan")
	if err != nil {
		return err
	}
	q.values.Del("trial")
	fault := q.set(asking)
	content, status := &screen.Plan{Lead: "The times, the exposure of each step and what to read follow from the box of the film and a published time."}, http.StatusOK
	p := s.page(r, "Plan a test", "/")
	p.Terminal = "sensito plan --film NAME --speed S --minutes M"
	if len(q.values) > 0 {
		if content, status, err = s.planned(r, fault, asking, ""); err != nil {
			return err
		}
		if content.Fault == nil {
			p.Title, p.Terminal = "A first test of "+printable.Text(q.values.Get("film")), q.terminal()
		}
	}
	value := func(key string) string { return printable.Text(q.values.Get(key)) }
	form := &screen.FirstForm{Film: value("film"), Speed: value("speed"), Minutes: value("minutes"), Developer: value("developer"),
		Way: chosen(plainValue(q.values, "way", string(sensito.Contact)), string(sensito.Contact), "in contact with a step wedge", string(sensito.Camera), "in the camera, of an even target")}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Kind != notebook.FilmKind {
			continue
		}
		f := s.kept.get(e)
		if _, err := f.trial(); err == nil {
			form.Trials = append(form.Trials, screen.Action{Address: "/plan?trial=" + url.QueryEscape(nameOf(e.Name)), Text: f.title()})
		}
	}
	content.First = form
	p.Content = content
	return s.writeStatus(w, status, "plan", p)
}

// chosen returns options, whose values and texts are given in turn, with the one of a value
// chosen.
func chosen(value string, pairs ...string) []screen.Option {
	var out []screen.Option
	for i := 0; i+1 < len(pairs); i += 2 {
		out = append(out, screen.Option{Value: pairs[i], Text: pairs[i+1], Chosen: pairs[i] == value})
	}
	return out
}

// planned answers the question of a trial of the notebook, or without a file of a first
// test; where there is no answer the screen says why, and the status is that.
func (s *Server) planned(r *http.Request, refused error, asking *ask.Plan, file string) (*screen.Plan, int, error) {
	var out *screen.Plan
	err := refused
	if err == nil {
		err = s.reading(r, func(from console.Streams) error {
			a, err := asking.Ask(from, file)
			if err != nil {
				return err
			}
			figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return a.Figure(o) }, "plan")
			switch {
			case err != nil:
			case a.First != nil:
				out = screen.NewFirstTest(a.First, a.Solution, figure)
			default:
				out = screen.NewNextTest(a.Next, a.Solution, figure)
			}
			return err
		})
	}
	if err == nil {
		return out, http.StatusOK, nil
	}
	status, fault, err := s.refused(r, "No test can be planned.", err)
	return &screen.Plan{Fault: fault}, status, err
}
