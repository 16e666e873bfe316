package figure

import (
	"bytes"
	"cmp"
	"errors"
	"html/template"
	"io"
	"strings"

	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/canvas"
	"sensito/plot/internal/parts"
	"sensito/sensito/printable"
)

// PageFigure says how a figure stands in a page of HTML.
type PageFigure struct {
	ID          string // before "-title" and "-desc", the only identifiers; it differs from figure to figure of a page
	Class       string // of the element
	Title, Desc string // what it shows, for who does not see it; "" means those of the figure
}

// WriteForPage writes a figure made with Options.Page as an SVG element for a page of
// HTML: without header, style, script and references, in px. Its colours are those that
// the page's sheet gives the classes; a tone keeps its grey. Nothing is written when
// the error is not of w.
func WriteForPage(w io.Writer, f *Figure, p PageFigure) error {
	if f.theme.Name != parts.OnPage.Name {
		return errors.New("the figure is not one for a page: ask for it with Options.Page")
	}
	d := canvas.Drawing{Title: cmp.Or(p.Title, f.Title), Description: p.Desc, Width: f.Width, Height: f.Height, Draw: f.Draw}
	if b, ok := f.body.(interface{ Description() string }); ok && d.Description == "" {
		d.Description = b.Description()
	}
	d.Title, d.Description = printable.Lines(d.Title), printable.Lines(d.Description)
	var out bytes.Buffer
	if err := canvas.Page(&out, d, canvas.OnPage{ID: p.ID, Class: p.Class, Margin: f.theme.Cut * f.theme.Enlarge}); err != nil {
		return err
	}
	_, err := out.WriteTo(w)
	return err
}

// Caption explains what a figure does not name in place, "" where that is nothing.
func (f *Figure) Caption() string {
	if b, ok := f.body.(interface{ Caption() string }); ok {
		return printable.Text(strings.Join(strings.Fields(b.Caption()), " "))
	}
	return ""
}

// The widths in px that a figure is drawn at for a page, and the classes that the
// page's sheet shows one of them by.
const (
	WideWidth, NarrowWidth = vg.Length(620), vg.Length(330)
	WideClass, NarrowClass = "at-wide", "at-narrow"
)

// OnPage is a figure for a page of HTML, at both widths.
type OnPage struct {
	SVG     template.HTML // two elements, of the classes at-wide and at-narrow
	Wide    string        // caption of the wide one
	Narrow  string        // that of the narrow one, which names less in place
	Figures [2]*Figure    // wide and narrow
}

// ForPage draws a figure at both widths of a page. Title and description are as in
// PageFigure. The error is that of the builder.
func ForPage(build func(Options) (*Figure, error), o Options, p PageFigure) (OnPage, error) {
	var out OnPage
	var svg bytes.Buffer
	for i, at := range []struct {
		width vg.Length
		class string
	}{{WideWidth, WideClass}, {NarrowWidth, NarrowClass}} {
		o.Page, o.Width, o.Height = true, at.width, 0
		f, err := build(o)
		if err != nil {
			return OnPage{}, err
		}
		err = WriteForPage(&svg, f, PageFigure{ID: p.ID + "-" + at.class, Class: at.class, Title: p.Title, Desc: p.Desc})
		if err != nil {
			return OnPage{}, err
		}
		out.Figures[i] = f
	}
	out.SVG = template.HTML(svg.String()) // of our own canvas, which escapes every text
	out.Wide, out.Narrow = out.Figures[0].Caption(), out.Figures[1].Caption()
	return out, nil
}
