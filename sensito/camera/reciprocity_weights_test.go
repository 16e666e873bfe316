package camera

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"

	"sensito/sensito"
)

// The two laws of reciprocity weigh as the densities of the strips under each at
// its best, searched here without derivatives: both laws have as many constants,
// so that Akaike's weights are the ratio of likelihoods (Burnham and Anderson
// 2002, 2.9, from memory). What is known of the exponent before, 1.62 give or
// take 0.2, counts as one more reading.
func TestReciprocityWeights(t *testing.T) {
	const sd = 0.02 // log H
	seconds := []float64{0.5, 4, 15, 60, 240}
	// Speed points of a film between the two laws.
	lost := []float64{0.01, 0.055, 0.12, 0.20, 0.315}
	var strips []SpeedAfter
	for i, s := range seconds {
		strips = append(strips, SpeedAfter{Seconds: sensito.Seconds(s), SpeedPoint: sensito.Estimate[sensito.LogExposure]{Value: sensito.LogExposure(lost[i] - 2), StdErr: sd, DoF: 20}})
	}
	r, err := ReciprocityFromSpeeds(strips)
	require.NoError(t, err)
	require.Len(t, r.fits, 2)

	// loss of speed, log H, of a strip exposed for tc, by two constants
	schwarzschild := func(q, tc float64) float64 { return q * math.Log10(tc+1) }
	additive := func(a, b, tc float64) float64 {
		tm := bisected(0, tc, func(tm float64) float64 { return tm + a*math.Pow(tm, b) - tc })
		return math.Log10(tc / tm)
	}
	minusTwoLog := func(constants []float64, loss func(p []float64, tc float64) float64, prior func(p []float64) float64) float64 {
		best, err := optimize.Minimize(optimize.Problem{Func: func(p []float64) float64 {
			sum := prior(p)
			for i, tc := range seconds {
				sum += math.Pow((lost[i]-p[0]-loss(p, tc))/sd, 2)
			}
			return sum
		}}, constants, &optimize.Settings{FuncEvaluations: 20000, Converger: &optimize.FunctionConverge{Absolute: 1e-10, Iterations: 500}}, &optimize.NelderMead{})
		require.NoError(t, err)
		return best.F
	}
	one := minusTwoLog([]float64{0, math.Log(0.05), 1.62}, func(p []float64, tc float64) float64 { return additive(math.Exp(p[1]), p[2], tc) },
		func(p []float64) float64 { return math.Pow((p[2]-1.62)/0.2, 2) })
	other := minusTwoLog([]float64{0, 0.1}, func(p []float64, tc float64) float64 { return schwarzschild(p[1], tc) },
		func([]float64) float64 { return 0 })
	require.Greater(t, math.Abs(one-other), 0.5, "one law is clearly better for this test")
	t.Logf("-2 log likelihood: additive %.3f, Schwarzschild %.3f", one, other)

	weights := map[bool]float64{}
	for _, f := range r.fits {
		_, isAdditive := f.law.(additiveLaw)
		weights[isAdditive] = f.weight
	}
	assert.InDelta(t, 1, weights[true]+weights[false], 1e-12)
	assert.InEpsilon(t, math.Exp(-(one-other)/2), weights[true]/weights[false], 1e-3)
}

// bisected returns where g, negative at lo and positive at hi, changes sign.
func bisected(lo, hi float64, g func(float64) float64) float64 {
	for range 60 {
		if mid := (lo + hi) / 2; g(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
