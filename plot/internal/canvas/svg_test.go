package canvas

import (
	"image"
	"image/color"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// shapes draws what a vg.Canvas can.
func shapes(c vg.Canvas) {
	c.SetColor(color.RGBA{R: 0x1f, G: 0x3f, B: 0x66, A: 255})
	c.SetLineWidth(0.6)
	c.SetLineDash([]vg.Length{6, 2}, 1)
	var line vg.Path
	line.Move(vg.Point{X: 10, Y: 10})
	line.Line(vg.Point{X: 60.123456, Y: 10})
	line.CubeTo(vg.Point{X: 70, Y: 10}, vg.Point{X: 80, Y: 20}, vg.Point{X: 80, Y: 30})
	line.QuadTo(vg.Point{X: 80, Y: 60}, vg.Point{X: 110, Y: 60})
	c.Stroke(line)
	c.SetLineDash(nil, 0)
	c.Stroke(line[:2])
	c.SetColor(color.NRGBA{R: 0xff, A: 0x80})
	var circle vg.Path
	circle.Arc(vg.Point{X: 100, Y: 50}, 20, 0, 2*math.Pi)
	circle.Close()
	c.Fill(circle)
	c.SetColor(classed{color.Gray{Y: 0x77}})
	c.FillString(Face(8), vg.Point{X: 10, Y: 20}, "A & B < C")
	c.FillString(Face(8), vg.Point{X: 10, Y: 30}, "  two  blanks")
	c.Push()
	c.Translate(vg.Point{X: 150, Y: 20})
	c.Rotate(math.Pi / 2)
	c.SetColor(nil)
	c.FillString(Face(8), vg.Point{X: 5, Y: 0}, "東 up")
	c.Stroke(line[:2])
	c.Pop()
	c.FillString(Face(8), vg.Point{X: 10, Y: 40}, "faint again")
	c.DrawImage(vg.Rectangle{Min: vg.Point{X: 1, Y: 2}, Max: vg.Point{X: 11, Y: 22}}, image.NewGray(image.Rect(0, 0, 2, 2)))
}

func TestSVG(t *testing.T) {
	svg := written(t, SVG, drawing(shapes))
	assert.NotContains(t, svg, "style")
	all := parse(t, svg)
	root := all[0]
	assert.Equal(t, "svg", root.name)
	for name, want := range map[string]string{"width": "200pt", "height": "100pt", "viewBox": "0 0 200 100", "role": "img", "lang": "en"} {
		assert.Equal(t, want, root.attr[name], name)
	}
	title, desc := named(all, "title"), named(all, "desc")
	require.Len(t, title, 1, "a title")
	require.Len(t, desc, 1)
	assert.Equal(t, "Harrow Quay", title[0].text)
	assert.Equal(t, "By <lamp> & moon", desc[0].text)
	assert.Equal(t, title[0].attr["id"]+" "+desc[0].attr["id"], root.attr["aria-labelledby"])
	assert.Equal(t, 1, strings.Count(svg, "font-family"))

	paths := named(all, "path")
	require.Len(t, paths, 4)
	assert.Equal(t, "M10 90 60.12 90C70 90 80 80 80 70 80 50 90 40 110 40", paths[0].attr["d"])
	assert.Equal(t, "#1f3f66", paths[0].attr["stroke"])
	assert.Equal(t, "none", paths[0].attr["fill"])
	assert.Equal(t, "0.6", paths[0].attr["stroke-width"])
	assert.Equal(t, "6 2", paths[0].attr["stroke-dasharray"])
	assert.Equal(t, "1", paths[0].attr["stroke-dashoffset"])
	assert.Empty(t, paths[1].attr["stroke-dasharray"])
	assert.Equal(t, "M120 50A20 20 0 0 0 80 50A20 20 0 0 0 120 50Z", paths[2].attr["d"])
	assert.Equal(t, "#f00", paths[2].attr["fill"])
	assert.Equal(t, "0.502", paths[2].attr["fill-opacity"])
	assert.Equal(t, "matrix(0 -1 1 0 50 80)", paths[3].attr["transform"])

	texts := named(all, "text")
	require.Len(t, texts, 4)
	assert.Equal(t, "A & B < C", texts[0].text)
	assert.Equal(t, `ink "faint"`, texts[0].attr["class"])
	assert.Equal(t, []string{"10", "80", "8", "#777"}, []string{texts[0].attr["x"], texts[0].attr["y"], texts[0].attr["font-size"], texts[0].attr["fill"]})
	assert.Empty(t, texts[0].attr["space"])
	assert.Equal(t, "preserve", texts[1].attr["space"])
	assert.Empty(t, texts[1].attr["textLength"])
	assert.Equal(t, "matrix(0 -1 1 0 150 75)", texts[2].attr["transform"], "5 up from 150, 20")
	assert.Equal(t, "東 up", texts[2].text)
	assert.Empty(t, texts[2].attr["class"])
	var length output
	length.lengths(Width(8, "東 up"))
	assert.Equal(t, length.String(), texts[2].attr["textLength"])
	assert.Equal(t, "#777", texts[3].attr["fill"], "what Pop restores")
	assert.Len(t, named(all, "image"), 1)
	assert.Equal(t, svg, written(t, SVG, drawing(shapes)))
}

// Elements of one style share it, and a line is as long as it needs to be.
func TestSVGIsShort(t *testing.T) {
	svg := written(t, SVG, Drawing{Width: 10, Height: 10, Draw: func(c vg.Canvas) {
		c.SetLineWidth(0.5)
		for i := range 3 {
			c.Stroke(vg.Path{{Type: vg.MoveComp, Pos: vg.Point{X: vg.Length(i)}}, {Type: vg.LineComp, Pos: vg.Point{X: vg.Length(i), Y: 1e-9}}})
		}
	}})
	_, body, _ := strings.Cut(svg, ">\n<g")
	assert.Equal(t, ` stroke="#000" stroke-width="0.5">
<path d="M0 10 0 10"/>
<path d="M1 10 1 10"/>
<path d="M2 10 2 10"/>
</g>
</svg>
`, body)
	assert.NotContains(t, svg, "labelledby")
}

// Whatever a text holds, the file is XML.
func TestSVGIsWellFormed(t *testing.T) {
	for _, s := range []string{"\x00\x1b[31m", "]]> <!-- & ' \"", "\xff\ufffe", "\u202e", "\n\t"} {
		d := saying(s)
		d.Title, d.Description = s, s
		d.Draw = func(c vg.Canvas) {
			c.FillString(Face(8), vg.Point{}, s)
			serif := fonts.Lookup(font.Font{Typeface: "Liberation", Variant: "Serif", Weight: 3, Style: 1}, 9)
			c.FillString(serif, vg.Point{}, s)
		}
		all := parse(t, written(t, SVG, d))
		require.Len(t, named(all, "text"), 2)
	}
}

// A place that is no number is an error in every vector format, not a broken file.
func TestNumbersAreFinite(t *testing.T) {
	for _, write := range []func(io.Writer, Drawing) error{SVG, PDF} {
		for _, bad := range []vg.Length{vg.Length(math.NaN()), vg.Length(math.Inf(1))} {
			err := write(io.Discard, drawing(func(c vg.Canvas) {
				c.Fill(vg.Path{{Type: vg.MoveComp}, {Type: vg.LineComp, Pos: vg.Point{X: bad}}})
			}))
			assert.ErrorIs(t, err, errNumber)
			assert.ErrorIs(t, write(io.Discard, drawing(func(c vg.Canvas) { c.FillString(Face(9), vg.Point{Y: bad}, "a") })), errNumber)
		}
	}
}
