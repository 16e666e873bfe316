package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Intervals of what a line through a few strips says cover 95 of 100 where the
// scatter of strips is as it is taken to be beforehand: as three strips that agree
// with their readings would have it, an inverse chi squared of three degrees of
// freedom, for which Student's t of three more is exact (A. Gelman and others,
// Bayesian Data Analysis, 2013, 3.2, from memory). A scatter below 1 counts as 1,
// which moves that little. Of strips that always scatter twice as much as they
// say the intervals cover less, 89 of 100.
func TestScatterCovers(t *testing.T) {
	const runs = 20_000
	r := rand.New(rand.NewPCG(8, 8))
	u := []float64{-1, -0.6, 0, 0.5, 1.1}
	share := func(times func() float64) float64 {
		covered := 0
		for range runs {
			y, sd, by := make([]float64, len(u)), make([]float64, len(u)), times()
			for i, x := range u {
				y[i], sd[i] = 1+0.3*x+0.01*by*r.NormFloat64(), 0.01
			}
			line := FitTrend(u, y, sd, 1)
			half := StudentT(0.95, ScatterDoF(line.Scatter, line.DoF, math.Inf(1))) * line.Scatter * 0.01 / math.Sqrt(float64(len(u)))
			if math.Abs(line.At(stat.Mean(u, nil))-1-0.3*stat.Mean(u, nil)) <= half {
				covered++
			}
		}
		return float64(covered) / runs
	}
	three := distuv.ChiSquared{K: 3, Src: rand.NewPCG(3, 3)}
	expected, twice := share(func() float64 { return math.Sqrt(3 / three.Rand()) }), share(func() float64 { return 2 })
	t.Logf("covered in %.3f where strips scatter as expected, in %.3f where twice as much as told", expected, twice)
	assert.InDelta(t, 0.95, expected, 0.01)
	assert.InDelta(t, 0.89, twice, 0.01)
}
