package page

import (
	"net/http"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/notebook"
)

// paper answers with a trial of paper: what a negative needs, the ISO ranges, curves.
func (s *Server) paper(w http.ResponseWriter, r *http.Request) error {
	f, err := s.file(r.PathValue("paper"), notebook.PaperKind)
	if err != nil {
		return err
	}
	if _, err := f.trial(); err != nil {
		return err
	}
	entries, err := notebook.List(s.dir)
	if err != nil {
		return err
	}
	release, err := s.gate.Computing(r.Context())
	if err != nil {
		return err
	}
	defer release()
	paper, err := f.paper()
	if err != nil {
		return err
	}
	figure, err := f.curves()
	if err != nil {
		return err
	}
	p := s.page(r, f.title(), "")
	p.Content = screen.NewPaper(paper, f.listed(), figure, addresses(entries))
	p.Terminal = s.terminal("paper", f.Name)
	return s.write(w, "paper", p)
}
