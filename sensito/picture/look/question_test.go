package look

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// perInch is the resolution of the pictures here, low so that they are quick to make.
const perInch = 75

var tabletSteps = lighttable.Even(0.05, 0.15, 21)

// film is a strip in the order of a wedge, its densest step first.
func film() []float64 {
	var out []float64
	for i := range 21 {
		x := 4 * (1 - float64(i)/20)
		out = append(out, 0.12+2.3/(1+math.Exp(-2.2*(x-2))))
	}
	return out
}

// bed is a strip above a tablet, masked.
func bed(strip []float64) lighttable.Scene {
	s := lighttable.Beside(strip, tabletSteps).WithPlaces()
	s.Masked = true
	return s
}

// askedOf is all that can be asked of such a scene.
func askedOf(s lighttable.Scene) Question {
	fog, tape, clear := s.Pixel(s.Fog, perInch), s.Pixel(s.Tape, perInch), s.Pixel(s.Clear, perInch)
	return Question{Rows: []picture.Row{{Ends: s.Ends(0, perInch), Steps: len(s.Rows[0].Density)}}, Fog: []picture.Place{{At: fog}},
		Tablet:    &picture.Tablet{Density: tabletSteps, Known: picture.Certificate},
		TabletRow: picture.Row{Ends: s.Ends(1, perInch), Steps: len(tabletSteps)}, Name: "bed", Opaque: &tape, Clear: &clear}
}

func TestQuestionInOneFrame(t *testing.T) {
	s := bed(film())
	seen, err := askedOf(s).Read(s.Picture(lighttable.Flatbed(perInch), 1))
	require.NoError(t, err)
	require.Len(t, seen.Strips, 1)
	require.Len(t, seen.Strips[0].Densities, 21)
	read := 0
	for i, d := range seen.Strips[0].Densities {
		truth := s.Rows[0].Density[i]
		if math.IsNaN(d.Value) {
			assert.Greater(t, truth, 2.0, "step %d: %s", d.Step, d.Why)
			continue
		}
		read++
		assert.InDelta(t, truth, d.Value, 0.006+0.01*max(0, truth-1.5)+3*d.SD, "step %d", d.Step)
	}
	assert.Greater(t, read, 17)
	require.NotNil(t, seen.Strips[0].Fog)
	assert.InDelta(t, s.Rows[0].Base, seen.Strips[0].Fog.Value, 0.01)
	assert.Equal(t, "bed", seen.Calibration.Name)
	assert.Equal(t, "grey", seen.Calibration.Picture.Channel)
	assert.NotNil(t, seen.Opaque)
}

// An edge a step beyond the marks may mean that they are a step off, but not where base plus
// fog is said to be read there.
func TestFogBesideSteps(t *testing.T) {
	steps := film()
	slices.Reverse(steps)
	s := bed(append(steps, 0.5)) // fogged beyond the base around it, so that its outer edge is seen
	q := askedOf(s)
	whole := q.Rows[0].Ends
	part := func(a, b float64) float64 { return a + (b-a)*21/22 }
	q.Rows[0] = picture.Row{Ends: picture.Ends{First: whole.First, Last: picture.Point{X: part(whole.First.X, whole.Last.X), Y: part(whole.First.Y, whole.Last.Y)}}, Steps: 21}
	codes := func(fog int) (out []string) {
		q.Fog = []picture.Place{{Step: fog, ByStep: true}}
		seen, err := q.Read(s.Picture(lighttable.Flatbed(perInch), 1))
		require.NoError(t, err)
		for _, w := range seen.Strips[0].Warnings {
			out = append(out, w.Code)
		}
		return out
	}
	assert.Contains(t, codes(1), beyondMark)
	assert.NotContains(t, codes(22), beyondMark)
}

// Light that falls off is told, and that nothing shows whether it does; an empty picture answers both.
func TestEvenness(t *testing.T) {
	fallen := 0.0 // how the empty table falls off, where that is other
	codes := func(corners float64, margin float64, empty bool) []string {
		s := bed(film())
		for i := range s.Rows {
			s.Rows[i].Margin = margin
		}
		d := lighttable.Camera(2 * perInch)
		d.Uneven = corners
		im := s.Picture(d, 1)
		if empty {
			var err error
			d.Uneven = cmp.Or(fallen, corners)
			im, err = im.Over(&picture.Empty{Image: s.Empty().Picture(d, 2), SHA256: "table"})
			require.NoError(t, err)
		}
		q := askedOf(s)
		q.Rows[0].Ends, q.TabletRow.Ends, q.Fog, q.Opaque, q.Clear = s.Ends(0, 2*perInch), s.Ends(1, 2*perInch), nil, nil, nil
		seen, err := q.Read(im)
		require.NoError(t, err)
		var out []string
		for _, w := range seen.Warnings {
			if strings.HasPrefix(w.Code, "light_") {
				out = append(out, w.Message())
			}
		}
		return out
	}
	assert.Empty(t, codes(0.01, 1.5, false))
	told := codes(0.08, 1.5, false)
	require.Len(t, told, 1)
	assert.Regexp(t, `^the light differs by [23]\.\d % along the strip: `, told[0])
	told = codes(0.01, 0, false)
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "nothing beside the steps tells whether the light is even")
	assert.Empty(t, codes(0.08, 1.5, true))
	assert.Empty(t, codes(0.08, 0, true))
	fallen = 0.02 // of another place
	told = codes(0.08, 1.5, true)
	require.Len(t, told, 1)
	assert.Regexp(t, `^made even by the empty table, the light still differs by [12]\.\d %`, told[0])
}
