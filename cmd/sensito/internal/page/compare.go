package page

import (
	"net/http"
	"slices"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
)

// A compared is the page of a comparison, with the question for another.
type compared struct {
	Compared *screen.Compare // nil where nothing was asked
	Says     string          // why
	Trials   []screen.Choice
	Range    string
}

// compare answers with trials side by side: those of the query, or else those that a
// notebook compares by itself, one film in several developers.
func (s *Server) compare(w http.ResponseWriter, r *http.Request) error {
	q := &ask.Compare{}
	flags, err := askedBy(r, q, "trial")
	if err != nil {
		return err
	}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	n, err := s.whole(r, s.kept.all(entries))
	if err != nil {
		return err
	}
	content := &compared{Range: flags.Lookup("range").Value.String()}
	var files []string
	for _, name := range r.URL.Query()["trial"] {
		e, err := s.find(name, notebook.FilmKind)
		if err != nil {
			return err
		}
		if !slices.Contains(files, e.Name) {
			files = append(files, e.Name)
		}
	}
	if groups := n.Compared(); len(files) == 0 && len(groups) > 0 {
		for _, e := range groups[0] {
			files = append(files, e.File)
		}
	}
	for _, e := range n.Entries {
		if e.Trial != nil && e.Trial.Film() {
			content.Trials = append(content.Trials, screen.Choice{Value: nameOf(e.File), Text: printable.Text(screen.TitleOf(e)), Chosen: slices.Contains(files, e.File)})
		}
	}
	title, terminal := "Trials compared", s.terminal("compare", "")
	switch {
	case len(content.Trials) < 2:
		content.Says = "A comparison takes two trials of film or more, and the notebook has " + map[int]string{0: "none", 1: "one"}[len(content.Trials)] + "."
	case len(files) < 2:
		content.Says = "Choose two trials or more."
	default:
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
		a, err := q.Ask(streams, files)
		if err != nil {
			return err
		}
		figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return a.Figure(o) }, "comparison")
		if err != nil {
			return err
		}
		content.Compared = screen.NewCompare(a.Comparison, figure)
		title, terminal = content.Compared.Title, s.terminal("compare", files...)+flagsOf(flags)
	}
	p := s.page(r, title, "/compare")
	p.Content, p.Terminal = content, terminal
	return s.write(w, "compare", p)
}
