// Package canvas writes drawings made with gonum/plot as SVG, PNG and PDF, such
// that no letter is lost. Begin with Drawing.
//
// Text is measured in the built-in fonts (Liberation: Latin, Greek, Cyrillic). A
// letter that they lack stands in a cell of a width that no font decides, so that
// a page is laid out alike whichever font draws the letter in the end: that of a
// reader of the SVG, or the Fallback of a drawing in PNG and PDF.
package canvas

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"

	"sensito/sensito/printable"
)

// Drawing is what is written. The same drawing gives the same bytes.
type Drawing struct {
	Title         string      // of the document, which is in English
	Description   string      // "" for none
	Width, Height vg.Length   // of the page
	Paper         color.Color // that the page is of; nil means white in a PNG, none elsewhere
	DPI           int         // of a PNG, dots per inch
	Software      string      // that a PNG says it was made by; "" for nothing
	Fallback      *Font       // for letters that the built-in fonts lack; nil for none

	// Draw draws on a page whose origin is at the bottom left.
	Draw func(c vg.Canvas)
}

// drawOn draws the drawing on its paper.
func (d Drawing) drawOn(c vg.Canvas) {
	if d.Paper != nil {
		c.SetColor(d.Paper)
		c.Fill(vg.Rectangle{Max: vg.Point{X: d.Width, Y: d.Height}}.Path())
	}
	d.Draw(c)
}

// language is that of the words that figures are made of.
const language = "en"

// MissingLetterError is that of a letter which no font at hand can draw.
type MissingLetterError struct {
	Letter rune
	Text   string // that it is in
	Format string // of the file, PNG or PDF
	Font   string // the fallback, which lacks the letter too; "" where there is none
}

func (e *MissingLetterError) Error() string {
	const longest = 60
	where := fmt.Sprintf("the letter %q (%U) of %q", e.Letter, e.Letter, printable.Brief(e.Text, longest))
	if e.Font != "" {
		return fmt.Sprintf("%s is not in the font %s either: use another --font FILE.ttf or an .svg", where, printable.Brief(e.Font, longest))
	}
	return fmt.Sprintf("%s cannot be drawn in a %s: use --font FILE.ttf or an .svg", where, e.Format)
}

// pen draws the pieces that a path consists of.
type pen interface {
	move(to vg.Point)
	line(to vg.Point)
	curve(one, other, to vg.Point) // cubic Bézier
	arc(c vg.PathComp)             // from the point where it begins
	close()
}

// trace draws a path with a pen.
func trace(p pen, path vg.Path) {
	var at, start vg.Point
	begun := false
	begin := func(to vg.Point) {
		p.move(to)
		at, start, begun = to, to, true
	}
	for _, c := range path {
		switch c.Type {
		case vg.MoveComp:
			begin(c.Pos)
		case vg.LineComp:
			if !begun {
				begin(c.Pos)
				continue
			}
			p.line(c.Pos)
			at = c.Pos
		case vg.ArcComp:
			if first := onCircle(c, c.Start); !begun {
				begin(first)
			} else if first != at {
				p.line(first)
			}
			p.arc(c)
			at = onCircle(c, c.Start+c.Angle)
		case vg.CurveComp:
			if !begun {
				begin(c.Control[0])
			}
			one, other := c.Control[0], c.Control[len(c.Control)-1]
			if len(c.Control) == 1 { // a quadratic, whose control counts two thirds
				one = at.Add(one.Sub(at).Scale(2. / 3))
				other = c.Pos.Add(other.Sub(c.Pos).Scale(2. / 3))
			}
			p.curve(one, other, c.Pos)
			at = c.Pos
		case vg.CloseComp:
			if begun {
				p.close()
				at = start
			}
		}
	}
}

// curved draws an arc with a pen that has none, as cubic curves of at most a
// quarter of the circle, which lie within 3e-4 of the radius of it (Goldapp 1991,
// "Approximation of circular arcs by cubic polynomials").
func curved(p pen, arc vg.PathComp) {
	n, step := parts(arc.Angle, math.Pi/2)
	reach := arc.Radius * vg.Length(4./3*math.Tan(step/4))
	tangent := func(angle float64) vg.Point {
		sin, cos := math.Sincos(angle)
		return vg.Point{X: vg.Length(-sin), Y: vg.Length(cos)}
	}
	for i := range n {
		one, other := arc.Start+float64(i)*step, arc.Start+float64(i+1)*step
		from, to := onCircle(arc, one), onCircle(arc, other)
		p.curve(from.Add(tangent(one).Scale(reach)), to.Sub(tangent(other).Scale(reach)), to)
	}
}

// parts divides an angle into equal ones, none larger than most.
func parts(angle, most float64) (n int, each float64) {
	const whole = 1e-9 // a turn that is a hair too long has no part more
	turns := math.Ceil(math.Abs(angle)/most - whole)
	if !(turns >= 1 && turns <= maxParts) {
		turns = 1
	}
	return int(turns), angle / turns
}

// maxParts is more than the parts of any arc that is seen.
const maxParts = 1000

// onCircle returns the point of an arc's circle at an angle.
func onCircle(arc vg.PathComp, angle float64) vg.Point {
	sin, cos := math.Sincos(angle)
	return vg.Point{X: arc.Pos.X + arc.Radius*vg.Length(cos), Y: arc.Pos.Y + arc.Radius*vg.Length(sin)}
}
