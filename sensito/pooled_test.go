package sensito

import (
	"math"
	"math/rand/v2"
	"testing"

	"sensito/fit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Strips read with one densitometer are as sure as their readings scatter about
// all curves together: the pooled standard deviation, the root of the mean
// variance by degrees of freedom (JCGM 100:2008, H.3.6 and 4.2.4).
func TestPooledReadings(t *testing.T) {
	var strips []*Measured
	var variance, dof float64
	for i, noise := range []float64{0.006, 0.012, 0.02} {
		m, err := Measure(stripOf(t, twoEmulsions, noise, uint64(i)), MeasureOptions{})
		require.NoError(t, err)
		strips = append(strips, m)
		variance += m.Fit.DoF * math.Pow(float64(m.Fit.ResidualSD), 2)
		dof += m.Fit.DoF
	}
	pooled := math.Sqrt(variance / dof)
	tb := tableOf(strips)
	require.Len(t, tb.rows, len(strips))
	for j, m := range strips {
		assert.InEpsilon(t, float64(m.SpeedPoint.StdErr)*pooled/float64(m.Fit.ResidualSD), tb.sd[j][colSpeedPoint], 1e-9, "strip %d", j+1)
		assert.InEpsilon(t, float64(m.BaseFog.StdErr)*pooled/float64(m.Fit.ResidualSD), tb.sd[j][colFog], 1e-9, "strip %d", j+1)
	}
	assert.InEpsilon(t, dof, tb.dof, 1e-9)
}

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
			line := fitTrend(u, y, sd, 1)
			half := studentT(0.95, fit.ScatterDoF(line.scatter, line.dof, math.Inf(1))) * line.scatter * 0.01 / math.Sqrt(float64(len(u)))
			if math.Abs(line.at(stat.Mean(u, nil))-1-0.3*stat.Mean(u, nil)) <= half {
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
