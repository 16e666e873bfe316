package page

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito/control"
	"sensito/sensito/listing"
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
		p.Content = &message{Says: []string{"Nothing in the notebook watches a process. A strip exposed always alike and developed now and then tells whether the tank is still where it was."},
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

// control answers with a control log: whether the process is where it was, since when, what
// to do, and charts. What a change means is told by the trial of the query, or else by the
// one of the notebook that tells it most exactly.
func (s *Server) control(w http.ResponseWriter, r *http.Request) error {
	f, err := s.file(r.PathValue("log"), notebook.ControlKind)
	if err != nil {
		return err
	}
	c, err := f.content()
	if err != nil {
		return err
	}
	q := &ask.Control{Read: func(string) (*control.Log, error) { return c.control, nil }}
	flags, err := askedBy(r, q, "trial")
	if err != nil {
		return err
	}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	by := ""
	if name := r.URL.Query().Get("trial"); name != "" {
		e, err := s.find(name, notebook.FilmKind)
		if err != nil {
			return err
		}
		by = e.Name
	} else {
		n, err := s.whole(r, s.kept.all(entries))
		if err != nil {
			return err
		}
		by = teller(n, f.Name)
	}
	terminal := s.terminal("control", f.Name) + flagsOf(flags)
	if by != "" {
		if err := ask.Set(flags, "trial", by); err != nil {
			return err
		}
		terminal += " --trial " + s.inTerminal(by)
	}
	streams, done, err := s.streams()
	if err != nil {
		return err
	}
	defer done()
	release, err := s.gate.Computing(r.Context())
	if err != nil {
		return err
	}
	defer release()
	a, err := q.Ask(streams, f.Name)
	if err != nil {
		return err
	}
	figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return a.Figure(o) }, "charts")
	if err != nil {
		return err
	}
	p := s.page(r, printable.Text(cmp.Or(c.control.Title(), f.Name)), "/control")
	add := &screen.AddStrip{Address: address(f.Entry), Hash: f.hash(), Date: time.Now().Format(time.DateOnly), Patches: screen.FurtherPatches(c.control)}
	p.Content = screen.NewControl(a.Evaluation, deviations(a), a.Level, figure, add)
	p.Terminal = terminal
	return s.write(w, "control", p)
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
