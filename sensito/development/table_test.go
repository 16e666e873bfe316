package development

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Where a value a little further has no law, as of two strips whose contrast
// grows almost as fast as the time, the other side alone gives the derivative.
func TestByStripAtTheEdge(t *testing.T) {
	tb := &Table{Rows: [][]float64{{5, 1}, {5, 2}}, SD: [][]float64{{0.1, 0.1}, {0.1, 0.1}}}
	for _, side := range []float64{1, -1} {
		by := tb.ByStrip(1, func(rows [][]float64) float64 {
			if side*(rows[1][1]-2) > 0 {
				return math.NaN()
			}
			return rows[0][1] + 3*rows[1][1]
		})
		assert.InDeltaSlice(t, []float64{1, 3}, by, 1e-9)
	}
}
