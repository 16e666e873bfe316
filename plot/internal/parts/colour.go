package parts

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/lucasb-eyer/go-colorful"
	"gonum.org/v1/plot/vg"
)

// Colour is a colour of the figures by its name, by which a theme or a page that
// shows the figure can exchange it.
type Colour struct {
	name string
	rgb  color.RGBA
}

// RGBA returns the colour on white paper.
func (c Colour) RGBA() (r, g, b, a uint32) { return c.rgb.RGBA() }

// Class returns the name.
func (c Colour) Class() string { return c.name }

func grey(name string, y uint8) Colour { return Colour{name, color.RGBA{y, y, y, 255}} }

// The greys, from paper to ink.
var (
	Paper    = grey("paper", 255)
	GridGrey = grey("grid", 232)
	MarkGrey = grey("mark", 226)
	BandGrey = grey("band", 212)
	Faint    = grey("faint", 110)
	Ink      = grey("ink", 25)
)

// hues are for what has no order. They are of nearly one lightness, dark enough
// for print.
var hues = [...]color.RGBA{
	{0x1f, 0x3f, 0x66, 255}, {0x8c, 0x36, 0x26, 255}, {0x2f, 0x66, 0x45, 255}, {0x6b, 0x53, 0x12, 255},
	{0x5a, 0x36, 0x73, 255}, {0x1f, 0x63, 0x6b, 255}, {0x87, 0x3d, 0x62, 255}, {0x44, 0x44, 0x44, 255},
}

func hue(i int) Colour { return Colour{fmt.Sprintf("hue%d", i+1), hues[i]} }

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
	return Colour{fmt.Sprintf("order%.0f", 100*l), color.RGBA{r, g, b, 255}}
}

// Theme is how a figure looks where it is shown.
type Theme struct {
	Name    string
	Enlarge vg.Length // of all that is drawn, type and lines included
	dark    bool
}

// themes begin with the usual one, for white paper. A slide is seen from afar.
var themes = [...]Theme{{Name: "print", Enlarge: 1}, {Name: "slide", Enlarge: 1.5}, {Name: "dark", Enlarge: 1, dark: true}}

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
	if !t.dark {
		return c
	}
	return darkCanvas{c, t}
}

// Colour returns what a colour is in the theme.
func (t Theme) Colour(c Colour) Colour {
	if t.dark {
		return c.onDark()
	}
	return c
}

// darkCanvas exchanges the colours that have a name. Others, such as a grey that
// shows a tone of the print, stay what they are.
type darkCanvas struct {
	vg.Canvas
	theme Theme
}

func (c darkCanvas) SetColor(col color.Color) {
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
	return Colour{c.name, color.RGBA{r, g, b, 255}}
}
