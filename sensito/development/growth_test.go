package development_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
)

// Two strips are met exactly, with an induction at its bound, on which what is known of
// it lies too: whether its error counts must not hang on the last digit of a contrast.
func TestTwoStripsRounding(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		minutes := []float64{simulated.Between(r, 4, 7), simulated.Between(r, 9, 15)}
		y, sd := []float64{simulated.Between(r, 0.45, 0.55), simulated.Between(r, 0.6, 0.7)}, []float64{0.006, 0.008}
		low, high := math.Inf(1), 0.0
		for k := range 8 {
			moved := []float64{y[0] * (1 + float64(k)*1e-15), y[1] * (1 - float64(k)*1e-15)}
			g, err := development.FitGrowth(minutes, moved, sd, development.Growth{})
			require.NoError(t, err)
			require.Equal(t, development.TwoTimes, g.Model)
			f, err := g.Refit(minutes, moved, sd)
			require.NoError(t, err)
			at := f.TimeSD((y[0] + y[1]) / 2)
			low, high = min(low, at), max(high, at)
		}
		assert.InEpsilon(t, low, high, 1e-6)
	}
}
