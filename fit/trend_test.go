package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
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

// A trend has the coefficients of general least squares, and that of other values is the
// one that a fit to them gives.
func TestTrendOfDegree(t *testing.T) {
	u, sd := []float64{-3.1, -2.2, -2, -1.4, 0.3}, []float64{0.01, 0.02, 0.01, 0.03, 0.02}
	y, other := []float64{0.4, 0.1, 0.2, -0.3, 0.5}, []float64{0.1, 0.7, -0.2, 0.3, 0.25}
	for degree := range 3 {
		p := TrendOfDegree(u, y, sd, degree)
		a, b := mat.NewDense(len(u), degree+1, nil), mat.NewVecDense(len(u), nil)
		for i, x := range u {
			for k := range degree + 1 {
				a.Set(i, k, math.Pow(x, float64(k))/sd[i])
			}
			b.SetVec(i, y[i]/sd[i])
		}
		var coef, rest mat.VecDense
		require.NoError(t, coef.SolveVec(a, b))
		rest.MulVec(a, &coef)
		rest.SubVec(b, &rest)
		assert.InEpsilon(t, mat.Dot(&rest, &rest), p.Chi2, 1e-9)
		for _, x := range []float64{-4, -1, 2} {
			want := 0.0
			for k := range degree + 1 {
				want += coef.AtVec(k) * math.Pow(x, float64(k))
			}
			assert.InDelta(t, want, p.At(x), 1e-11)
		}
		moved, again := p.Of(other), TrendOfDegree(u, other, sd, degree)
		assert.InDeltaSlice(t, again.Coef, moved.Coef, 1e-12)
		assert.Equal(t, p.Scatter, moved.Scatter)
	}
	assert.Panics(t, func() { TrendOfDegree([]float64{2, 2, 3}, y[:3], sd[:3], 2) })

	// A slope that the values do not tell stays as given.
	flat := TrendOfDegree([]float64{1.5, 1.5}, y[:2], sd[:2], 0).Sloped(-0.2)
	mean := (0.4*4 + 0.1) / 5
	assert.InDelta(t, mean-0.2, flat.At(2.5), 1e-12)
	assert.InDelta(t, 1+mean-0.2, flat.Of([]float64{1.4, 1.1}).At(2.5), 1e-12)
}
