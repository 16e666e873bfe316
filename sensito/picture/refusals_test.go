package picture_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/internal/blind"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// shifted returns marks moved by whole steps of the row, and the steps between them.
func (l lying) shifted(random *rand.Rand, first, last float64) picture.Row {
	e := l.marked(random, 0.1)
	x, y := (l.truth.Last.X-l.truth.First.X)/float64(l.steps), (l.truth.Last.Y-l.truth.First.Y)/float64(l.steps)
	e.First = picture.Point{X: e.First.X + first*x, Y: e.First.Y + first*y}
	e.Last = picture.Point{X: e.Last.X + last*x, Y: e.Last.Y + last*y}
	return picture.Row{Ends: e, Steps: l.steps + int(last-first)}
}

// TestStepBeyondMark holds that marks which are a whole step off are told where an edge shows it: of rows whose dense end has
// one to what surrounds it, both marks a step early are an edge beyond the last, both a step late a step that goes against
// the others, the last alone a step early an edge beyond it. Right marks are told nothing. That a first mark is off shows
// only where the first step has an outer edge, which film has not whose thin end goes on into base.
func TestStepBeyondMark(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 3))
	for range blind.Effort(t) {
		for form := range forms {
			row := layRow(random, form, 150)
			codes := func(first, last float64) []string {
				_, warnings, err := picture.Find(row.im, 0, row.shifted(random, first, last))
				require.NoError(t, err, "%s, %g %g", row.name, first, last)
				var out []string
				for _, w := range warnings {
					out = append(out, w.Code)
				}
				return out
			}
			assert.Empty(t, codes(0, 0), row.name)
			assert.Contains(t, codes(-1, -1), "step_beyond_mark", row.name)
			assert.Contains(t, codes(1, 1), "row_turns", row.name)
			assert.Contains(t, codes(0, -1), "step_beyond_mark", row.name)
		}
	}
}

// TestWrongCount holds that between right marks another number of steps is refused: edges lie elsewhere, too few are on the
// lattice, or its steps would end far from a mark.
func TestWrongCount(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 4))
	for form := range forms {
		row := layRow(random, form, 150)
		for _, more := range []int{-2, -1, 1, 2} {
			_, _, err := picture.Find(row.im, 0, picture.Row{Ends: row.marked(random, 0.1), Steps: row.steps + more})
			var unanswerable *sensito.Unanswerable
			if assert.True(t, errors.As(err, &unanswerable), "%s, %+d steps: %v", row.name, more, err) {
				assert.Contains(t, unanswerable.Hint, "count the steps")
			}
		}
	}
}

// TestNothingIsNoRow holds that noise, glass, a wedge without steps, and dirt are no row.
func TestNothingIsNoRow(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 5))
	for i := range 24 * blind.Effort(t) {
		im := &picture.Image{Width: 500, Height: 120, Bits: 16, Planes: []picture.Plane{{Name: "grey"}}}
		for range im.Height {
			for x := range im.Width {
				v := 0.3 + 0.05*random.NormFloat64()*float64(i%3)
				if i%2 == 0 {
					v *= math.Exp(-2 * float64(x) / 500)
				}
				im.Planes[0].Values = append(im.Planes[0].Values, uint16(65535*max(0, min(1, v))))
			}
		}
		_, _, err := picture.Find(im, 0, picture.Row{Ends: picture.Ends{First: picture.Point{X: 40, Y: 60}, Last: picture.Point{X: 460, Y: 60}}, Steps: 21})
		assert.Error(t, err)
	}
	_, err := picture.Propose(&picture.Image{Width: 40, Height: 3, Planes: []picture.Plane{{Values: make([]uint16, 120)}}}, 0, 21)
	assert.ErrorContains(t, err, "nothing in the picture looks like a row of 21 even steps")
}

// TestRefusedRows holds the words of what is refused.
func TestRefusedRows(t *testing.T) {
	s := lighttable.Alone(lighttable.Even(0.1, 0.15, 12))
	device := lighttable.Flatbed(60)
	im := s.Picture(device, 1)
	ends := s.Ends(0, 60)
	find := func(r picture.Row) (*picture.Lattice, error) {
		l, _, err := picture.Find(im, 0, r)
		return l, err
	}
	_, err := find(picture.Row{Ends: picture.Ends{First: picture.Point{X: -3, Y: 20}, Last: ends.Last}, Steps: 12})
	assert.EqualError(t, err, "the mark at -3,20 is outside the picture, which is 232 x 54 pixels")
	_, err = find(picture.Row{Ends: ends, Steps: 3})
	assert.ErrorContains(t, err, "3 steps are too few")
	_, err = find(picture.Row{Ends: ends, Steps: 12, PatchPx: -1})
	assert.ErrorContains(t, err, "a width of -1 pixels")
	_, err = find(picture.Row{Ends: ends, Steps: 50})
	assert.ErrorContains(t, err, "50 steps are 3.6 pixels each")
	_, err = find(picture.Row{Ends: picture.Ends{First: ends.First, Last: ends.First}, Steps: 12})
	assert.Error(t, err, "both marks in one place")
	_, _, err = picture.Find(im, 1, picture.Row{Ends: ends, Steps: 12})
	assert.ErrorContains(t, err, "no channel 2")
	_, err = picture.PatchAt(im, 2, picture.Point{X: 20, Y: 20}, 20)
	assert.ErrorContains(t, err, "no channel 3")
	_, err = picture.Propose(im, 3, 12)
	assert.ErrorContains(t, err, "no channel 4")

	l, err := find(picture.Row{Ends: ends, Steps: 12})
	require.NoError(t, err)
	_, _, err = l.Patches(im, 0)
	var few *sensito.Unanswerable
	require.ErrorAs(t, err, &few)
	assert.Regexp(t, `^step 1 has 1\d\d pixels to be read, and 200 are needed$`, few.Reason)
	assert.Equal(t, "picture it at 75 to the inch", few.Hint)
	im.About.PixelsPerInch = 0
	_, _, err = l.Patches(im, 0)
	require.ErrorAs(t, err, &few)
	assert.Regexp(t, `^picture it 1\.\d times as fine$`, few.Hint)
	_, err = picture.PatchAt(im, 0, picture.Point{X: 5, Y: 20}, 20)
	assert.EqualError(t, err, "what is to be read of the place at 5,20, at -5,10, is outside the picture, which is 232 x 54 pixels")
	_, _, err = l.Patch(im, 0, 40)
	assert.ErrorContains(t, err, "what is to be read of step 40")
}

// TestNarrowRow holds that steps longer than wide are found, and ones eight times as wide as long, whose edges lean by what
// the marks do not tell.
func TestNarrowRow(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 6))
	for _, c := range []struct{ step, across float64 }{{10, 4}, {3, 25}} {
		for range 4 {
			d := lighttable.Even(0.1, 0.12, 14)
			s := lighttable.Alone(d)
			s.Rows[0].Step, s.Rows[0].Across = c.step, c.across
			s.Width, s.Height = 14*c.step+24, c.across+14
			s.Rows[0].At = lighttable.Point{X: s.Width / 2, Y: s.Height / 2}
			s.Seed = random.Uint64()
			s = s.Turned(4*random.Float64() - 2)
			device := lighttable.Flatbed(150)
			row := lying{steps: 14, scene: s, perInch: 150, device: device, im: s.Picture(device, random.Uint64()), truth: s.Ends(0, 150)}
			l, _, err := picture.Find(row.im, 0, picture.Row{Ends: row.marked(random, 0.15), Steps: 14})
			require.NoError(t, err)
			along, across := row.off(l.Ends)
			assert.Less(t, along, 0.02)
			assert.Less(t, across, 0.1)
			assert.InEpsilon(t, c.across*150/25.4, l.Width, 0.06)
			corners := s.Corners(0, 6, 150)
			for _, p := range l.Corners(7) {
				nearest := math.Inf(1)
				for _, q := range corners {
					nearest = min(nearest, math.Hypot(p.X-q.X, p.Y-q.Y))
				}
				assert.Less(t, nearest, 1.5, "a corner of step 7, in pixels")
			}
		}
	}
}

// TestHolesBesideSteps holds that the row ends sideways where steps do, and not at the edge of the film: no hole is read.
func TestHolesBesideSteps(t *testing.T) {
	for _, masked := range []bool{false, true} {
		s := lighttable.Alone(lighttable.Even(0.2, 0.12, 20))
		s.Rows[0].Perforated, s.Rows[0].Margin, s.Rows[0].Grain = true, 5, 0
		s.Height += 7
		s.Rows[0].At.Y += 3.5
		s.Masked = masked
		device := plain(150)
		l, patches, warnings := patchesOf(t, s, device, s.Picture(device, 1))
		assert.Empty(t, warnings)
		assert.InEpsilon(t, s.Rows[0].Across*150/25.4, l.Width, 0.04)
		assert.InEpsilon(t, 0.6*l.Width, l.PatchWidth, 1e-9)
		for i, p := range patches {
			assert.InDelta(t, s.Rows[0].Density[i], density(p, 0.9), 0.001, "masked %t, step %d", masked, i+1)
			assert.Zero(t, p.SetAside)
		}
		fog, _, err := l.Patch(s.Picture(device, 1), 0, 0)
		require.NoError(t, err)
		assert.InDelta(t, 0.2, density(fog, 0.9), 0.001, "base before the first step")
	}
}

// TestWidthAsked holds that a width somebody asks for is read.
func TestWidthAsked(t *testing.T) {
	s := smooth(lighttable.Even(0.2, 0.12, 12))
	device := plain(150)
	im := s.Picture(device, 1)
	l, _, err := picture.Find(im, 0, picture.Row{Ends: s.Ends(0, 150), Steps: 12, PatchPx: 31})
	require.NoError(t, err)
	assert.Equal(t, 31.0, l.PatchWidth)
	c := l.PatchCorners(3)
	assert.InDelta(t, 31, math.Hypot(c[3].X-c[0].X, c[3].Y-c[0].Y), 1e-9)
	assert.InDelta(t, 0.6*l.Pitch(), math.Hypot(c[1].X-c[0].X, c[1].Y-c[0].Y), 1e-6)
	assert.InDelta(t, math.Sqrt(31*0.6*l.Pitch()), l.Side(), 1e-6)
}

// TestAnyPicture asks for rows in pictures of any size and light, with marks anywhere: nothing panics, and what is found has
// its patches in the picture or an error.
func TestAnyPicture(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	for range 60 * blind.Effort(t) {
		im := &picture.Image{Width: 1 + random.IntN(120), Height: 1 + random.IntN(60), Bits: 8, Planes: make([]picture.Plane, 1)}
		step := 1 + random.IntN(12)
		level := uint16(0)
		for i := range im.Width * im.Height {
			if i%im.Width%step == 0 {
				level = uint16(random.IntN(1 << 16))
			}
			im.Planes[0].Values = append(im.Planes[0].Values, level)
		}
		at := func() picture.Point {
			return picture.Point{X: random.Float64() * float64(im.Width), Y: random.Float64() * float64(im.Height)}
		}
		steps := 4 + random.IntN(12)
		l, _, err := picture.Find(im, 0, picture.Row{Ends: picture.Ends{First: at(), Last: at()}, Steps: steps, PatchPx: float64(random.IntN(3) * 10)})
		if err == nil {
			patches, _, err := l.Patches(im, 0)
			assert.True(t, err != nil || len(patches) == steps)
		}
		if p, err := picture.PatchAt(im, 0, at(), 40*random.Float64()); err == nil {
			assert.False(t, math.IsNaN(p.Mean(nil)) || math.IsNaN(p.MeanSD(nil, 8)))
		}
		_, _ = picture.Propose(im, 0, steps)
	}
}

// BenchmarkLargePicture finds a row in 24 megapixels and reads it, and proposes it. On one core of 3 GHz in 0.1, 0.3 and 0.6 s.
func BenchmarkLargePicture(b *testing.B) {
	s := lighttable.Alone(lighttable.Even(0.05, 0.12, 21))
	s.Height = s.Width / 1.5
	s.Rows[0].At.Y = s.Height / 2
	s.Rows[0].Across = 25
	d := lighttable.Flatbed(6000 / s.Width * 25.4)
	d.Glare = nil
	im := s.Picture(d, 1)
	row := picture.Row{Ends: s.Ends(0, d.PerInch), Steps: 21}
	l, _, err := picture.Find(im, 0, row)
	require.NoError(b, err)
	b.Run("do=find", func(b *testing.B) {
		for b.Loop() {
			_, _, _ = picture.Find(im, 0, row)
		}
	})
	b.Run("do=read", func(b *testing.B) {
		for b.Loop() {
			_, _, _ = l.Patches(im, 0)
		}
	})
	b.Run("do=propose", func(b *testing.B) {
		for b.Loop() {
			_, _ = picture.Propose(im, 0, 21)
		}
	})
}
