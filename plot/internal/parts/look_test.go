package parts

import (
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/vg"
)

func TestSymbolsAreOfOneArea(t *testing.T) {
	for _, s := range symbols {
		if s.Sides == 0 {
			continue
		}
		p := s.Outline(vg.Point{})
		var area float64
		for i := range s.Sides {
			a, b := p[i].Pos, p[(i+1)%s.Sides].Pos
			area += float64(a.X*b.Y-b.X*a.Y) / 2
		}
		assert.InDelta(t, math.Pi*float64(SymbolRadius*SymbolRadius), area, 1e-9)
	}
}

// lightness returns CIE L* of a colour, of 100.
func lightness(l Look) float64 {
	c, _ := colorful.MakeColor(l.Color)
	_, _, light := c.Hcl()
	return 100 * light
}

func sameLine(a, b Look) bool {
	return a.Width == b.Width && assert.ObjectsAreEqual(a.Dashes, b.Dashes)
}

// No two of as many as differ may look alike in black and white.
func TestUnorderedDifferWithoutColour(t *testing.T) {
	looks := Unordered(Different)
	for i, a := range looks {
		assert.Less(t, lightness(a), 45.0, "too light for print")
		for _, b := range looks[:i] {
			assert.NotEqual(t, a.Symbol, b.Symbol)
			assert.False(t, sameLine(a, b))
		}
	}
}

// What has an order darkens steadily, and neighbours are told apart in grey by 8 of
// lightness or by the line.
func TestOrderedDarkens(t *testing.T) {
	for n := 2; n <= 24; n++ {
		looks := Ordered(n)
		for i := 1; i < n; i++ {
			step := lightness(looks[i-1]) - lightness(looks[i])
			assert.Greater(t, step, 0.5, "%d of %d", i, n)
			assert.True(t, step >= 8 || !sameLine(looks[i-1], looks[i]), "%d of %d: %.1f apart", i, n, step)
		}
		assert.InDelta(t, 100*lightest, lightness(looks[0]), 1.5)
		assert.InDelta(t, 100*darkest, lightness(looks[n-1]), 1.5)
	}
	assert.InDelta(t, 100*darkest, lightness(Ordered(1)[0]), 1.5)
}

// What stood out from white paper stands out from a dark page, in the same order of
// contrast.
func TestDarkTheme(t *testing.T) {
	dark, err := ThemeNamed("dark")
	assert.NoError(t, err)
	assert.True(t, dark.dark)
	last := -1.0
	for _, c := range []Colour{Paper, GridGrey, MarkGrey, BandGrey, Faint, Ink} {
		on, _ := colorful.MakeColor(c.onDark())
		_, _, light := on.Hcl()
		assert.Greater(t, light, last, c.name)
		last = light
	}
	_, err = ThemeNamed("sepia")
	assert.EqualError(t, err, `"sepia" is not a theme of figures; use print, slide, dark`)
}

func TestTone(t *testing.T) {
	assert.Equal(t, uint8(255), Tone(0).Y)
	assert.Equal(t, uint8(255), Tone(-0.1).Y)
	// 18 % grey is 118 of 255 in sRGB, IEC 61966-2-1.
	assert.Equal(t, uint8(118), Tone(-math.Log10(0.18)).Y)
	assert.Equal(t, uint8(0), Tone(6).Y)
}
