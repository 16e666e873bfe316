package page

import (
	"cmp"
	"net/http"
	"slices"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
)

// A compared is the page of a comparison, with the question for another.
type compared struct {
	Compared *screen.Compare // nil where there is none
	Fault    *screen.Fault   // why
	Says     string          // what is wanted for one; "" where a Fault says it
	Trials   []screen.Option
	Range    string
}

// compare answers with trials side by side: those of the query, or else those that a
// notebook compares by itself, one film in several developers.
func (s *Server) compare(w http.ResponseWriter, r *http.Request) error {
	asking := &ask.Compare{}
	q, err := s.asking(r, "compare")
	if err != nil {
		return err
	}
	q.values.Del("trial")
	fault := q.set(asking)
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	n, err := s.whole(r, s.kept.all(entries))
	if err != nil {
		return err
	}
	for _, name := range r.URL.Query()["trial"] {
		e, err := s.find(name, notebook.FilmKind)
		if err != nil {
			return err
		}
		if !slices.Contains(q.files, e.Name) {
			q.files = append(q.files, e.Name)
		}
	}
	if groups := n.Compared(); len(q.files) == 0 && len(groups) > 0 {
		for _, e := range groups[0] {
			q.files = append(q.files, e.File)
		}
	}
	content := &compared{Trials: trialOptions(n, q.files), Range: plainValue(q.values, "range", q.flags.Lookup("range").DefValue)}
	p, status := s.page(r, "Trials compared", "/compare"), http.StatusOK
	p.Content, p.Terminal = content, s.terminal("compare", "")
	switch {
	case len(content.Trials) < 2:
		content.Says = "A comparison takes two trials of film or more."
	case len(q.files) < 2:
		content.Says = "Choose two trials or more."
	default:
		p.Terminal = q.terminal()
		if content.Compared, err = s.comparison(r, q, fault, asking); err != nil {
			if status, content.Fault, err = s.refused(r, "They cannot be compared.", err); err != nil {
				return err
			}
			break
		}
		p.Title = content.Compared.Title
	}
	return s.writeStatus(w, status, "compare", p)
}

// comparison answers the question, unless it was refused.
func (s *Server) comparison(r *http.Request, q *query, refused error, asking *ask.Compare) (*screen.Compare, error) {
	if refused != nil {
		return nil, refused
	}
	var out *screen.Compare
	err := s.reading(r, func(from console.Streams) error {
		a, err := asking.Ask(from, q.files)
		if err != nil {
			return err
		}
		figure, err := onPage(func(o plot.Options) (*plot.Figure, error) { return a.Figure(o) }, "comparison")
		if err != nil {
			return err
		}
		out = screen.NewCompare(a.Comparison, figure)
		return nil
	})
	return out, err
}

// trialOptions are the trials of film of a notebook, those of the files chosen first and in
// their order: the first is what the others are held against when the form is sent.
func trialOptions(n *listing.Notebook, files []string) []screen.Option {
	var out []screen.Option
	for _, e := range n.Entries {
		if e.Trial != nil && e.Trial.Film() {
			out = append(out, screen.Option{Value: nameOf(e.File), Text: printable.Text(screen.TitleOf(e)), Chosen: slices.Contains(files, e.File)})
		}
	}
	place := func(o screen.Option) int {
		if !o.Chosen {
			return len(files)
		}
		return slices.IndexFunc(files, func(file string) bool { return nameOf(file) == o.Value })
	}
	slices.SortStableFunc(out, func(a, b screen.Option) int { return cmp.Compare(place(a), place(b)) })
	return out
}
