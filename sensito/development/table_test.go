package development

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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

// Between two strips the law of the speed points lies below the line through them by the bend
// that is known beforehand, by a quarter of the square of their distance, and what is open of
// that is an error of what is told there, once.
func TestBendIsOpen(t *testing.T) {
	values := make([]float64, curve.ColumnFractional+1)
	tb := &Table{Minutes: []float64{5, 10}, Rows: [][]float64{values, values}, SD: [][]float64{values, values}}
	law := tb.PlaceTrend(curve.ColumnSpeedPoint, tb.Rows, math.Log)
	at := (math.Log(5) + math.Log(10)) / 2
	sagitta := math.Ln2 * math.Ln2 / 4
	d, err := tb.Propagate(nil, func(rows [][]float64) ([]float64, error) {
		return []float64{tb.TrendLike(curve.ColumnSpeedPoint, rows, law).At(at), tb.PlaceTrend(curve.ColumnSpeedPoint, rows, math.Log).At(at)}, nil
	})
	require.NoError(t, err)
	for i := range d.Values {
		assert.InDelta(t, -pointBend*sagitta, d.Values[i], 1e-12)
		assert.InDelta(t, pointBendSD*sagitta, d.SD(i), 1e-9)
	}
}
