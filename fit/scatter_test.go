package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestScatter(t *testing.T) {
	assert.Equal(t, 1.0, Scatter(0, 3))
	assert.Equal(t, 1.0, Scatter(3, 3))
	assert.InDelta(t, math.Sqrt2, Scatter(9, 3), 1e-15) // (9 + 3) / (3 + 3)
	assert.Equal(t, 40.0, ScatterDoF(1, 2, 40))
	assert.Equal(t, 5.0, ScatterDoF(1.5, 2, 40))
	assert.Equal(t, 4.0, ScatterDoF(1.5, 2, 4))
}

// The upper 5 % points of chi squared, as tables print them.
func TestTailProbability(t *testing.T) {
	for dof, chi2 := range map[float64]float64{1: 3.841, 2: 5.991, 5: 11.070, 10: 18.307} {
		assert.InDelta(t, 0.05, TailProbability(chi2, dof), 2e-5)
	}
	assert.Equal(t, 1.0, TailProbability(9, 0))
}
