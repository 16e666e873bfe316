package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/paper"
	"sensito/sensito/printable"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// routeScenes registers what is asked of a scene, and what is printed of its answer.
func (s *Server) routeScenes() {
	s.get("/scene", s.scene)
	s.get("/tone", s.tone)
	s.get("/family", s.family)
	s.get("/roll/{file}", s.roll)
	s.get("/card", s.card)
	s.get("/card.pdf", s.cardPDF)
	s.get("/sheet", s.sheet)
	s.get("/sheet.pdf", s.sheetPDF)
	s.get("/page.js", s.asset)
	s.get("/scene.js", s.asset)
	s.get("/print.js", s.asset)
}

// scene answers how to expose and develop for a scene, or for a roll of scenes.
func (s *Server) scene(w http.ResponseWriter, r *http.Request) error {
	if done, err := s.begun(w, r, usualRange()); done || err != nil {
		return err
	}
	asking := &ask.Scene{}
	q, fault := s.query(r, "scene", asking)
	if q == nil {
		return fault
	}
	p := s.page(r, "A scene", "/scene")
	if stops, err := strconv.ParseFloat(q.values.Get("range"), 64); err == nil && stops > 0 && stops < 1000 {
		p.Title = screen.SceneTitle(stops)
	}
	var content *screen.Scene
	status := http.StatusOK
	switch a, err := q.ask(r, fault, asking); {
	case q.unsaid():
		content = &screen.Scene{Says: []string{"Fill in the fields below."}}
	case err != nil:
		if status, content, err = s.unanswered(r, q, err); err != nil {
			return err
		}
		if a, err := q.trialName(); err == nil {
			content.Lead = []screen.Run{{Text: a, Address: address(q.trial)}}
		}
	default:
		asked, err := q.sceneAsked(r, a.(*ask.SceneAnswer))
		if err != nil {
			return err
		}
		if asked.Roll != nil {
			p.Title = screen.RollTitle(asked.Roll)
		} else {
			p.Title = screen.SceneTitle(asked.Answer.Scene.Stops)
		}
		content = screen.NewScene(*asked)
	}
	offers, err := s.offers(q)
	if err != nil {
		return err
	}
	content.Asking = screen.NewAsking(q.asked("/scene", offers))
	p.Content, p.Terminal = content, q.terminal()
	return s.writeStatus(w, status, "scene", p)
}

// unsaid says that a query begins with a form that is empty.
func (q *query) unsaid() bool {
	return !slices.ContainsFunc(append(sceneFlags, "minutes"), func(k string) bool { return q.values.Get(k) != "" })
}

// trialName returns the name of the trial of the query.
func (q *query) trialName() (string, error) {
	t, err := q.server.kept.get(q.trial).trial()
	if err != nil {
		return "", err
	}
	return printable.Text(t.Name()), nil
}

// sceneAsked puts together what the screen of an answer is made of.
func (q *query) sceneAsked(r *http.Request, a *ask.SceneAnswer) (*screen.SceneAsked, error) {
	out := &screen.SceneAsked{Answer: a.Answer, Roll: a.Roll, Level: a.Level}
	if a.Roll == nil && !q.values.Has("control") {
		out.Beside = q.server.beside(a.Answer.Family)
	}
	out.Links = q.sceneLinks(a, out.Beside)
	rep, err := a.Report()
	if err != nil {
		return nil, err
	}
	switch rep := rep.(type) {
	case *report.Scene:
		out.Words = rep.Words()
	case *report.Roll:
		out.Words = rep.Words()
	}
	if out.Links.Correct != "" {
		out.Corrected = q.corrected(r, out.Beside.File)
	}
	if b := out.Beside; b != nil {
		out.Words.Warnings = append(slices.Clone(out.Words.Warnings), b.Warnings...)
	}
	out.Tones, err = onPage(a.Figure, "tones")
	return out, err
}

// sceneLinks are where the page of an answer leads to.
func (q *query) sceneLinks(a *ask.SceneAnswer, b *listing.Beside) screen.SceneLinks {
	l := screen.SceneLinks{Trial: address(q.trial), Develop: q.with("/session"), Card: q.of("/card", &ask.Card{}), Sheet: q.of("/sheet", &ask.Sheet{}),
		Place: q.with("/scene", "shadow-stops", plainValue(q.values, "shadow-stops", "4")) + "#more"}
	if a.Roll != nil {
		return l
	}
	if q.command == "scene" && q.values.Has("paper") && q.values.Has("range") && a.Answer.AtIndex == nil {
		l.Tone = q.of("/tone", &ask.Tone{})
	}
	if a.Answer.AtIndex != nil { // whose time a session takes as one that is chosen
		chosen := []string{"minutes", a.Answer.Minutes.Value.Clock(5)}
		for key := range q.values {
			if !slices.Contains([]string{"at", "ends-at", "agitation", "dilution", "confidence"}, key) {
				chosen = append(chosen, key, "")
			}
		}
		l.Develop, l.Sheet = q.with("/session", chosen...), q.with("/sheet", chosen...)
		if a.Answer.AtIndex.Exposed {
			l.Card = ""
		}
	}
	empty := func(keys ...string) string {
		text := q.with("/scene", "range", "", "shadow", "", "highlight", "", "roll", "", "meter-index", "", "aperture", "", "time", "", "filter", "", "extension", "", "focal", "")
		for _, key := range keys {
			text += "&" + key + "="
		}
		return text
	}
	if q.values.Get("range") != "" {
		l.Spots = empty("shadow", "highlight")
	} else {
		l.Range = empty() + "&range=" + strconv.FormatFloat(usualScene().Stops, 'g', -1, 64)
	}
	if b != nil && b.Drift != nil {
		if at, err := q.server.find(nameOf(b.File), notebook.ControlKind); err == nil {
			l.Log = address(at)
			if answers.MovesTime(b.Drift.Control) {
				l.Correct = q.with("/scene", "control", nameOf(b.File), "correct", "true")
			}
		}
	}
	return l
}

// plainValue returns the value of a key, or the usual one.
func plainValue(values url.Values, key, usual string) string {
	if v := values.Get(key); v != "" {
		return v
	}
	return usual
}

// corrected answers the same for the process by the control log beside the trial, nil where
// that cannot be told.
func (q *query) corrected(r *http.Request, log string) *scene.Answer {
	c, err := q.otherwise(r, "control", nameOf(log), "correct", "true")
	if err != nil {
		return nil
	}
	return c.Answer
}

// otherwise answers the query with some values otherwise, as with has them.
func (q *query) otherwise(r *http.Request, pairs ...string) (*ask.SceneAnswer, error) {
	to, err := http.NewRequestWithContext(r.Context(), http.MethodGet, q.with("/scene", pairs...), nil)
	if err != nil {
		return nil, err
	}
	asking := &ask.Scene{}
	other, err := q.server.query(to, "scene", asking)
	if err != nil {
		return nil, err
	}
	a, err := other.ask(to, nil, asking)
	if err != nil {
		return nil, err
	}
	return a.(*ask.SceneAnswer), nil
}

// unanswered says why there is no answer, and which question nearby has one. The error is
// that of refused.
func (s *Server) unanswered(r *http.Request, q *query, err error) (int, *screen.Scene, error) {
	status, fault, err := s.refused(r, "No time serves.", err)
	if err != nil {
		return 0, nil, err
	}
	if u := (*sensito.Unanswerable)(nil); errors.As(fault.Err, &u) {
		fault.Links = s.nearby(r, q, u)
	}
	return status, &screen.Scene{Fault: fault}, nil
}

// refused says why there is no answer, beginning with says where the data have none. The
// error is one that has a page of its own.
func (s *Server) refused(r *http.Request, says string, err error) (int, *screen.Fault, error) {
	switch {
	case context.Cause(r.Context()) != nil:
		return 0, nil, err
	case errors.As(err, new(console.UsageError)), errors.As(err, new(*missingError)):
		return http.StatusBadRequest, screen.NewFault("This cannot be asked.", err), nil
	case errors.As(err, new(*sensito.Unanswerable)):
		return http.StatusUnprocessableEntity, screen.NewFault(says, err), nil
	}
	return 0, nil, err
}

// nearby returns links to questions that have an answer, each with its time: the nearest
// range, the nearest grade, and where the question went another way.
func (s *Server) nearby(r *http.Request, q *query, why *sensito.Unanswerable) []screen.Action {
	var out []screen.Action
	try := func(about string, pairs ...string) bool {
		a, err := q.otherwise(r, pairs...)
		if err != nil || a.Answer == nil {
			return false
		}
		text := fmt.Sprintf("%s: %s", about, a.Answer.Minutes.Value.Clock(5))
		out = append(out, screen.Action{Address: q.with("/scene", pairs...), Text: printable.Text(text)})
		return true
	}
	switch why.Way {
	case sensito.AnyTemperature:
		try("At that temperature all the same", "force-temperature", "true")
	case sensito.Uncorrected:
		try("Not corrected", "correct", "")
	}
	if len(out) > 0 {
		return out
	}
	if _, err := s.kept.get(q.trial).family(); err != nil {
		return out
	}
	const half, farthest = 0.5, 12 // halves of a stop
	if stops, err := strconv.ParseFloat(q.values.Get("range"), 64); err == nil {
		for i := 1; i <= farthest; i++ {
			text := func(sign float64) string { return strconv.FormatFloat(stops+sign*half*float64(i), 'f', -1, 64) }
			if try("A scene of "+text(-1)+" stops", "range", text(-1)) || try("A scene of "+text(1)+" stops", "range", text(1)) {
				break
			}
		}
	}
	if q.values.Get("scan") == "" {
		for _, aim := range s.grades(q.values.Get("paper")) {
			if try("On "+aim.Text, "paper", aim.paper, "grade", aim.grade, "density-range", "") {
				break
			}
		}
	}
	return out
}

// An aim is a grade that a negative may be to suit.
type aim struct{ Text, paper, grade string }

// grades returns the grades of the paper of a name, or for "" those of the published table.
func (s *Server) grades(of string) []aim {
	var out []aim
	if of == "" {
		for _, g := range paper.GradeTable() {
			out = append(out, aim{"grade " + g.Name, "", g.Name})
		}
		return out
	}
	e, err := s.find(of, notebook.PaperKind)
	if err != nil {
		return nil
	}
	t, err := s.kept.get(e).trial()
	if err != nil {
		return nil
	}
	for _, strip := range t.Strips() {
		text := printable.Text(t.Film().Name)
		if strip.Grade() != "" {
			text += ", grade " + printable.Text(strip.Grade())
		}
		out = append(out, aim{text, of, strip.Grade()})
	}
	return out
}

// asked is what a form of a page is made of.
func (q *query) asked(action string, offers screen.Offers) screen.Asked {
	values := url.Values{"trial": {nameOf(q.trial.Name)}}
	for key, v := range q.values {
		values[key] = v
	}
	return screen.Asked{Action: action, Values: values, Known: func(flag string) bool { return q.flags.Lookup(flag) != nil }, Offers: offers}
}

// offers returns what the notebook has to choose from.
func (s *Server) offers(q *query) (screen.Offers, error) {
	var o screen.Offers
	entries, err := notebook.List(s.dir)
	if err != nil {
		return o, err
	}
	o.Logs = []screen.Option{{Text: "no control log"}}
	o.Rolls = []screen.Option{{Text: "choose"}}
	o.Procedures = []screen.Option{{Text: "the usual steps"}}
	papers := []aim{}
	for _, e := range entries {
		name := nameOf(e.Name)
		if printable.Text(name) != name { // which no form can send
			continue
		}
		option := screen.Option{Value: name, Text: name}
		switch e.Kind {
		case notebook.FilmKind:
			option.Text = printable.Text(s.kept.get(e).title())
			o.Films = append(o.Films, option)
		case notebook.PaperKind:
			papers = append(papers, s.grades(name)...)
		case notebook.ControlKind:
			o.Logs = append(o.Logs, option)
		case notebook.RollKind:
			o.Rolls = append(o.Rolls, option)
		case notebook.ProcedureKind:
			o.Procedures = append(o.Procedures, option)
		}
	}
	o.Aims = q.aims(append(papers, s.grades("")...))
	return o, nil
}

// aims returns what a negative may be to suit, the one of the query being chosen.
func (q *query) aims(grades []aim) []screen.Option {
	out := []screen.Option{{Text: "the usual paper, a density range of 1.05"}}
	is := 0
	for _, g := range grades {
		values := url.Values{}
		for key, v := range map[string]string{"paper": g.paper, "grade": g.grade} {
			if v != "" {
				values.Set(key, v)
			}
		}
		if values.Get("paper") == q.values.Get("paper") && values.Get("grade") == q.values.Get("grade") {
			is = len(out)
		}
		text := g.Text
		if g.paper == "" {
			text += " of the published table"
		}
		out = append(out, screen.Option{Value: values.Encode(), Text: text})
	}
	own := []struct{ key, usual, text string }{{"density-range", "1.05", "a density range of its own"}, {"scan", "2.00", "nothing: a scan"}}
	for _, o := range own {
		if q.values.Has(o.key) {
			is = len(out)
		}
		out = append(out, screen.Option{Value: url.Values{o.key: {o.usual}}.Encode(), Text: o.text})
	}
	if asked := (url.Values{"paper": q.values["paper"], "grade": q.values["grade"]}); is == 0 && (q.values.Has("paper") || q.values.Has("grade")) {
		is = len(out) // as it was asked, and refused
		out = append(out, screen.Option{Value: asked.Encode(), Text: printable.Text(q.values.Get("paper") + " grade " + q.values.Get("grade"))})
	}
	out[is].Chosen = true
	return out
}

// roll leads to the scenes of a roll.
func (s *Server) roll(w http.ResponseWriter, r *http.Request) error {
	e, err := s.find(r.PathValue("file"), notebook.RollKind)
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/scene?roll="+url.QueryEscape(nameOf(e.Name)), http.StatusSeeOther)
	return nil
}
