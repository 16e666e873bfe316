package canvas

import (
	"bytes"
	"image/color"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var onPage = OnPage{ID: "tones", Class: "at-wide", Margin: 5}

func writtenForPage(t testing.TB, d Drawing) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, Page(&out, d, onPage))
	return out.String()
}

func box(x, y, side vg.Length) vg.Path {
	return vg.Rectangle{Min: vg.Point{X: x, Y: y}, Max: vg.Point{X: x + side, Y: y + side}}.Path()
}

// On a page colours are classes, and tones are what they are upon something that a
// filter shows them by.
func TestPage(t *testing.T) {
	svg := writtenForPage(t, drawing(func(c vg.Canvas) {
		c.Scale(2, 2)
		c.SetColor(classed{color.Black})
		c.SetLineWidth(0.5)
		c.SetLineDash([]vg.Length{3, 2}, 0)
		c.Stroke(box(10, 10, 10))
		c.Fill(box(10, 10, 10))
		c.SetColor(color.Gray{Y: 0x77})
		c.Fill(box(30, 10, 10))
		c.SetColor(classed{color.Black})
		FillAligned(draw.Canvas{Canvas: c}, Face(7), vg.Point{X: 20, Y: 30}, -1, "-0.5 (-1 to x-2)")
		FillAligned(&draw.Canvas{Canvas: c}, Face(7), vg.Point{X: 20, Y: 35}, -0.5, "mid")
		FillIn(c, Face(7), vg.Point{X: 20, Y: 40}, 0, 12, "東")
		c.FillString(Face(7), vg.Point{X: 5, Y: 5}, "  ")
		c.Push()
		c.Rotate(math.Pi / 2)
		FillAligned(c, Face(7), vg.Point{X: 10, Y: -10}, -0.5, "up")
		c.Pop()
	}))
	all := parse(t, svg)
	root := all[0]
	assert.Equal(t, map[string]string{"class": "at-wide", "viewBox": "5 5 190 90", "role": "img", "aria-labelledby": "tones-title tones-desc", "fill": "none"}, root.attr)
	assert.Equal(t, "tones-title", named(all, "title")[0].attr["id"])
	assert.Equal(t, "By <lamp> & moon", named(all, "desc")[0].text)
	for _, never := range []string{"style", "font-family", "<?xml", "xmlns", "transform=\"matrix(2"} {
		assert.NotContains(t, svg, never)
	}
	paths := named(all, "path")
	require.Len(t, paths, 4)
	line, area, behind, tone := paths[0].attr, paths[1].attr, paths[2].attr, paths[3].attr
	assert.Equal(t, "currentColor", line["stroke"])
	assert.Equal(t, `ink "faint"`, line["class"])
	assert.Equal(t, []string{"6 4", ""}, []string{line["stroke-dasharray"], line["stroke-width"]}, "a width of 1 need not be said")
	assert.Equal(t, "M20 80 40 80 40 60 20 60Z", line["d"], "twice as large")
	assert.Equal(t, "currentColor", area["fill"])
	assert.Equal(t, "patch", tone["class"])
	assert.Equal(t, "#777", tone["fill"])
	assert.Equal(t, "redback", behind["class"])
	assert.Equal(t, tone["d"], behind["d"])

	texts := named(all, "text")
	require.Len(t, texts, 4, "blanks are not text")
	assert.Equal(t, "−0.5 (−1 to x-2)", texts[0].text)
	assert.Equal(t, []string{"40", "40", "end", "14"}, []string{texts[0].attr["x"], texts[0].attr["y"], texts[0].attr["text-anchor"], texts[0].attr["font-size"]})
	assert.Equal(t, "middle", texts[1].attr["text-anchor"])
	assert.Equal(t, []string{"24", "spacingAndGlyphs", ""}, []string{texts[2].attr["textLength"], texts[2].attr["lengthAdjust"], texts[2].attr["text-anchor"]})
	assert.Equal(t, []string{"matrix(0 -1 1 0 20 80)", "14", "middle"}, []string{texts[3].attr["transform"], texts[3].attr["font-size"], texts[3].attr["text-anchor"]})
}

// Elsewhere a text that is aligned begins where its width in the built-in font has it.
func TestFillAligned(t *testing.T) {
	svg := written(t, SVG, drawing(func(c vg.Canvas) {
		FillAligned(c, Face(10), vg.Point{X: 100, Y: 50}, -0.5, "width")
	}))
	var want output
	want.attribute("x", 100-Width(10, "width")/2)
	assert.Contains(t, svg, want.String())
	assert.NotContains(t, svg, "anchor")
}

// Whatever stands in a text, it stays text.
func TestPageEscapes(t *testing.T) {
	const hostile = `</text><script>alert("x")</script>'&` + "\x00\x1b]\ufffe"
	d := saying(hostile)
	d.Title, d.Description = hostile, hostile
	svg := writtenForPage(t, d)
	assert.NotContains(t, svg, "<script")
	for _, name := range []string{"title", "desc", "text"} {
		found := named(parse(t, svg), name)
		require.Len(t, found, 1)
		assert.True(t, strings.HasPrefix(found[0].text, `</text><script>alert("x")</script>'&`), found[0].text)
	}
}

func TestPageRefuses(t *testing.T) {
	for _, on := range []OnPage{{ID: `a" onload="x`, Class: "a"}, {ID: "", Class: "a"}, {ID: "a", Class: "a b"}, {ID: "1", Class: "a"}} {
		var out bytes.Buffer
		assert.ErrorContains(t, Page(&out, saying("a"), on), "no name")
		assert.Zero(t, out.Len())
	}
	err := Page(io.Discard, drawing(func(c vg.Canvas) { c.Fill(box(vg.Length(math.NaN()), 0, 1)) }), onPage)
	assert.ErrorIs(t, err, errNumber)
}
