package figure

import (
	"cmp"
	"fmt"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/canvas"
	"sensito/plot/internal/parts"
	"sensito/sensito/printable"
)

// Options say how a figure is drawn. The zero value is the recommended run.
type Options struct {
	Title         string    // in place of the answer that the figure gives; "" means that
	Width, Height vg.Length // 0 means a size that suits the figure
	Theme         string    // one of Themes; "" means the first
	Confidence    float64   // of bands and intervals; 0 means 0.95
	Date          string    // when a card was made; "" means that it does not say
	Triangle      bool      // the triangle of ISO 6 is drawn on the curve of a strip alone

	// Page is for WriteForPage: without heading and foot, in the colours of the page's
	// sheet. Width and height are then in px, and no other theme is for it.
	Page bool
}

// theme returns that of the options.
func (o Options) theme() (parts.Theme, error) {
	switch {
	case !o.Page:
		return parts.ThemeNamed(o.Theme)
	case o.Theme != "":
		return parts.Theme{}, fmt.Errorf("a figure for a page has no theme of its own, but %q is asked for", o.Theme)
	}
	return parts.OnPage, nil
}

// The sizes a figure may have.
const (
	minSide = 60 * vg.Millimeter
	MaxSide = 1000 * vg.Millimeter

	minPx, maxPx = 320, 2000 // of a figure for a page
)

// WithDefaults returns the options with title and confidence filled in, or an
// error naming the one outside its limits.
func (o Options) WithDefaults(title string) (Options, error) {
	if o.Title == "" {
		o.Title = title
	}
	o.Title = printable.Brief(o.Title, 2*printable.MaxName)
	theme, err := o.theme()
	if err != nil {
		return o, err
	}
	if o.Confidence == 0 {
		o.Confidence = 0.95
	}
	if !(o.Confidence > 0 && o.Confidence < 1) {
		return o, fmt.Errorf("confidence %g is outside 0 to 1", o.Confidence)
	}
	for _, side := range []struct {
		name string
		of   vg.Length
	}{{"width", o.Width}, {"height", o.Height}} {
		if side.of != 0 && o.Page && !(side.of >= minPx && side.of <= maxPx) {
			return o, fmt.Errorf("figure %s %.0f px is outside %d to %d px", side.name, side.of.Points(), minPx, maxPx)
		}
		if side.of != 0 && !o.Page && !(side.of >= minSide && side.of <= MaxSide) {
			return o, fmt.Errorf("figure %s %.0f mm is outside %.0f to %.0f mm", side.name,
				side.of/vg.Millimeter, minSide/vg.Millimeter, MaxSide/vg.Millimeter)
		}
	}
	// Figures are laid out at the size that they have before a theme enlarges them.
	for _, side := range []*vg.Length{&o.Width, &o.Height} {
		if *side != 0 {
			*side = *side/theme.Enlarge + 2*theme.Cut
		}
	}
	return o, nil
}

// Figure is a drawing of known size, ready for Write. Figures are made by
// Options.Figure.
type Figure struct {
	Title         string
	Width, Height vg.Length
	Fallback      *Font // for letters that the built-in fonts lack, in png and pdf; nil for none

	theme    parts.Theme
	dpi      int    // of a PNG; 0 means pngDPI
	software string // that a PNG names
	body     body
}

// Figure returns a figure of the options' size, or else of the one that suits it.
func (o Options) Figure(width, height vg.Length, b body) *Figure {
	theme, err := o.theme()
	if err != nil {
		panic(err) // withDefaults has seen it
	}
	return &Figure{Title: o.Title, Width: cmp.Or(o.Width, width) * theme.Enlarge, Height: cmp.Or(o.Height, height) * theme.Enlarge, theme: theme, body: b}
}

// Fine returns the figure as one of small type, to be printed.
func (f *Figure) Fine() *Figure {
	f.dpi = cardDPI
	return f
}

// Naming returns the figure as one whose PNG names what it was made by, so that such a
// file is known.
func (f *Figure) Naming(software string) *Figure {
	f.software = software
	return f
}

// Page returns the area that the figure is laid out on.
func (f *Figure) Page() draw.Canvas {
	return parts.Page(f.Width/f.theme.Enlarge, f.Height/f.theme.Enlarge)
}

// WithRoom returns the figure, or an error when one of its plots is too small to
// read.
func (f *Figure) WithRoom(plots []*gplot.Plot, areas []draw.Canvas) (*Figure, error) {
	for i, p := range plots {
		const label = 68 // what the longest axis label needs
		if err := parts.Room(p.DataCanvas(areas[i]), label); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// A body draws the inside of a figure on an empty page of the figure's size.
type body interface {
	DrawOn(c draw.Canvas)
}

// Body returns what draws the inside of the figure.
func (f *Figure) Body() body { return f.body }

// Draw draws the figure on a canvas of the figure's size and paper.
func (f *Figure) Draw(c vg.Canvas) {
	page := f.Page()
	page.Canvas = textCanvas{f.theme.On(c)}
	f.body.DrawOn(page)
}

// textCanvas draws text with escapes for what does not print, which some formats
// cannot hold.
type textCanvas struct{ vg.Canvas }

func (c textCanvas) FillString(f font.Face, pt vg.Point, s string) {
	c.Canvas.FillString(f, pt, printable.Text(s))
}

// FillAnchored sets a text about a point.
func (c textCanvas) FillAnchored(f font.Face, pt vg.Point, align float64, room vg.Length, s string) {
	canvas.FillIn(c.Canvas, f, pt, align, room, printable.Text(s))
}
