package overlay

import (
	"errors"
	"fmt"
	"image"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito/picture"
	"sensito/sensito/printable"
)

// Seen is what was found in a picture. Places are in its pixels.
type Seen struct {
	Title  string // the name of the file
	Rows   []Row
	Places []Place
	Text   []string // what was read, a line each
}

// A Row is a strip or a tablet.
type Row struct {
	Name     string
	Proposed bool // its ends are proposed and nothing is read
	Steps    []Step
}

// A Step is where a step was found, and what is read of it.
type Step struct {
	Number         int
	Corners, Patch [4]picture.Point // in order around them; a patch of zeros is none
	Aside          []picture.Point  // pixels of the patch that were set aside
	Why            string           // why it is not read; "" where it is
}

// A Place is one beside the rows: base plus fog, black tape, a clear place.
type Place struct {
	Name    string
	Corners [4]picture.Point
}

// Software is what the PNG of an overlay names as its maker.
const Software = "sensito picture"

const (
	dot       = vg.Inch / figure.PngDPI // a pixel of a PNG
	leastWide = 110 * vg.Millimeter     // a page that holds the legend
	mostText  = 40                      // letters of a name in the picture
)

// Overlay returns the picture in grey, lifted so that its dense end is seen, with what was
// found drawn over it and a legend below. The error is for options outside their limits, a
// figure for a page, or a plane that the picture has not.
func Overlay(im *picture.Image, plane int, seen Seen, o figure.Options) (*figure.Figure, error) {
	o, err := o.WithDefaults(seen.Title)
	switch {
	case err != nil:
		return nil, err
	case o.Page:
		return nil, errors.New("an overlay is a picture of its own: put its PNG on the page")
	case plane < 0 || plane >= len(im.Planes) || im.Width < 1 || im.Height < 1 || len(im.Planes[plane].Values) != im.Width*im.Height:
		return nil, fmt.Errorf("a picture of %d by %d has no channel %d", im.Width, im.Height, plane)
	}
	grey, scale := Grey(im, plane)
	b := &body{seen: seen, grey: grey, scale: scale, title: o.Title}
	b.ringed()
	size := grey.Bounds().Size()
	width := max(vg.Length(size.X)*dot+2*margin, leastWide)
	b.pixel = dot * vg.Length(scale)
	if o.Width != 0 { // lines and type keep their size, the picture gets smaller or larger
		width = o.Width
		b.pixel = (width - 2*margin) / vg.Length(im.Width)
	}
	b.room = width - 2*margin
	b.size = vg.Point{X: vg.Length(im.Width) * b.pixel, Y: vg.Length(im.Height) * b.pixel}
	b.lines = b.legend()
	high := b.size.Y + 2*margin + b.legendHeight()
	if o.Height != 0 && o.Height < high {
		return nil, fmt.Errorf("the overlay needs a figure %.0f mm high", math.Ceil(float64(high/vg.Millimeter)))
	}
	if high > figure.MaxSide {
		return nil, fmt.Errorf("an overlay %.0f mm high is beyond %.0f mm: make it narrower", float64(high/vg.Millimeter), figure.MaxSide/vg.Millimeter)
	}
	// Whole dots, so that the picture is not resampled.
	fig := o.Figure(width, vg.Length(math.Ceil(float64(high/dot)))*dot, b).Naming(Software)
	page := fig.Page()
	frame := vg.Rectangle{Min: vg.Point{X: margin, Y: page.Max.Y - margin - b.size.Y}}
	frame.Max = frame.Min.Add(b.size)
	b.sketch = b.sketched(frame)
	return fig, nil
}

// margin is that of a figure in whole dots of a PNG.
const margin = 28 * dot

// body is the drawing.
type body struct {
	seen   Seen
	title  string
	grey   *image.Gray
	scale  float64   // pixels of grey for one of the picture
	pixel  vg.Length // of the picture, on the page
	size   vg.Point  // of the picture on the page
	room   vg.Length // for the legend
	lines  []line
	sketch *sketch
}

// Description says what is drawn.
func (b *body) Description() string {
	return fmt.Sprintf("the picture with %d rows of steps as they were found", len(b.seen.Rows))
}

// DrawOn draws picture, what was found, and legend.
func (b *body) DrawOn(page draw.Canvas) {
	s, frame := b.sketch, b.sketch.frame
	page.DrawImage(frame, b.grey)
	page.SetLineStyle(parts.Line(0.3, parts.Faint))
	page.Stroke(frame.Path())
	for _, r := range s.rows {
		r.draw(page)
	}
	for _, p := range s.places {
		rimmed(page, thin, nil, p.lines())
	}
	rimmed(page, thin, nil, s.leaders...)
	for _, t := range s.texts {
		t.draw(page, s.light(t.Rectangle))
	}
	b.drawLegend(page, frame.Min.Y)
}

// name returns a name as it stands in the picture.
func name(s string) string { return printable.Brief(s, mostText) }
