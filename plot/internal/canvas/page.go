package canvas

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// OnPage says how a drawing stands in a page of HTML.
type OnPage struct {
	ID     string    // of title and description, before "-title" and "-desc"; of letters, digits, - and _
	Class  string    // of the element
	Margin vg.Length // cut off on every side
}

var identifier = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]*$`)

// Page writes a drawing as an element for a page of HTML, whose sheet sets font and
// colours: what is drawn has the class of its colour, and is painted in the colour of
// text that the sheet gives that class. A colour without a class is a tone and stays
// what it is, of class "patch", upon the same shape of class "redback" for a page that
// shows it through a filter. There is no style and no script, and no identifier but
// those of title and description.
func Page(w io.Writer, d Drawing, on OnPage) error {
	for _, name := range []string{on.ID, on.Class} {
		if !identifier.MatchString(name) {
			return fmt.Errorf("%q is no name for a figure on a page: letters, digits, - and _, a letter first", name)
		}
	}
	c := &svgCanvas{states: newStates(), height: d.Height, forPage: true}
	d.Draw(pageCanvas{c})
	var page output
	page.WriteString(`<svg class="` + on.Class + `" viewBox="`)
	page.lengths(on.Margin, on.Margin, d.Width-2*on.Margin, d.Height-2*on.Margin)
	page.WriteString(`" role="img"`)
	page.labelled(on.ID+"-title", d.Title, on.ID+"-desc", d.Description, ` fill="none"`)
	return c.end(w, &page)
}

// pageCanvas sets texts about their places, since the page has a font of its own.
type pageCanvas struct{ *svgCanvas }

// FillAnchored sets a text about a point. The reader's font is condensed or expanded
// where the text is to take no more and no less than a room.
func (c pageCanvas) FillAnchored(f font.Face, pt vg.Point, align float64, room vg.Length, s string) {
	if strings.TrimSpace(s) == "" {
		return
	}
	var more output
	switch {
	case align <= -0.75:
		more.WriteString(` text-anchor="end"`)
	case align <= -0.25:
		more.WriteString(` text-anchor="middle"`)
	}
	if room > 0 {
		more.attribute("textLength", room*vg.Length(math.Hypot(c.matrix.a, c.matrix.b)))
		more.WriteString(` lengthAdjust="spacingAndGlyphs"`)
	}
	c.text(f, pt, minus.ReplaceAllString(s, "${1}\u2212${2}"), more.String())
}

func (c pageCanvas) FillString(f font.Face, pt vg.Point, s string) { c.FillAnchored(f, pt, 0, 0, s) }

// minus is the hyphen that stands for one before a number.
var minus = regexp.MustCompile(`(^|[ (])-(\d)`)

// behind draws a shape that a filter of the page shows a tone upon.
func (c *svgCanvas) behind(p vg.Path) {
	var style output
	style.WriteString(` class="redback"`)
	c.path(p, &style)
}

// anchored is a canvas that knows a text by where it stands and not by where it
// begins.
type anchored interface {
	FillAnchored(f font.Face, pt vg.Point, align float64, room vg.Length, s string)
}

// FillAligned sets a text about a point: from it for 0, centred for -0.5, up to it
// for -1.
func FillAligned(c vg.Canvas, f font.Face, pt vg.Point, align float64, s string) {
	FillIn(c, f, pt, align, 0, s)
}

// FillIn is FillAligned for a text that is to be so wide on a canvas that does not
// measure it; 0 means as wide as it is.
func FillIn(c vg.Canvas, f font.Face, pt vg.Point, align float64, room vg.Length, s string) {
	for {
		inner, ok := c.(draw.Canvas)
		if outer, also := c.(*draw.Canvas); also {
			inner, ok = *outer, true
		}
		if !ok {
			break
		}
		c = inner.Canvas
	}
	if a, ok := c.(anchored); ok {
		a.FillAnchored(f, pt, align, room, s)
		return
	}
	c.FillString(f, pt.Add(vg.Point{X: vg.Length(align) * WidthIn(f, s)}), s)
}

// labelled ends the first tag of a drawing, with more attributes, and says what it
// shows.
func (o *output) labelled(id, title, descID, description, more string) {
	var ids, elements []string
	for _, part := range []struct{ name, id, text string }{{"title", id, title}, {"desc", descID, description}} {
		if part.text != "" {
			ids = append(ids, part.id)
			elements = append(elements, fmt.Sprintf("<%s id=%q>%s</%[1]s>\n", part.name, part.id, escaped(part.text)))
		}
	}
	if len(ids) > 0 {
		fmt.Fprintf(o, ` aria-labelledby="%s"`, strings.Join(ids, " "))
	}
	o.WriteString(more + ">\n" + strings.Join(elements, ""))
}
