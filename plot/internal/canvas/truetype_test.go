package canvas

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// A font that is written has the outlines that were read.
func TestTrueType(t *testing.T) {
	from := Face(1).Face
	var buf sfnt.Buffer
	glyphs := map[rune]outline{}
	for _, r := range "AOg %Ж½é" {
		i, err := from.GlyphIndex(&buf, r)
		require.NoError(t, err)
		glyphs[r], err = outlineOf(from, &buf, i)
		require.NoError(t, err)
	}
	file := fontOf(glyphs)
	var whole uint32
	for i := 0; i < len(file); i += 4 {
		whole += binary.BigEndian.Uint32(file[i:])
	}
	assert.EqualValues(t, 0xb1b0afba, whole, "the sum of a font file")
	back, err := opentype.Parse(file)
	require.NoError(t, err)
	for r, want := range glyphs {
		i, err := back.GlyphIndex(&buf, r)
		require.NoError(t, err)
		got, err := outlineOf(back, &buf, i)
		require.NoError(t, err)
		assert.Equal(t, want, got, string(r))
	}
}

// The curves of OpenType fonts with cubic outlines are followed within a unit.
func TestQuadratics(t *testing.T) {
	points := [4]fixed.Point26_6{{X: 0, Y: 0}, {X: 0, Y: 276}, {X: 224, Y: 500}, {X: 500, Y: 500}}
	from := points[0]
	for i, q := range quadratics(points[0], points[1], points[2], points[3]) {
		for k := range 11 {
			s := float64(k) / 10
			at := func(axis func(fixed.Point26_6) fixed.Int26_6) (quadratic, cubic float64) {
				u := 1 - s
				quadratic = u*u*float64(axis(from)) + 2*u*s*float64(axis(q[0])) + s*s*float64(axis(q[1]))
				w := (float64(i) + s) / 4
				v := 1 - w
				cubic = v*v*v*float64(axis(points[0])) + 3*v*v*w*float64(axis(points[1])) + 3*v*w*w*float64(axis(points[2])) + w*w*w*float64(axis(points[3]))
				return quadratic, cubic
			}
			qx, cx := at(func(p fixed.Point26_6) fixed.Int26_6 { return p.X })
			qy, cy := at(func(p fixed.Point26_6) fixed.Int26_6 { return p.Y })
			assert.Less(t, math.Hypot(qx-cx, qy-cy), 1.0)
		}
		from = q[1]
	}
	assert.Equal(t, points[3], from)
}
