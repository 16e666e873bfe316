package page

import (
	"net/http"
	"net/url"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
)

// plan answers with what to test next for a trial, or first for a film that was never
// tested, which it asks for.
func (s *Server) plan(w http.ResponseWriter, r *http.Request) error {
	q := &ask.Plan{}
	flags, err := askedBy(r, q, "trial")
	if err != nil {
		return err
	}
	name := r.URL.Query().Get("trial")
	if name == "" {
		return s.firstTest(w, r, q, flags)
	}
	f, err := s.file(name, notebook.FilmKind)
	if err != nil {
		return err
	}
	t, err := f.trial()
	if err != nil {
		return err
	}
	if !flags.Changed("range") {
		if err := ask.Set(flags, "range", "7"); err != nil {
			return err
		}
	}
	content, err := s.planned(r, q, f.Name)
	if err != nil {
		return err
	}
	value := func(flag string) string { return flags.Lookup(flag).Value.String() }
	form := &screen.NextForm{Trial: name, Title: printable.Text(trialTitle(f, t)), Range: value("range"), Within: value("within")}
	for _, c := range []screen.Choice{{Value: "time", Text: "the time to develop"}, {Value: "ei", Text: "the exposure index"}} {
		c.Chosen = value("wanted") == c.Value
		form.Wanted = append(form.Wanted, c)
	}
	content.Next = form
	p := s.page(r, "What to test next: "+form.Title, "/")
	p.Content, p.Terminal = content, s.terminal("plan", f.Name)+flagsOf(flags)
	return s.write(w, "plan", p)
}

// firstTest plans the first test of a film, as far as it is told.
func (s *Server) firstTest(w http.ResponseWriter, r *http.Request, q *ask.Plan, flags *pflag.FlagSet) error {
	value := func(flag string) string {
		if f := flags.Lookup(flag); f.Changed {
			return f.Value.String()
		}
		return ""
	}
	content := &screen.Plan{Lead: "The times, the exposure of each step and what to read follow from the box of the film and a published time."}
	title, terminal := "Plan a test", `sensito plan --film NAME --speed S --minutes M`
	if flags.Changed("film") && flags.Changed("speed") && flags.Changed("minutes") {
		var err error
		if content, err = s.planned(r, q, ""); err != nil {
			return err
		}
		title, terminal = "A first test of "+printable.Text(value("film")), "sensito plan"+flagsOf(flags)
	}
	form := &screen.FirstForm{Film: value("film"), Speed: value("speed"), Minutes: value("minutes"), Developer: value("developer")}
	for _, c := range []screen.Choice{{Value: string(sensito.Contact), Text: "in contact with a step wedge"}, {Value: string(sensito.Camera), Text: "in the camera, of an even target"}} {
		c.Chosen = flags.Lookup("way").Value.String() == c.Value
		form.Way = append(form.Way, c)
	}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Kind != notebook.FilmKind {
			continue
		}
		f := s.kept.get(e)
		if t, err := f.trial(); err == nil {
			form.Trials = append(form.Trials, screen.Link{Address: "/plan?trial=" + url.QueryEscape(nameOf(e.Name)), Text: printable.Text(trialTitle(f, t))})
		}
	}
	content.First = form
	p := s.page(r, title, "/")
	p.Content, p.Terminal = content, terminal
	return s.write(w, "plan", p)
}

// planned asks the question of a trial of the notebook, or without a file of a first test.
func (s *Server) planned(r *http.Request, q *ask.Plan, file string) (*screen.Plan, error) {
	streams, done, err := s.streams()
	if err != nil {
		return nil, err
	}
	defer done()
	release, err := s.gate.Computing(r.Context())
	if err != nil {
		return nil, err
	}
	defer release()
	a, err := q.Ask(streams, file)
	if err != nil {
		return nil, err
	}
	figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return a.Figure(o) }, "plan")
	if err != nil {
		return nil, err
	}
	if a.First != nil {
		return screen.NewFirstTest(a.First, a.Solution, figure), nil
	}
	return screen.NewNextTest(a.Next, a.Solution, figure), nil
}
