package page

import (
	"cmp"
	"net/http"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/development"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// usualScene is the one that a trial answers before another is asked for.
func usualScene() scene.Scene { return scene.Scene{Stops: camera.NormalStops} }

// trial answers with a trial of film: the answer to the usual scene, curves, strips and
// readings.
func (s *Server) trial(w http.ResponseWriter, r *http.Request) error {
	f, err := s.file(r.PathValue("trial"), notebook.FilmKind)
	if err != nil {
		return err
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
	p := s.page(r, printable.Text(trialTitle(f, t)), "")
	p.Content = screen.NewTrial(tested, addresses(entries))
	p.Terminal = s.terminal("curve", f.Name)
	if tested.Answer != nil {
		p.Terminal = s.terminal("scene", f.Name) + " --range 7"
	}
	return s.write(w, "trial", p)
}

// trialTitle returns the title of a trial, or else the name of its file.
func trialTitle(f *file, t *sensito.Trial) string { return cmp.Or(t.Title(), f.Name) }

// beside returns what a control log of the notebook says of the process of a film.
func (s *Server) beside(f *development.Family) *listing.Beside {
	name, log, faults := notebook.ControlOf(s.root.FS(), f.Trial)
	return listing.NewBeside(f, name, log, faults)
}

// draw draws the curves of a trial: those of a film with the one that the answer asks for,
// where there is one.
func (f *file) draw() (*plot.OnPage, error) {
	if f.Kind == notebook.PaperKind {
		paper, err := f.paper()
		if err != nil {
			return nil, err
		}
		return onPage(func(o plot.Options) (*plot.Figure, error) { return plot.Paper(paper, o) }, "curves")
	}
	ms, err := f.measured()
	if err != nil {
		return nil, nil // without strips no curves
	}
	build := func(o plot.Options) (*plot.Figure, error) { return plot.Curves(ms, o) }
	if a, err := f.asked(); err == nil {
		if _, err := a.Family.CurveAt(a.Tested().Minutes.Value); err == nil {
			build = func(o plot.Options) (*plot.Figure, error) { return plot.CurvesFor(a, o) }
		}
	}
	return onPage(build, "curves")
}

// onPage draws a figure for a page.
func onPage(build func(plot.Options) (*plot.Figure, error), id string) (*plot.OnPage, error) {
	figure, err := plot.ForPage(build, plot.Options{}, plot.PageFigure{ID: id})
	return &figure, err
}
