package picture_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/internal/blind"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// TestProposals counts how often rows that nobody marked are proposed where they are: a third of the pictures have a tablet
// below the row. Off by whole steps, or not at all, are at most one in twenty.
func TestProposals(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 1))
	var right, whole, other, more, wrong, n int
	for range blind.Effort(t) {
		for form := range forms {
			row := layRow(random, form, []float64{75, 150}[random.IntN(2)])
			n++
			all, err := picture.Propose(row.im, 0, row.steps)
			if err != nil {
				t.Log(row.name, err)
				other++
				continue
			}
			best, acrossBest := math.Inf(1), 0.0
			for _, e := range all {
				if dx, dy := row.truth.Last.X-row.truth.First.X, row.truth.Last.Y-row.truth.First.Y; dx*(e.Last.X-e.First.X)+dy*(e.Last.Y-e.First.Y) < 0 {
					e.First, e.Last = e.Last, e.First
				}
				if along, across := row.off(e); math.Hypot(along, across) < best {
					best, acrossBest = math.Hypot(along, across), across
				}
			}
			more += len(all) - 1
			if tablet := row.steps == 21 && len(row.scene.Rows) == 2; len(all) > 1 && !tablet || len(all) > 2 {
				wrong++
				t.Logf("%s: %d rows", row.name, len(all))
			}
			switch {
			case best < 0.05:
				right++
				continue
			case acrossBest < 0.2 && math.Abs(best-math.Round(best)) < 0.1:
				whole++
			default:
				other++
			}
			t.Logf("%-80s off %.3f across %.3f of %d", row.name, best, acrossBest, len(all))
		}
	}
	t.Logf("of %d rows %d right, %d off by whole steps, %d otherwise or not at all; %d further rows proposed, in %d pictures where there is none", n, right, whole, other, more, wrong)
	assert.LessOrEqual(t, whole+other, max(1, n/20))
	assert.LessOrEqual(t, wrong, max(3, n/4))
}

// TestProposedSheet holds that of a sheet of strips below each other, of growing contrast, each is proposed where it is, and
// nothing else: neither a row across them nor one on the edge of another.
func TestProposedSheet(t *testing.T) {
	for _, c := range []struct {
		masked  bool
		perInch float64
	}{{true, 150}, {false, 75}} {
		var strips [][]float64
		for i := range 6 {
			d := make([]float64, 21)
			for k := range d {
				d[k] = 0.12 + (0.45+0.08*float64(i))*0.25*math.Log1p(math.Exp((2.3+0.05*float64(i)-0.15*float64(k))/0.25))
			}
			strips = append(strips, d)
		}
		s := lighttable.Several(strips...)
		s.Masked, s.Dust = c.masked, 20
		s = s.Turned(0.7)
		all, err := picture.Propose(s.Picture(lighttable.Flatbed(c.perInch), 3), 0, 21)
		require.NoError(t, err)
		require.Len(t, all, len(strips), "masked %v", c.masked)
		for i, e := range all {
			truth := s.Ends(i, c.perInch)
			assert.Less(t, math.Hypot(e.First.X-truth.First.X, e.First.Y-truth.First.Y), 1.5, "strip %d", i+1)
			assert.Less(t, math.Hypot(e.Last.X-truth.Last.X, e.Last.Y-truth.Last.Y), 1.5, "strip %d", i+1)
		}
	}
}

// TestProposedSkew holds that a narrow row that lies askew by more than a band is wide is proposed.
func TestProposedSkew(t *testing.T) {
	for _, degrees := range []float64{-4.6, 4.6}[:min(2, blind.Effort(t))] {
		s := lighttable.Alone(lighttable.Even(0.1, 0.08, 31))
		s.Rows[0].Across = 6
		s.Height = 100
		s.Rows[0].At.Y = 50
		s = s.Turned(degrees)
		all, err := picture.Propose(s.Picture(lighttable.Flatbed(100), 1), 0, 31)
		require.NoError(t, err)
		require.Len(t, all, 1)
		truth := s.Ends(0, 100)
		assert.Less(t, math.Hypot(all[0].First.X-truth.First.X, all[0].First.Y-truth.First.Y), 1.0)
		assert.Less(t, math.Hypot(all[0].Last.X-truth.Last.X, all[0].Last.Y-truth.Last.Y), 1.0)
	}
}
