package picture_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sensito/sensito/internal/blind"
	"sensito/sensito/picture"
)

// TestProposals counts how often a row that nobody marked is proposed where it is, and how often off by whole steps.
func TestProposals(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 1))
	counts := map[string]int{}
	for range blind.Effort(t) {
		for form := range forms {
			for _, perInch := range []float64{75, 200} {
				row := layRow(random, form, perInch)
				e, err := picture.Propose(row.im, 0, row.steps)
				name := forms[form].name
				if err != nil {
					t.Log(row.name, err)
					counts[name+" none"]++
					continue
				}
				if dx, dy := row.truth.Last.X-row.truth.First.X, row.truth.Last.Y-row.truth.First.Y; dx*(e.Last.X-e.First.X)+dy*(e.Last.Y-e.First.Y) < 0 {
					e.First, e.Last = e.Last, e.First
				}
				along, across := row.off(e)
				t.Logf("%-45s along %.3f across %.3f", row.name, along, across)
				switch {
				case along < 0.05 && across < 0.2:
					counts[name+" right"]++
				case math.Abs(along-math.Round(along)) < 0.1:
					counts[name+" whole"]++
				default:
					counts[name+" wrong"]++
				}
			}
		}
	}
	t.Logf("%v", counts)
}
