package page

import (
	"bytes"
	"mime"
	"net/http"
	"strings"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito/report"
)

// card answers with a card for the camera bag, or its times over temperature.
func (s *Server) card(w http.ResponseWriter, r *http.Request) error {
	if done, err := s.begun(w, r, nil); done || err != nil {
		return err
	}
	asking := &ask.Card{Made: ask.Date()}
	q, fault := s.query(r, "card", asking)
	if q == nil {
		return fault
	}
	content, status := &screen.Card{}, http.StatusOK
	switch a, err := q.ask(r, fault, asking); {
	case err != nil:
		if status, content.Fault, err = s.refused(r, "No card can be made.", err); err != nil {
			return err
		}
	default:
		var err error
		if content, err = q.cardScreen(a.(*ask.CardAnswer), asking.Made); err != nil {
			return err
		}
	}
	offers, err := s.offers(q)
	if err != nil {
		return err
	}
	content.Asking = screen.NewAsking(q.asked("/card", offers))
	p := s.page(r, "Card for the camera bag", "/card")
	if q.values.Has("temperatures") {
		p.Title = "Times over temperature"
	}
	p.Content, p.Terminal = content, q.terminal()
	return s.writeStatus(w, status, "card", p)
}

// cardScreen returns the screen of a card.
func (q *query) cardScreen(a *ask.CardAnswer, made string) (*screen.Card, error) {
	out := screen.CardAsked{Card: a.Card, Temperatures: a.Temperatures, Words: report.NewCard(a.Card, a.Level, a.Dated).Words(), Made: made, Trial: address(q.trial)}
	rep, err := a.Report()
	if err != nil {
		return nil, err
	}
	switch rep := rep.(type) {
	case *report.Card:
		for _, page := range plot.Pages() {
			out.Actions = append(out.Actions, screen.Action{Address: q.with("/card.pdf", "page", page.Name), Text: "PDF, " + pageName(page)})
		}
		if a.Card.Family.Trial.Process().TemperatureC != 0 {
			out.Actions = append(out.Actions, screen.Action{Address: q.with("/card", "temperatures", "true", "at", "", "ends-at", "", "q10", "", "q10-sd", "", "force-temperature", "", "page", ""), Text: "With temperatures"})
		}
	case *report.Temperatures:
		out.Words.Warnings = rep.Notices()
		out.Actions = []screen.Action{{Address: q.with("/card.pdf"), Text: "PDF, a chart"}, {Address: q.with("/card", "temperatures", ""), Text: "The card"}}
	}
	return screen.NewCard(out), nil
}

// pageName is what a page is called where it is chosen.
func pageName(p plot.Page) string {
	if p.Name == "index" {
		return "index card"
	}
	return strings.ToUpper(p.Name[:1]) + p.Name[1:]
}

// sheet answers with the process sheet of a session.
func (s *Server) sheet(w http.ResponseWriter, r *http.Request) error {
	if done, err := s.begun(w, r, usualRange()); done || err != nil {
		return err
	}
	asking := &ask.Sheet{Made: ask.Date()}
	q, fault := s.query(r, "sheet", asking)
	if q == nil {
		return fault
	}
	content, status := &screen.Sheet{}, http.StatusOK
	switch a, err := q.ask(r, fault, asking); {
	case q.unsaid():
		content.Says = []string{"Fill in the fields below."}
	case err != nil:
		if status, content.Fault, err = s.refused(r, "No sheet can be made.", err); err != nil {
			return err
		}
	default:
		a := a.(*ask.SheetAnswer)
		var actions []screen.Action
		for _, page := range plot.SheetPages() {
			actions = append(actions, screen.Action{Address: q.with("/sheet.pdf", "page", page.Name), Text: "PDF, " + pageName(page)})
		}
		content = screen.NewSheet(screen.SheetAsked{Sheet: a.Sheet, Level: a.Level, Warnings: report.NewSheet(a.Sheet, a.Level).Notices(), Cautions: report.Cautions(), Trial: address(q.trial), Actions: actions})
	}
	offers, err := s.offers(q)
	if err != nil {
		return err
	}
	content.Asking = screen.NewAsking(q.asked("/sheet", offers))
	p := s.page(r, "Process sheet", "/session")
	p.Content, p.Terminal = content, q.terminal()
	return s.writeStatus(w, status, "sheet", p)
}

// cardPDF and sheetPDF answer with the file that is printed.
func (s *Server) cardPDF(w http.ResponseWriter, r *http.Request) error {
	return s.pdf(w, r, "card", &ask.Card{Made: ask.Date()})
}

func (s *Server) sheetPDF(w http.ResponseWriter, r *http.Request) error {
	return s.pdf(w, r, "sheet", &ask.Sheet{Made: ask.Date()})
}

func (s *Server) pdf(w http.ResponseWriter, r *http.Request, command string, asking question) error {
	q, err := s.query(r, command, asking)
	if err != nil {
		return err
	}
	a, err := q.ask(r, nil, asking)
	if err != nil {
		return err
	}
	fig, err := a.Figure(plot.Options{})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := plot.Write(&b, fig, plot.PDF); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": nameOf(q.trial.Name) + "-" + command + ".pdf"}))
	_, err = w.Write(b.Bytes())
	return err
}
