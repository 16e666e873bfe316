package page

import (
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
)

// tone answers how a scene comes through film and paper to the print.
func (s *Server) tone(w http.ResponseWriter, r *http.Request) error {
	paper, err := s.usualPaper(r.URL.Query())
	if err != nil {
		return err
	}
	if len(paper) > 0 { // an address that can be kept
		maps.Copy(paper, usualRange())
		for key, values := range r.URL.Query() {
			if strings.Join(values, "") != "" {
				paper[key] = values
			}
		}
		return seeOther(w, r, "/tone", paper)
	}
	if done, err := s.begun(w, r, usualRange()); done || err != nil {
		return err
	}
	return s.overTime(w, r, "tone", "A scene in the print", &ask.Tone{}, func(q *query, a ask.Answer) (*screen.Scene, error) {
		found := a.(*ask.ToneAnswer)
		asked, err := q.sceneAsked(r, &ask.SceneAnswer{Answer: found.Reproduction.Answer, Level: found.Level})
		if err != nil {
			return nil, err
		}
		if asked.Tones, err = onPage(found.Figure, "tone"); err != nil {
			return nil, err
		}
		return screen.NewTone(*asked, found.Reproduction), nil
	})
}

// usualPaper returns what says a paper where a query says none: the first of the notebook,
// or the one that is said, of the grade in its middle. It is empty where there is none, and
// where nothing is to be said.
func (s *Server) usualPaper(asked url.Values) (url.Values, error) {
	if asked.Has(choice) || asked.Get("paper") != "" && asked.Has("grade") {
		return nil, nil
	}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		name := nameOf(e.Name)
		if e.Kind != notebook.PaperKind || asked.Get("paper") != "" && asked.Get("paper") != name {
			continue
		}
		grades := s.grades(name)
		if len(grades) == 0 || len(grades) == 1 && asked.Get("paper") != "" {
			continue
		}
		paper := url.Values{"paper": {name}}
		if middle := grades[len(grades)/2].grade; middle != "" {
			paper.Set("grade", middle)
		} else if asked.Get("paper") != "" {
			return nil, nil
		}
		return paper, nil
	}
	return nil, nil
}

// family answers how contrast, speed and fog of a film go with development time.
func (s *Server) family(w http.ResponseWriter, r *http.Request) error {
	if done, err := s.begun(w, r, url.Values{}); done || err != nil {
		return err
	}
	return s.overTime(w, r, "family", "A film over time", &ask.Family{}, func(q *query, a ask.Answer) (*screen.Scene, error) {
		found := a.(*ask.FamilyAnswer)
		rep, err := a.Report()
		if err != nil {
			return nil, err
		}
		asked := screen.FamilyAsked{Family: found.Family, Today: found.Today, Mark: found.Mark, Level: found.Level, Warnings: rep.(*report.Family).Notices(), Trial: address(q.trial)}
		drawn, err := onPage(func(o plot.Options) (*plot.Figure, error) { return found.Figure(o) }, "family")
		if err != nil {
			return nil, err
		}
		asked.Drawn = drawn
		return screen.NewFamily(asked)
	})
}

// overTime answers a question of a film on a page like that of a scene, made by content of
// what was found.
func (s *Server) overTime(w http.ResponseWriter, r *http.Request, command, title string, asking question, content func(*query, ask.Answer) (*screen.Scene, error)) error {
	q, fault := s.query(r, command, asking)
	if q == nil {
		return fault
	}
	p, status := s.page(r, title, "/scene"), http.StatusOK
	a, err := q.ask(r, fault, asking)
	var found *screen.Scene
	if err == nil {
		found, err = content(q, a)
	}
	if err != nil {
		found = &screen.Scene{}
		if status, found.Fault, err = s.refused(r, "The strips cannot tell.", err); err != nil {
			return err
		}
	}
	offers, err := s.offers(q)
	if err != nil {
		return err
	}
	if command == "tone" { // whose paper must have been tested
		offers.Aims = slices.DeleteFunc(offers.Aims, func(o screen.Option) bool { return !strings.Contains(o.Value, "paper=") && !o.Chosen })
	}
	found.Asking = screen.NewAsking(q.asked("/"+command, offers))
	p.Content, p.Terminal = found, q.terminal()
	return s.writeStatus(w, status, "scene", p)
}
