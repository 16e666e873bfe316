package canvas

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// A letter that the built-in fonts lack is as wide as its cell, whatever draws it.
func TestWidth(t *testing.T) {
	f := Face(20)
	for _, s := range []string{"AVAV To.", "Пленка", "Łódź", "Ωέ", ""} {
		assert.InDelta(t, float64(f.Width(s)), float64(Width(20, s)), 1e-9, s)
	}
	for s, em := range map[string]vg.Length{"東京": 2, "カ": 1, "ｱ": 0.6, "한": 1, "ア\u3099": 1, "क\u0947": 0.6, "\U00020bb7": 1, "\ufe0f": 0} {
		assert.InDelta(t, float64(em*20), float64(Width(20, s)), 1e-9, s)
	}
	assert.InDelta(t, float64(Width(20, "é")), float64(Width(20, "e\u0301")), 1e-9, "of a file system that parts letters from accents")
	assert.InDelta(t, float64(Width(20, "a")+20+Width(20, "b")), float64(Width(20, "a東b")), 1e-9)
}

// What gonum/plot sets is measured as what is set here.
func TestTextHandler(t *testing.T) {
	style := text.Style{Font: font.From(Sans, 12), Handler: TextHandler, XAlign: text.XRight, YAlign: text.YBottom}
	assert.InDelta(t, float64(Width(12, "東 1.5")), float64(style.Width("東 1.5")), 1e-9)
	plain := style
	plain.Handler = text.Plain{Fonts: fonts}
	for _, rotation := range []float64{0, 0.5} {
		style.Rotation, plain.Rotation = rotation, rotation
		draw := func(s text.Style) string {
			return written(t, SVG, drawing(func(c vg.Canvas) { s.Handler.Draw(c, "1.5\nstops\n", s, vg.Point{X: 80, Y: 40}) }))
		}
		assert.Equal(t, draw(plain), draw(style))
	}
}

// A letter is set in the middle of its cell, and text goes on behind the cell.
func TestPieces(t *testing.T) {
	all, err := pieces(Face(10), "ab東クc", Drawing{Fallback: fallback(t, "東ク")}, "PDF")
	require.NoError(t, err)
	require.Len(t, all, 4)
	w := Width(10, "ab")
	for i, want := range []struct {
		text string
		at   vg.Length
	}{{"ab", 0}, {"東", w + 2.5}, {"ク", w + 12.5}, {"c", w + 20}} { // glyphs of 5 points in cells of 10
		assert.Equal(t, want.text, all[i].text)
		assert.InDelta(t, float64(want.at), float64(all[i].at), 1e-9, want.text)
	}
	all, err = pieces(Face(10), "x\u3000y", Drawing{}, "PDF")
	require.NoError(t, err, "a blank needs no font")
	assert.Len(t, all, 2)
	assert.InDelta(t, float64(Width(10, "x"))+10, float64(all[1].at), 1e-9)
	all, err = pieces(Face(10), "x\ufe0fy", Drawing{}, "PDF")
	require.NoError(t, err, "a selector of a variant is no letter")
	assert.Len(t, all, 2)
}

// Scripts from the right are set from the right.
func TestLeftToRight(t *testing.T) {
	for s, want := range map[string]string{"Quay 12": "Quay 12", "at שלום": "at םולש", "שלום עולם, Quay": "םלוע םולש, Quay"} {
		assert.Equal(t, want, leftToRight(s))
	}
}

// A letter that cannot be drawn is named, and the file not written.
func TestMissingLetters(t *testing.T) {
	d := saying("Larkfield", "Süd 東京")
	for format, write := range map[string]func(io.Writer, Drawing) error{"PNG": PNG, "PDF": PDF} {
		d.Fallback = nil
		var out bytes.Buffer
		err := write(&out, d)
		var lost *MissingLetterError
		require.ErrorAs(t, err, &lost)
		assert.Equal(t, MissingLetterError{Letter: '東', Text: "Süd 東京", Format: format}, *lost)
		assert.EqualError(t, err, `the letter '東' (U+6771) of "Süd 東京" cannot be drawn in a `+format+`: use --font FILE.ttf or an .svg`)
		assert.Zero(t, out.Len())

		d.Fallback = fallback(t, "東")
		err = write(&out, d)
		require.ErrorAs(t, err, &lost)
		assert.Equal(t, '京', lost.Letter)
		assert.EqualError(t, err, `the letter '京' (U+4EAC) of "Süd 東京" is not in the font without a name either: use another --font FILE.ttf or an .svg`)
		assert.Zero(t, out.Len())

		empty, err := ParseFont(fontOf(map[rune]outline{'東': square, '京': {advance: 500}}))
		require.NoError(t, err)
		d.Fallback = empty
		require.ErrorAs(t, write(&out, d), &lost, "a glyph without an outline, as of coloured pictures")
		assert.Equal(t, '京', lost.Letter)

		d.Fallback = fallback(t, "東京")
		require.NoError(t, write(&out, d))
	}
}

func TestParseFont(t *testing.T) {
	for _, data := range []string{"", "no font", strings.Repeat("\x00", 100), string(fontOf(nil)[:80])} {
		_, err := ParseFont([]byte(data))
		require.ErrorContains(t, err, "it is no TrueType or OpenType font that can be read")
	}
}

// An outline lies where the letters are filled, kerned alike, and passes over letters that the face lacks.
func TestOutline(t *testing.T) {
	f := Face(100)
	extent := func(s string) (left, right, low, high vg.Length) {
		path := Outline(f, vg.Point{X: 10, Y: 20}, s)
		require.NotEmpty(t, path)
		left, right, low, high = path[0].Pos.X, path[0].Pos.X, path[0].Pos.Y, path[0].Pos.Y
		for _, c := range path {
			if c.Type != vg.CloseComp {
				left, right, low, high = min(left, c.Pos.X), max(right, c.Pos.X), min(low, c.Pos.Y), max(high, c.Pos.Y)
			}
		}
		return left, right, low, high
	}
	bounds, _, ok := f.FontFace(72).GlyphBounds('8')
	require.True(t, ok)
	left, right, low, high := extent("8")
	for _, pair := range [][2]float64{{float64(bounds.Min.X) / 64, float64(left) - 10}, {float64(bounds.Max.X) / 64, float64(right) - 10},
		{-float64(bounds.Max.Y) / 64, float64(low) - 20}, {-float64(bounds.Min.Y) / 64, float64(high) - 20}} {
		assert.InDelta(t, pair[0], pair[1], 1.5)
	}
	_, one, _, _ := extent("V")
	_, both, _, _ := extent("AV")
	assert.InDelta(t, float64(Width(100, "AV")-Width(100, "V")), float64(both-one), 0.1)
	assert.Less(t, float64(both-one), float64(f.Width("A"))-1, "kerned")
	assert.Empty(t, Outline(f, vg.Point{}, "東"))
	closed := 0
	for _, c := range Outline(f, vg.Point{}, "8") {
		if c.Type == vg.CloseComp {
			closed++
		}
	}
	assert.Equal(t, 3, closed, "the outside and two holes")
}
