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

// A trend whose bend is known beforehand has the coefficients of general least squares with
// that as one more value, moves with it as such a fit does, and goes through two values. The
// errors that values share do not weigh.
func TestTrendBent(t *testing.T) {
	u, sd := []float64{-0.6, -0.3, -0.1, 0.2, 0.4}, []float64{0.01, 0.012, 0.01, 0.014, 0.013}
	y := []float64{0.21, 0.14, 0.11, 0.02, -0.01}
	own := func([]float64) float64 { return 0 }
	const bend, bendSD = 0.05, 0.07
	squares := func(u, y, sd []float64, bend, bendSD float64) (coef, rest mat.VecDense) {
		n := len(u)
		a, b := mat.NewDense(n+1, 3, nil), mat.NewVecDense(n+1, nil)
		for i, x := range u {
			a.SetRow(i, []float64{1 / sd[i], x / sd[i], x * x / sd[i]})
			b.SetVec(i, y[i]/sd[i])
		}
		a.Set(n, 2, 1/bendSD)
		b.SetVec(n, bend/bendSD)
		require.NoError(t, coef.SolveVec(a, b))
		rest.MulVec(a, &coef)
		rest.SubVec(b, &rest)
		return coef, rest
	}
	counted := notBelowMedian(sd)
	p := TrendBent(u, y, sd, bend, bendSD, own)
	want, rest := squares(u, y, counted, bend, bendSD)
	more, _ := squares(u, y, counted, bend+bendSD, bendSD)
	at := func(coef mat.VecDense, x float64) float64 {
		return coef.AtVec(0) + x*(coef.AtVec(1)+x*coef.AtVec(2))
	}
	for _, x := range []float64{-1, -0.2, 0.1, 0.7} {
		assert.InDelta(t, at(want, x), p.At(x), 1e-12)
		assert.InDelta(t, at(more, x), p.Bending(1).At(x), 1e-12)
	}
	assert.InEpsilon(t, mat.Dot(&rest, &rest), p.Chi2, 1e-9)
	assert.Equal(t, 3, p.DoF)
	assert.InDeltaSlice(t, p.Coef, p.Of(y).Coef, 1e-15)
	assert.Equal(t, p.Coef, p.Bending(0).Coef)

	// Through two values, a bend between them.
	two := TrendBent(u[:2], y[:2], sd[:2], bend, bendSD, own)
	line := TrendOfDegree(u[:2], y[:2], sd[:2], 1)
	assert.InDelta(t, line.At(-0.45)-bend*0.15*0.15, two.At(-0.45), 1e-12)
	assert.InDelta(t, -bendSD*0.15*0.15, two.Bending(1).At(-0.45)-two.At(-0.45), 1e-12)
	assert.InDeltaSlice(t, y[:2], []float64{two.At(u[0]), two.At(u[1])}, 1e-12)
	assert.Equal(t, 1.0, two.Scatter)

	// Values known better tell more of it.
	free := TrendOfDegree(u, y, counted, 2)
	exact := TrendBent(u, y, sd, bend, bendSD, func([]float64) float64 { return 1e-6 })
	assert.Less(t, math.Abs(exact.Coef[2]-free.Coef[2]), math.Abs(p.Coef[2]-free.Coef[2])/10)
}
