package parts

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/lucasb-eyer/go-colorful"
	"gonum.org/v1/plot/vg"
)

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
	return darkCanvas{c}
}

// darkCanvas exchanges the colours that have a name. Others, such as a grey that
// shows a tone of the print, stay what they are.
type darkCanvas struct{ vg.Canvas }

func (c darkCanvas) SetColor(col color.Color) {
	if named, ok := col.(Colour); ok {
		col = named.onDark()
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
