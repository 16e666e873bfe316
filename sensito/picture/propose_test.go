package picture_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito/internal/blind"
	"sensito/sensito/picture"
)

// TestProposals counts how often rows that nobody marked are proposed where they are: a third of the pictures have a tablet
// below the row. Off by whole steps, or not at all, are at most one in twenty.
func TestProposals(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 1))
	var right, whole, other, more, n int
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
	t.Logf("of %d rows %d right, %d off by whole steps, %d otherwise or not at all; %d further rows proposed", n, right, whole, other, more)
	assert.LessOrEqual(t, whole+other, max(1, n/20))
	assert.LessOrEqual(t, more, n/2, "rows that are not there, or the tablet below")
}
