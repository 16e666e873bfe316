package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distmv"
)

// What is known of Induction counts as one more value: the minimum is that which a
// general minimiser finds, from a start of its own and from one nearby.
func TestFitKineticsBegun(t *testing.T) {
	times, g := []float64{4, 5.5, 7, 9, 12}, []float64{0.40, 0.52, 0.61, 0.69, 0.79}
	sd := []float64{0.004, 0.005, 0.006, 0.006, 0.008}
	const begins, beginsSD = 0.25, 0.4
	criterion := func(p []float64) float64 {
		sum := math.Pow((p[2]-begins)/beginsSD, 2)
		for i, at := range times {
			v := p[0] / p[1] * -math.Expm1(-p[1]*(at-p[2]))
			sum += math.Pow((v-g[i])/sd[i], 2)
		}
		return sum
	}
	want, err := optimize.Minimize(optimize.Problem{Func: criterion}, []float64{0.1, 0.1, 0.2}, &optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-12, Iterations: 400}}, &optimize.NelderMead{})
	require.NoError(t, err)
	f, err := FitKineticsBegun(times, g, sd, begins, beginsSD, nil)
	require.NoError(t, err)
	for i, v := range want.X {
		assert.InDelta(t, v, f.Params[i], 2e-4)
	}
	assert.InDelta(t, want.F, f.RSS, 1e-8)
	assert.Equal(t, 3, f.DoF(), "five values and what is known, less three parameters")
	near, err := FitKineticsBegun(times, g, sd, begins, beginsSD, &Kinetics{Limit: 1.2, Rate: 0.1, Slope: 0.12, Induction: 0.1})
	require.NoError(t, err)
	assert.InDeltaSlice(t, f.Params, near.Params, 1e-7)

	// The interval of a time widens where less is known.
	narrow, _ := FitKineticsBegun(times, g, sd, begins, 0.01, nil)
	lowWide, highWide := f.TimeInterval(0.65, 0.95)
	low, high := narrow.TimeInterval(0.65, 0.95)
	assert.Greater(t, highWide-lowWide, 1.05*(high-low))
	two, err := FitKineticsBegun(times[:2], g[:2], sd[:2], begins, beginsSD, nil)
	require.NoError(t, err, "two values and what is known tell three parameters")
	assert.InDelta(t, begins, two.Induction, 1e-6)
	assert.Panics(t, func() { _, _ = FitKineticsBegun(times, g, nil, begins, beginsSD, nil) })
	assert.Panics(t, func() { _, _ = FitKineticsBegun(times, g, sd, begins, 0, nil) })
}

// The restricted likelihood is, but for a constant, the density that a normal
// distribution of all values has, the constants of the law among what is random.
func TestLnRestricted(t *testing.T) {
	rows := [][]float64{{1, -0.5, 0.2}, {1, -0.2, 0.1}, {1, 0.1, 0.05}, {1, 0.4, 0}, {1, 0.9, -0.1}}
	off, own := []float64{0.01, -0.004, 0.012, -0.015, 0.003}, []float64{1e-5, 2e-5, 1e-5, 3e-5, 2e-5}
	known, before := []float64{4, 10, 1}, []float64{0.02, -0.01, 0.4}
	extra := []float64{1e-6, 1e-4, 1e-3}
	got := LnRestricted(rows, off, own, known, before, extra)
	var want []float64
	for _, more := range extra {
		mean, cov := make([]float64, len(rows)), mat.NewSymDense(len(rows), nil)
		for i, a := range rows {
			for k := range known {
				mean[i] -= a[k] * before[k]
			}
			for j := i; j < len(rows); j++ {
				v := 0.0
				for k, q := range known {
					v += a[k] * rows[j][k] / q
				}
				if i == j {
					v += own[i] + more
				}
				cov.SetSym(i, j, v)
			}
		}
		n, ok := distmv.NewNormal(mean, cov, nil)
		require.True(t, ok)
		want = append(want, n.LogProb(off))
	}
	for k := 1; k < len(extra); k++ {
		assert.InDelta(t, want[k]-want[0], got[k]-got[0], 1e-8)
	}
	assert.Panics(t, func() { LnRestricted(rows, off[1:], own, known, before, extra) })
}
