package canvas

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"hash/fnv"
	"image"
	"image/png"
	"io"
	"math"
	"strings"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// families name the built-in fonts and fonts of the same widths, for readers that
// lack them.
var families = map[font.Variant]string{
	"Sans":  "'Liberation Sans',Arimo,Arial,Helvetica,sans-serif",
	"Serif": "'Liberation Serif',Tinos,'Times New Roman',Times,serif",
	"Mono":  "'Liberation Mono',Cousine,'Courier New',Courier,monospace",
}

// SVG writes a drawing as SVG 1.1, in attributes alone: a page that allows no
// styles of its own shows it too. Text is text. Where a colour that is set has a
// method Class() string, what is drawn in it is of that class.
func SVG(w io.Writer, d Drawing) error {
	c := &svgCanvas{states: newStates(), height: d.Height}
	d.drawOn(c)
	var page output
	page.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n" + `<svg xmlns="http://www.w3.org/2000/svg" width="`)
	page.lengths(d.Width)
	page.WriteString(`pt" height="`)
	page.lengths(d.Height)
	page.WriteString(`pt" viewBox="0 0 `)
	page.lengths(d.Width, d.Height)
	page.WriteString(`" role="img"`)
	page.named(d)
	return c.end(w, &page)
}

// end writes a file of which the first tag is there.
func (c *svgCanvas) end(w io.Writer, page *output) error {
	for part := range c.grouped() {
		page.WriteString(part + "\n")
	}
	page.WriteString("</svg>\n")
	c.fail(page.err)
	if c.err != nil {
		return c.err
	}
	_, err := io.WriteString(w, page.String())
	return err
}

// named ends the first tag of a drawing. The identifiers of what it says it shows are
// of the words, so that several drawings may stand on one page.
func (o *output) named(d Drawing) {
	hash := fnv.New32a()
	io.WriteString(hash, d.Title+"\n"+d.Description)
	sum := fmt.Sprintf("%08x", hash.Sum32())
	more := fmt.Sprintf(` xml:lang="%s" fill="none" font-family="%s"`, language, families[Sans.Variant])
	o.labelled("title-"+sum, d.Title, "desc-"+sum, d.Description, more)
}

// escaped returns text as it stands in XML, with U+FFFD for what XML cannot hold.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder takes all
	return b.String()
}

// element is one of a drawing: <name attributes style>.
type element struct{ name, attributes, style, text string }

type svgCanvas struct {
	states
	height   vg.Length
	elements []element
	forPage  bool // colours are those of the page's sheet, by their class
	err      error
}

func (c *svgCanvas) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *svgCanvas) add(name string, attributes, style *output, text string) {
	c.fail(attributes.err)
	c.fail(style.err)
	c.elements = append(c.elements, element{name, attributes.String(), style.String(), text})
}

// grouped returns the elements line by line; those of one style that follow each
// other are in a group that has it.
func (c *svgCanvas) grouped() func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for i, n := 0, 0; i < len(c.elements); i += n {
			style := c.elements[i].style
			for n = 1; i+n < len(c.elements) && c.elements[i+n].style == style; n++ {
			}
			own, after := style, ""
			if n > 1 {
				own, after = "", "\n</g>"
				if !yield("<g" + style + ">") {
					return
				}
			}
			for k, e := range c.elements[i : i+n] {
				end := "/>"
				if e.text != "" {
					end = ">" + escaped(e.text) + "</" + e.name + ">"
				}
				if k == n-1 {
					end += after
				}
				if !yield("<" + e.name + e.attributes + own + end) {
					return
				}
			}
		}
	}
}

// named returns the class of the colour, "" for one that has none.
func (c *svgCanvas) named() string {
	if named, ok := c.color.(interface{ Class() string }); ok {
		return named.Class()
	}
	return ""
}

// class writes the class of the colour, if it has one.
func (c *svgCanvas) class(o *output) {
	if name := c.named(); name != "" {
		fmt.Fprintf(o, ` class="%s"`, escaped(name))
	}
}

// paint writes the colour, for fill or stroke.
func (c *svgCanvas) paint(o *output, as string) {
	if c.forPage && c.named() != "" {
		fmt.Fprintf(o, ` %s="currentColor"`, as)
		return
	}
	p := c.painted()
	hex := fmt.Sprintf("%02x%02x%02x", p.R, p.G, p.B)
	if hex[0] == hex[1] && hex[2] == hex[3] && hex[4] == hex[5] {
		hex = hex[0:1] + hex[2:3] + hex[4:5]
	}
	fmt.Fprintf(o, ` %s="#%s"`, as, hex)
	if p.A < 255 {
		fmt.Fprintf(o, ` %s-opacity="`, as)
		o.number(float64(p.A)/255, 3)
		o.WriteByte('"')
	}
}

// pen returns a pen for paths, and how much longer it draws lengths. Where the
// transform only enlarges and moves it is in the points, and not in an attribute.
func (c *svgCanvas) pen() (p svgPen, longer vg.Length) {
	if m := c.matrix; m.b == 0 && m.c == 0 && m.a == m.d && m.a > 0 {
		return svgPen{height: c.height, matrix: m}, vg.Length(m.a)
	}
	return svgPen{height: c.height, matrix: identity}, 1
}

// moved writes the transform for points whose y is down the page, if there is one.
func (c *svgCanvas) moved(o *output) {
	if m, h := c.matrix, float64(c.height); m != identity {
		o.transform(matrix{m.a, -m.b, -m.c, m.d, m.c*h + m.e, h - m.d*h - m.f})
	}
}

func (o *output) transform(m matrix) {
	o.WriteString(` transform="matrix(`)
	o.six(m)
	o.WriteString(`)"`)
}

func (c *svgCanvas) Stroke(p vg.Path) {
	if c.width <= 0 || len(p) == 0 {
		return
	}
	var style output
	c.paint(&style, "stroke")
	_, longer := c.pen()
	if width := c.width * longer; width != 1 {
		style.attribute("stroke-width", width)
	}
	if len(c.dashes) > 0 {
		dashes := make([]vg.Length, len(c.dashes))
		for i, d := range c.dashes {
			dashes[i] = d * longer
		}
		style.attribute("stroke-dasharray", dashes...)
		if c.offset != 0 {
			style.attribute("stroke-dashoffset", c.offset*longer)
		}
	}
	c.path(p, &style)
}

func (c *svgCanvas) Fill(p vg.Path) {
	if len(p) == 0 {
		return
	}
	var style output
	if c.forPage && c.named() == "" {
		c.behind(p)
		style.WriteString(` class="patch"`)
	}
	c.paint(&style, "fill")
	c.path(p, &style)
}

func (c *svgCanvas) path(p vg.Path, style *output) {
	c.class(style)
	d, _ := c.pen()
	d.WriteString(` d="`)
	trace(&d, p)
	d.WriteByte('"')
	if d.matrix == identity {
		c.moved(&d.output)
	}
	c.add("path", &d.output, style, "")
}

// svgPen writes the data of a path.
type svgPen struct {
	output
	height vg.Length
	matrix matrix // of the points: it only enlarges and moves
	last   byte   // the command that the numbers now follow
}

// to writes a command, unless it is that of the numbers before, and points.
func (p *svgPen) to(command byte, points ...vg.Point) {
	if command == p.last {
		p.WriteByte(' ')
	} else {
		p.WriteByte(command)
	}
	for i, pt := range points {
		if i > 0 {
			p.WriteByte(' ')
		}
		pt = p.matrix.apply(pt)
		p.lengths(pt.X, p.height-pt.Y)
	}
	if p.last = command; command == 'M' {
		p.last = 'L' // what SVG takes further points for
	}
}

func (p *svgPen) move(to vg.Point) {
	p.last = 0
	p.to('M', to)
}

func (p *svgPen) line(to vg.Point)              { p.to('L', to) }
func (p *svgPen) curve(one, other, to vg.Point) { p.to('C', one, other, to) }

// arc writes arcs of at most half a circle, since SVG knows them by their ends.
func (p *svgPen) arc(c vg.PathComp) {
	n, step := parts(c.Angle, math.Pi)
	sweep := "0" // to the left, which is down the page where angles grow
	if step < 0 {
		sweep = "1"
	}
	for i := range n {
		p.WriteByte('A')
		r := c.Radius * vg.Length(p.matrix.a)
		p.lengths(r, r)
		p.WriteString(" 0 0 " + sweep)
		p.last = ' '
		p.to(' ', onCircle(c, c.Start+float64(i+1)*step))
		p.last = 0
	}
}

func (p *svgPen) close() {
	p.WriteByte('Z')
	p.last = 0
}

func (c *svgCanvas) FillString(f font.Face, pt vg.Point, s string) {
	c.text(f, pt, s, "")
}

// text sets a text with more attributes of its own.
func (c *svgCanvas) text(f font.Face, pt vg.Point, s, more string) {
	if f.Font.Size == 0 || s == "" {
		return
	}
	var style, at output
	c.paint(&style, "fill")
	c.class(&style)
	m := c.matrix
	longer := math.Hypot(m.a, m.b) // a text is as large as it says
	style.attribute("font-size", f.Font.Size*vg.Length(longer))
	style.font(f.Font)

	origin := m.apply(pt)
	if m.b == 0 && m.c == 0 && m.a == m.d && m.a > 0 {
		at.attribute("x", origin.X)
		at.attribute("y", c.height-origin.Y)
	} else {
		at.transform(matrix{m.a / longer, -m.b / longer, -m.c / longer, m.d / longer, float64(origin.X), float64(c.height - origin.Y)})
	}
	at.WriteString(more)
	if !c.forPage && lacks(f, composed(s)) {
		at.attribute("textLength", WidthIn(f, s)*vg.Length(longer))
	}
	if strings.HasPrefix(s, " ") || strings.HasSuffix(s, " ") || strings.Contains(s, "  ") {
		at.WriteString(` xml:space="preserve"`)
	}
	c.add("text", &at, &style, s)
}

// font writes how a font differs from that of the page.
func (o *output) font(f font.Font) {
	if family, ok := families[f.Variant]; ok && f.Variant != Sans.Variant {
		fmt.Fprintf(o, ` font-family="%s"`, family)
	}
	if f.Weight >= stdfont.WeightBold {
		o.WriteString(` font-weight="bold"`)
	}
	if f.Style != stdfont.StyleNormal {
		o.WriteString(` font-style="italic"`)
	}
}

func (c *svgCanvas) DrawImage(r vg.Rectangle, img image.Image) {
	var file bytes.Buffer
	if err := png.Encode(&file, img); err != nil {
		c.fail(err)
		return
	}
	var at, style output
	at.attribute("x", r.Min.X)
	at.attribute("y", c.height-r.Max.Y)
	at.attribute("width", r.Size().X)
	at.attribute("height", r.Size().Y)
	c.moved(&at)
	at.WriteString(` preserveAspectRatio="none" href="data:image/png;base64,` + base64.StdEncoding.EncodeToString(file.Bytes()) + `"`)
	c.add("image", &at, &style, "")
}
