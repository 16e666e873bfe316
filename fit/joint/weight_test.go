package joint

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Readings of a strip that repeat half as well as the rest count a quarter: so do those
// where all are stated twice as well.
func TestWeightOfStrips(t *testing.T) {
	const noise = 0.006
	s := strips(rand.New(rand.NewPCG(3, 78)), noise, 4, 5.5, 7, 9, 12)
	fitted := func(p Problem) *Fit {
		p.Worth = 1e9 // so that what is stated holds
		f, err := New(p, noSlips(p.Strips))
		require.NoError(t, err)
		return f
	}
	coarse := fitted(Problem{Strips: withSigma(s, 2, 2*noise), Sigma: noise})
	fine := fitted(Problem{Strips: withSigma(withSigma(withSigma(withSigma(s, 0, noise), 1, noise), 3, noise), 4, noise), Sigma: 2 * noise})
	for j := range s {
		for i := range s[j].X {
			assert.InDelta(t, coarse.Residual(j, i), fine.Residual(j, i), 2e-5)
		}
	}
	assert.InDelta(t, 0.5, coarse.Weight(2), 1e-12)
	assert.InDelta(t, 1, coarse.Weight(1), 1e-12)

	// A strip that hardly counts is followed less closely than one that does.
	squares := func(f *Fit) (sum float64) {
		for i := range s[2].X {
			sum += f.Residual(2, i) * f.Residual(2, i)
		}
		return sum
	}
	assert.Greater(t, squares(fitted(Problem{Strips: withSigma(s, 2, 10*noise), Sigma: noise})), squares(fitted(Problem{Strips: s, Sigma: noise})))
}

// withSigma returns the strips with another standard deviation of the readings of one.
func withSigma(s []Strip, j int, sigma float64) []Strip {
	out := append([]Strip(nil), s...)
	out[j].Sigma = sigma
	return out
}
