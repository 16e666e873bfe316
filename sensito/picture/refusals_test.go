package picture_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/lighttable"
	"sensito/sensito/picture"
)

// TestStepBeyondMark holds that a row marked a whole step off is told wherever an edge lies a whole step beyond a mark, and that
// right marks are not.
func TestStepBeyondMark(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 3))
	var told, quiet, n int
	shifts := [][2]float64{{0, 0}, {1, 1}, {-1, -1}, {1, 0}, {0, -1}}
	count := make([]int, len(shifts))
	for range blind.Effort(t) {
		for form := range forms {
			row := layRow(random, form, 150)
			for i, shift := range shifts {
				e := row.marked(random, 0.1)
				step := picture.Point{X: (row.truth.Last.X - row.truth.First.X) / float64(row.steps), Y: (row.truth.Last.Y - row.truth.First.Y) / float64(row.steps)}
				e.First.X, e.First.Y = e.First.X+shift[0]*step.X, e.First.Y+shift[0]*step.Y
				e.Last.X, e.Last.Y = e.Last.X+shift[1]*step.X, e.Last.Y+shift[1]*step.Y
				steps := row.steps + int(shift[1]-shift[0])
				_, warnings, err := picture.Find(row.im, 0, picture.Row{Ends: e, Steps: steps})
				require.NoError(t, err, "%s, %v", row.name, shift)
				t.Log(row.name, shift, warnings)
				if len(warnings) > 0 {
					count[i]++
				}
			}
			n++
		}
	}
	t.Log(n, told, quiet, count)
}

// wrongly returns why a row of another number of steps between right marks is refused.
func TestWrongCount(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 4))
	for form := range forms {
		row := layRow(random, form, 150)
		for _, more := range []int{-2, -1, 1, 2} {
			l, w, err := picture.Find(row.im, 0, picture.Row{Ends: row.marked(random, 0.1), Steps: row.steps + more})
			if err != nil {
				t.Log(row.name, more, err)
			} else {
				t.Log(row.name, more, "FOUND", l.Edges, l.Spread, w)
			}
		}
	}
}

// TestNothingIsNoRow holds that noise, a wedge without steps, and empty glass are refused.
func TestNothingIsNoRow(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 5))
	edges := map[int]int{}
	for i := range 100 {
		im := &picture.Image{Width: 500, Height: 120, Bits: 16, Planes: []picture.Plane{{Name: "grey"}}}
		for y := range im.Height {
			for x := range im.Width {
				v := 0.3 + 0.05*random.NormFloat64()*float64(i%3)
				if i%2 == 0 {
					v *= math.Exp(-2 * float64(x) / 500)
				}
				_ = y
				im.Planes[0].Values = append(im.Planes[0].Values, uint16(65535*max(0, min(1, v))))
			}
		}
		l, _, err := picture.Find(im, 0, picture.Row{Ends: picture.Ends{First: picture.Point{X: 40, Y: 60}, Last: picture.Point{X: 460, Y: 60}}, Steps: 21})
		if err == nil {
			edges[l.Edges]++
		} else {
			edges[-1]++
		}
	}
	assert.Equal(t, map[int]int{-1: 100}, edges)
}

func TestTimeOfALargePicture(t *testing.T) {
	row := layRow(rand.New(rand.NewPCG(1, 2)), 0, 75)
	s := row.scene
	s = lighttable.Alone(lighttable.Even(0.05, 0.15, 21))
	s.Height = s.Width / 1.5
	s.Rows[0].At.Y = s.Height / 2
	s.Rows[0].Across = 25
	d := lighttable.Flatbed(6000 / s.Width * 25.4)
	d.Glare = nil
	begin := time.Now()
	im := s.Picture(d, 1)
	t.Log(im.Width, im.Height, time.Since(begin))
	begin = time.Now()
	l, w, err := picture.Find(im, 0, picture.Row{Ends: s.Ends(0, d.PerInch), Steps: 21})
	require.NoError(t, err)
	t.Log(time.Since(begin), w, l)
	_, w, err = l.Patches(im, 0)
	t.Log(time.Since(begin), w, err)
	begin = time.Now()
	e, err := picture.Propose(im, 0, 21)
	t.Log(time.Since(begin), e, err)
}
