package parts

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Tone returns the grey of a density on a screen that shows white as density 0: the
// share of the light that it lets through or throws back, 10 to the power of -density,
// encoded as sRGB (IEC 61966-2-1, 5.2). No theme changes it.
func Tone(density float64) color.Gray {
	light := math.Min(math.Max(math.Pow(10, -density), 0), 1)
	encoded := 12.92 * light
	if light > 0.0031308 {
		encoded = 1.055*math.Pow(light, 1/2.4) - 0.055
	}
	return color.Gray{Y: uint8(math.Round(255 * encoded))}
}

// Patch fills a rectangle with the grey of a density, with a thin outline by which the
// lightest is seen on paper.
func Patch(c draw.Canvas, r vg.Rectangle, density float64) {
	c.SetColor(Tone(density))
	c.Fill(r.Path())
	c.SetLineStyle(Line(0.3, Faint))
	c.Stroke(r.Path())
}

// Bracket joins two places from below, under y.
func Bracket(c draw.Canvas, from, to, y vg.Length) {
	const deep = 3
	c.StrokeLines(Line(0.9, Chosen), []vg.Point{{X: from, Y: y}, {X: from, Y: y - deep}, {X: to, Y: y - deep}, {X: to, Y: y}})
}
