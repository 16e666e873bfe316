package canvas

import (
	"fmt"
	"image"
	"io"
	"slices"

	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// PDF writes a drawing as a page of PDF 1.7 (ISO 32000-1) with the letters that
// are used of each font. The error is a *MissingLetterError where no font has a
// letter.
func PDF(w io.Writer, d Drawing) error {
	c := &pdfCanvas{states: newStates(), d: d, set: map[string]string{"alpha": opaque}}
	d.drawOn(c)
	if c.err != nil {
		return c.err
	}
	return c.file(w)
}

type pdfCanvas struct {
	states
	output // the content of the page
	d      Drawing
	set    map[string]string // what the content has set so far, by what it is of
	fonts  []*pdfFont
	alphas []uint8
	images []image.Image
}

// opaque is what a page begins with.
const opaque = "/A255 gs"

// use sets what the following is drawn with, unless it is set.
func (c *pdfCanvas) use(what, operator string) {
	if c.set[what] != operator {
		c.set[what] = operator
		c.WriteString(operator + "\n")
	}
}

// paint sets the colour, for fill or stroke.
func (c *pdfCanvas) paint(what, grey, rgb string) {
	p := c.painted()
	if !slices.Contains(c.alphas, p.A) && p.A < 255 {
		c.alphas = append(c.alphas, p.A)
	}
	c.use("alpha", fmt.Sprintf("/A%d gs", p.A))
	var o output
	parts, operator := []uint8{p.R, p.G, p.B}, rgb
	if p.R == p.G && p.G == p.B {
		parts, operator = parts[:1], grey
	}
	for _, part := range parts {
		o.number(float64(part)/255, 3)
		o.WriteByte(' ')
	}
	c.use(what, o.String()+operator)
}

func (c *pdfCanvas) Stroke(p vg.Path) {
	if c.width <= 0 || len(p) == 0 {
		return
	}
	c.paint("stroke", "G", "RG")
	var width, dash output
	width.lengths(c.width)
	c.use("width", width.String()+" w")
	dash.WriteByte('[')
	dash.lengths(c.dashes...)
	dash.WriteString("] ")
	dash.lengths(c.offset)
	c.use("dash", dash.String()+" d")
	c.fail(width.err)
	c.fail(dash.err)
	c.path(p, "S")
}

func (c *pdfCanvas) Fill(p vg.Path) {
	if len(p) == 0 {
		return
	}
	c.paint("fill", "g", "rg")
	c.path(p, "f")
}

// path draws a path by an operator.
func (c *pdfCanvas) path(p vg.Path, operator string) {
	c.placed(c.matrix, func() {
		trace((*pdfPen)(&c.output), p)
		c.WriteString(operator + "\n")
	})
}

// placed draws under a transform.
func (c *pdfCanvas) placed(m matrix, draw func()) {
	if m == identity {
		draw()
		return
	}
	c.WriteString("q ")
	c.six(m)
	c.WriteString(" cm\n")
	draw()
	c.WriteString("Q\n")
}

// pdfPen writes a path.
type pdfPen output

func (p *pdfPen) to(operator string, points ...vg.Point) {
	for _, pt := range points {
		(*output)(p).lengths(pt.X, pt.Y)
		p.WriteByte(' ')
	}
	p.WriteString(operator + "\n")
}

func (p *pdfPen) move(to vg.Point)              { p.to("m", to) }
func (p *pdfPen) line(to vg.Point)              { p.to("l", to) }
func (p *pdfPen) curve(one, other, to vg.Point) { p.to("c", one, other, to) }
func (p *pdfPen) arc(c vg.PathComp)             { curved(p, c) }
func (p *pdfPen) close()                        { p.WriteString("h\n") }

func (c *pdfCanvas) FillString(f font.Face, pt vg.Point, s string) {
	if f.Font.Size == 0 || s == "" {
		return
	}
	all, err := pieces(f, s, c.d, "PDF")
	if err != nil {
		c.fail(err)
		return
	}
	c.paint("fill", "g", "rg")
	c.WriteString("BT\n")
	for _, p := range all {
		c.piece(p, pt)
	}
	c.WriteString("ET\n")
}

// piece sets a part of a text, whose pairs stand as close as they are measured.
func (c *pdfCanvas) piece(p piece, pt vg.Point) {
	f := c.font(p.face.Face)
	var size output
	size.lengths(p.face.Font.Size)
	c.use("font", "/"+f.name+" "+size.String()+" Tf")
	m := c.matrix
	at := m.apply(vg.Point{X: pt.X + p.at, Y: pt.Y})
	m.e, m.f = float64(at.X), float64(at.Y)
	c.six(m)
	c.WriteString(" Tm [<")
	set := newSetter(p.face)
	for _, r := range p.text {
		g := set.next(r)
		if g.kern != 0 {
			c.WriteByte('>')
			c.number(-1000*float64(g.kern/p.face.Font.Size), 0)
			c.WriteByte('<')
		}
		fmt.Fprintf(c, "%04x", f.code(r, g.index))
	}
	c.WriteString(">] TJ\n")
}

// font returns what the file has of a font.
func (c *pdfCanvas) font(face *opentype.Font) *pdfFont {
	for _, f := range c.fonts {
		if f.face == face {
			return f
		}
	}
	f := newPDFFont(fmt.Sprintf("F%d", len(c.fonts)), face)
	c.fonts = append(c.fonts, f)
	return f
}

func (c *pdfCanvas) DrawImage(r vg.Rectangle, img image.Image) {
	size := r.Size()
	in := matrix{float64(size.X), 0, 0, float64(size.Y), float64(r.Min.X), float64(r.Min.Y)}
	c.placed(c.matrix.after(in), func() { fmt.Fprintf(c, "/I%d Do\n", len(c.images)) })
	c.images = append(c.images, img)
}
