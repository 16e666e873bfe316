package parts

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/lucasb-eyer/go-colorful"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/canvas"
)

// Colour is a colour of the figures by its name, by which a theme or a page that
// shows the figure can exchange it.
type Colour struct {
	name string // "" for one that no theme changes
	role string // on a page of HTML; "" means the name
	rgb  color.RGBA
}

// RGBA returns the colour on white paper.
func (c Colour) RGBA() (r, g, b, a uint32) { return c.rgb.RGBA() }

// Class returns the name.
func (c Colour) Class() string { return c.name }

func grey(name string, y uint8) Colour { return Colour{name: name, rgb: color.RGBA{y, y, y, 255}} }

// The greys, from paper to ink.
var (
	Paper    = grey("paper", 255)
	GridGrey = grey("grid", 232)
	MarkGrey = grey("mark", 226)
	BandGrey = grey("band", 212)
	Faint    = grey("faint", 110)
	Ink      = grey("ink", 25)
	AxisInk  = as(grey("ink", 25), "label") // of the names of axes
)

func as(c Colour, role string) Colour {
	c.role = role
	return c
}

// OnTone returns the colour of what is written on the patch of a density.
func OnTone(density float64) Colour {
	if density > 0.7 { // where white stands out better
		return as(grey("", Tone(0).Y), "ondark")
	}
	return as(grey("", Tone(3).Y), "onlight")
}

// hues are for what has no order. They are of nearly one lightness, dark enough
// for print.
var hues = [...]color.RGBA{
	{0x1f, 0x3f, 0x66, 255}, {0x8c, 0x36, 0x26, 255}, {0x2f, 0x66, 0x45, 255}, {0x6b, 0x53, 0x12, 255},
	{0x5a, 0x36, 0x73, 255}, {0x1f, 0x63, 0x6b, 255}, {0x87, 0x3d, 0x62, 255}, {0x44, 0x44, 0x44, 255},
}

func hue(i int) Colour { return Colour{fmt.Sprintf("hue%d", i+1), "curve", hues[i]} }

// Chosen is of what answers, or needs an act, among what is alike.
var Chosen = as(hue(1), "chosen")

// Speaks is of what lies outside its limits.
var Speaks = as(Ink, "chosen")

// The ends of the scale of lightness on which what has an order is drawn: the
// lighter one stands 3 : 1 against white paper (W3C WCAG 2.2, 1.4.11).
const (
	lightest = 0.60
	darkest  = 0.16
)

// ordered returns the colour at a place, 0 the lightest and 1 the darkest, of one
// blue whose lightness L* (CIE 15) falls evenly.
func ordered(at float64) Colour {
	l := lightest + at*(darkest-lightest)
	c := colorful.Hcl(255, 0.1+0.2*l, l).Clamped()
	r, g, b := c.RGB255()
	return Colour{fmt.Sprintf("order%.0f", 100*l), "curve", color.RGBA{r, g, b, 255}}
}

// Theme is how a figure looks where it is shown.
type Theme struct {
	Name    string
	Enlarge vg.Length // of all that is drawn, type and lines included
	Cut     vg.Length // of the margin on every side, which the page has itself
	lines   vg.Length // how much heavier lines are, besides
	dark    bool
	onPage  bool // of HTML, whose sheet has the colours
}

// themes begin with the usual one, for white paper. A slide is seen from afar.
var themes = [...]Theme{{Name: "print", Enlarge: 1, lines: 1}, {Name: "slide", Enlarge: 1.5, lines: 1}, {Name: "dark", Enlarge: 1, lines: 1, dark: true}}

// OnPage is the theme of a figure that stands on a page of HTML, in px.
var OnPage = Theme{Name: "page", Enlarge: 1.75, Cut: PageMargin - 1.8, lines: 0.65, onPage: true}

// Classes are what the sheet of such a page gives colours to.
func Classes() []string {
	return []string{"paper", "grid", "mark", "band", "faint", "ink", "label", "curve", "chosen", "onlight", "ondark"}
}

// Themes returns the names of the themes, the usual one first.
func Themes() []string {
	var names []string
	for _, t := range themes {
		names = append(names, t.Name)
	}
	return names
}

// ThemeNamed returns the theme of a name, the usual one for "". The error names
// those there are.
func ThemeNamed(name string) (Theme, error) {
	if name == "" {
		return themes[0], nil
	}
	for _, t := range themes {
		if t.Name == name {
			return t, nil
		}
	}
	return Theme{}, fmt.Errorf("%q is not a theme of figures; use %s", name, strings.Join(Themes(), ", "))
}

// On returns a canvas on which the colours are those of the theme.
func (t Theme) On(c vg.Canvas) vg.Canvas {
	if t.Enlarge != 1 {
		c.Scale(float64(t.Enlarge), float64(t.Enlarge))
	}
	if !t.dark && !t.onPage {
		return c
	}
	return themeCanvas{c, t}
}

// Colour returns what a colour is in the theme.
func (t Theme) Colour(c Colour) Colour {
	switch {
	case t.onPage && c.role != "": // where names, symbols and dashes tell curves apart
		c.name = c.role
	case t.dark && c.name != "":
		return c.onDark()
	}
	return c
}

// themeCanvas exchanges the colours that have a name. Others, such as a grey that
// shows a tone of the print, stay what they are.
type themeCanvas struct {
	vg.Canvas
	theme Theme
}

func (c themeCanvas) SetLineWidth(w vg.Length) { c.Canvas.SetLineWidth(w * c.theme.lines) }

// FillAnchored sets a text about a point. One of type that is too small for a page of
// HTML is set larger, in the room that it was laid out in: faces of books are narrower
// than the one by which texts are measured.
func (c themeCanvas) FillAnchored(f font.Face, pt vg.Point, align float64, room vg.Length, s string) {
	if least := leastPx / c.theme.Enlarge; c.theme.onPage && f.Font.Size < least {
		room = canvas.WidthIn(f, s)
		f = canvas.Face(least)
	}
	canvas.FillIn(c.Canvas, f, pt, align, room, s)
}

// leastPx is the smallest type on a page of HTML.
const leastPx = 13

func (c themeCanvas) SetColor(col color.Color) {
	if named, ok := col.(Colour); ok {
		col = c.theme.Colour(named)
	}
	c.Canvas.SetColor(col)
}

// onDark returns the colour with its lightness turned round, so that what is drawn
// stands out from a dark page as it does from paper.
func (c Colour) onDark() Colour {
	const page = 0.10 // lightness L* of the page, of 1
	whole, _ := colorful.MakeColor(c.rgb)
	h, chroma, l := whole.Hcl()
	r, g, b := colorful.Hcl(h, chroma, page+(1-page)*(1-l)).Clamped().RGB255()
	return Colour{c.name, c.role, color.RGBA{r, g, b, 255}}
}
