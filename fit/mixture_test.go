package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
)

// Normal distributions whose precisions are spread as chi squared are Student's t
// (Student 1908), so that a fine mixture of these has its scale and degrees of freedom.
func TestMixtureIsStudentT(t *testing.T) {
	for _, dof := range []float64{4.5, 6, 12} {
		var m Mixture
		const pieces = 2000
		spread := distuv.ChiSquared{K: dof}
		for i := range pieces {
			precision := spread.Quantile((float64(i)+0.5)/pieces) / dof
			m = append(m, Normal{Weight: 0.3, SD: 0.02 / math.Sqrt(precision)})
		}
		for _, level := range []float64{0.5, 0.68, 0.95, 0.99} {
			want := 0.02 * distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile((1+level)/2)
			assert.InEpsilon(t, want, m.Half(level), 5e-3, "%g of %g degrees of freedom", level, dof)
		}
		assert.InEpsilon(t, dof, m.DoF(), 0.05)
		assert.InEpsilon(t, 0.02, m.Scale(m.DoF()), 1e-2)
	}
}

// One normal distribution is itself, however often it is written.
func TestMixtureOfOne(t *testing.T) {
	for _, m := range []Mixture{{{1, 0.3}}, {{0.2, 0.3}, {7, 0.3}, {0, 5}}} {
		assert.InEpsilon(t, 0.3*1.959964, m.Half(0.95), 1e-6)
		assert.Equal(t, math.Inf(1), m.DoF())
		assert.InEpsilon(t, 0.3, m.Scale(math.Inf(1)), 1e-6)
	}
}

// A rare wide one hardly widens the interval, though it makes the variance four times as
// large: the half width is where so much of both lies beyond.
func TestMixtureWithARareWideOne(t *testing.T) {
	m := Mixture{{0.98, 1}, {0.02, 12}}
	half := m.Half(0.95)
	beyond := func(z float64) float64 { return 2 * distuv.UnitNormal.Survival(z) }
	assert.InDelta(t, 0.05, 0.98*beyond(half)+0.02*beyond(half/12), 1e-6)
	assert.Less(t, half, 2.2)
	assert.Greater(t, half, 2.0)
}

func TestMixtureOfNothing(t *testing.T) {
	for _, m := range []Mixture{nil, {{0, 1}}, {{math.NaN(), 1}}, {{1, 0}}} {
		assert.True(t, math.IsNaN(m.Half(0.95)), "%v", m)
		assert.True(t, math.IsNaN(m.Scale(m.DoF())), "%v", m)
	}
}

// Draws with evenly spread numbers have the weights, and as many are below the middle of a
// mixture of a few doublings as above.
func TestMixtureDrawn(t *testing.T) {
	m := Mixture{{1, 0.25}, {2, 0.5}, {2, 1}, {1, 2}}
	const draws = 6000
	drawn := map[float64]int{}
	for i := range draws {
		drawn[m.Drawn((float64(i)+0.5)/draws)]++
	}
	assert.Equal(t, map[float64]int{0.25: 1000, 0.5: 2000, 1: 2000, 2: 1000}, drawn)
	assert.InDelta(t, math.Sqrt2/2, m.Middle(), 1e-12)
}
