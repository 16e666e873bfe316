package page

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page/keyed"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito/control"
	"sensito/sensito/listing"
	"sensito/sensito/logbook"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
)

// controls leads to the newest control log.
func (s *Server) controls(w http.ResponseWriter, r *http.Request) error {
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	var logs []notebook.Entry
	for _, e := range entries {
		if e.Kind == notebook.ControlKind {
			logs = append(logs, e)
		}
	}
	if len(logs) == 0 {
		p := s.page(r, "No control log", "/control")
		p.Content = &message{Says: []string{"Nothing in the notebook watches a process. A strip exposed always alike and developed now and then tells whether the tank is still in control."},
			Links: []link{{"/help/control-strips", "How to keep one"}}}
		p.Terminal = "sensito help control-strips"
		return s.write(w, "message", p)
	}
	newest := slices.MaxFunc(logs, func(a, b notebook.Entry) int {
		return cmp.Compare(s.kept.get(a).listed().Date(), s.kept.get(b).listed().Date())
	})
	http.Redirect(w, r, address(newest), http.StatusSeeOther)
	return nil
}

// control answers with a control log: whether the process is in control, since when it is
// not, what to do, and charts. What a change means is told by the trial of the query, or else by the
// one of the notebook that tells it most exactly.
func (s *Server) control(w http.ResponseWriter, r *http.Request) error {
	return s.showControl(w, r, url.Values{"date": {ask.Date()}}, nil, http.StatusOK)
}

// showControl is control with what was typed into the form of a further strip, and what is
// wrong with it.
func (s *Server) showControl(w http.ResponseWriter, r *http.Request, typed url.Values, faults keyed.Faults, status int) error {
	f, err := s.file(r.PathValue("log"), notebook.ControlKind)
	if err != nil {
		return err
	}
	c, err := f.content()
	if err != nil {
		return err
	}
	asking := &ask.Control{Read: func(string) (*control.Log, error) { return c.control, nil }}
	q, err := s.asking(r, "control")
	if err != nil {
		return err
	}
	q.files = []string{f.Name}
	if err := q.set(asking); err != nil {
		return err
	}
	if err := s.toldBy(r, q); err != nil {
		return err
	}
	var a *ask.ControlAnswer
	err = s.reading(r, func(from console.Streams) (err error) {
		a, err = asking.Ask(from, f.Name)
		return err
	})
	if err != nil {
		return err
	}
	figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return a.Figure(o) }, "charts")
	if err != nil {
		return err
	}
	p := s.page(r, printable.Text(cmp.Or(c.control.Title(), f.Name)), "/control")
	if p.Address == "/" {
		p.Address = address(f.Entry)
	}
	add := &screen.AddStrip{Address: address(f.Entry), Hash: f.hash(), Fields: addFields(c.control, typed, faults), Fresh: typed.Get(freshField) != "", Fault: faults[""]}
	content := screen.NewControl(a.Evaluation, deviations(a), a.Level, figure, add)
	strips := c.control.Strips()
	if ahead := ask.Ahead(strips[len(strips)-1].Date, ask.Date()); ahead != "" {
		content.Warnings = append(content.Warnings, "The date "+ahead+".")
	}
	p.Content, p.Terminal = content, q.terminal()
	return s.writeStatus(w, status, "control", p)
}

// toldBy has what a change of the process means told by the trial of the notebook that tells
// it most exactly, where the query names none.
func (s *Server) toldBy(r *http.Request, q *query) error {
	if q.flags.Changed("trial") {
		return nil
	}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	n, err := s.whole(r, s.kept.all(entries))
	if err != nil {
		return err
	}
	if by := teller(n, q.files[0]); by != "" {
		return ask.Set(q.flags, "trial", by)
	}
	return nil
}

// teller returns the file of the trial that tells what the change of a process means, ""
// where none does.
func teller(n *listing.Notebook, log string) string {
	for _, e := range n.Entries {
		if e.File == log && e.Control != nil {
			return e.Control.By
		}
	}
	return ""
}

// deviations are what the log of the trial says of the days with a signal.
func deviations(a *ask.ControlAnswer) []control.Deviation {
	if a.Family == nil {
		return nil
	}
	return a.Evaluation.Deviations(a.Family.Trial)
}

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
