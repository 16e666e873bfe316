package plot

import (
	"fmt"
	"sensito/plot/internal/parts"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Page is a size of paper that a card may be printed on.
type Page struct {
	Name          string
	Width, Height vg.Length
}

// pages are on their side. A6 is of ISO 216; the index card is common practice,
// no source.
var pages = [...]Page{
	{"a6", 148 * vg.Millimeter, 105 * vg.Millimeter},
	{"index", 5 * vg.Inch, 3 * vg.Inch},
}

// Pages returns the pages that a card may be printed on, the usual one first.
func Pages() []Page { return append([]Page(nil), pages[:]...) }

// PageNamed returns the page of a name. The error names the pages there are.
func PageNamed(name string) (Page, error) { return named(pages[:], name, "a card") }

func named(pages []Page, name, what string) (Page, error) {
	var names []string
	for _, p := range pages {
		if p.Name == name {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return Page{}, fmt.Errorf("%q is not a page for %s; use %s", name, what, strings.Join(names, " or "))
}

// cutMarks draws a mark along the edges at every corner of a page, for the
// knife when the sheet in the printer is larger.
func cutMarks(c draw.Canvas) {
	const length, width = 4 * vg.Millimeter, vg.Length(0.3)
	edge := vg.Rectangle{Min: vg.Point{X: c.Min.X + width/2, Y: c.Min.Y + width/2}, Max: vg.Point{X: c.Max.X - width/2, Y: c.Max.Y - width/2}}
	for _, x := range []struct{ at, to vg.Length }{{edge.Min.X, length}, {edge.Max.X, -length}} {
		for _, y := range []struct{ at, to vg.Length }{{edge.Min.Y, length}, {edge.Max.Y, -length}} {
			c.StrokeLines(parts.Line(width, parts.Faint), []vg.Point{{X: x.at + x.to, Y: y.at}, {X: x.at, Y: y.at}, {X: x.at, Y: y.at + y.to}})
		}
	}
}
