package page

import (
	"net/http"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/development"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
)

// trial answers with a trial of film: the answer to the usual scene, curves, strips and
// readings.
func (s *Server) trial(w http.ResponseWriter, r *http.Request) error {
	f, err := s.file(r.PathValue("trial"), notebook.FilmKind, notebook.PaperKind)
	if err != nil {
		return err
	}
	if f.Kind == notebook.PaperKind { // its strips are keyed in below this address
		http.Redirect(w, r, address(f.Entry), http.StatusSeeOther)
		return nil
	}
	t, err := f.trial()
	if err != nil {
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
	tested := screen.Tested{Trial: t, Entry: f.listed()}
	tested.Strips, tested.Failure = f.measured()
	if tested.Failure == nil {
		if tested.Family, tested.Failure = f.family(); tested.Failure == nil {
			tested.Answer, tested.Failure = f.asked()
			tested.Beside = s.beside(tested.Family)
		}
		if tested.Curves, err = f.curves(); err != nil {
			return err
		}
	}
	p := s.page(r, f.title(), "")
	p.Content = screen.NewTrial(tested, addresses(entries))
	p.Terminal = s.terminal("curve", f.Name)
	if tested.Answer != nil {
		p.Terminal = s.terminal("scene", f.Name) + " --range 7"
	}
	return s.write(w, "trial", p)
}

// beside returns what a control log of the notebook says of the process of a film.
func (s *Server) beside(f *development.Family) *listing.Beside {
	name, log, faults := notebook.ControlOf(s.root.FS(), f.Trial)
	return listing.NewBeside(f, name, log, faults)
}

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
