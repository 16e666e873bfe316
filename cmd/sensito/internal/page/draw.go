package page

import (
	"sensito/plot"
	"sensito/sensito/camera"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// usualScene is the one that a trial answers before another is asked for.
func usualScene() scene.Scene { return scene.Scene{Stops: camera.NormalStops} }

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
