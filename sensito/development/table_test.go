package development

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito/curve"
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

// Directions that strips have together are numbered once, and their own for each.
func TestDirectionsAreShared(t *testing.T) {
	with := &curve.Together{Of: make([]curve.Origin, 2)}
	strip := func(w *curve.Together) *curve.Measured { return &curve.Measured{Fit: &curve.Fit{Together: w}} }
	var d Directions
	assert.Equal(t, []int{0, 1, 2}, d.Of(strip(with), 3))
	assert.Equal(t, []int{3, 4}, d.Of(strip(nil), 2))
	assert.Equal(t, []int{0, 1, 5, 6}, d.Of(strip(with), 4))
	assert.Equal(t, []int{7}, d.Of(strip(nil), 1))
}
