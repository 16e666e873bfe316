package fit

import (
	"math"
	"slices"
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
	known := Beforehand{Induction: begins, InductionSD: beginsSD}
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
	f, err := FitKineticsBegun(times, g, sd, known, nil)
	require.NoError(t, err)
	for i, v := range want.X {
		assert.InDelta(t, v, f.Params[i], 2e-4)
	}
	assert.InDelta(t, want.F, f.RSS, 1e-8)
	assert.Equal(t, 3, f.DoF(), "five values and what is known, less three parameters")
	near, err := FitKineticsBegun(times, g, sd, known, &Kinetics{Limit: 1.2, Rate: 0.1, Slope: 0.12, Induction: 0.1})
	require.NoError(t, err)
	assert.InDeltaSlice(t, f.Params, near.Params, 1e-7)

	// The interval of a time widens where less is known.
	narrow, _ := FitKineticsBegun(times, g, sd, Beforehand{Induction: begins, InductionSD: 0.01}, nil)
	lowWide, highWide := f.TimeInterval(0.65, 0.95)
	low, high := narrow.TimeInterval(0.65, 0.95)
	assert.Greater(t, highWide-lowWide, 1.05*(high-low))
	two, err := FitKineticsBegun(times[:2], g[:2], sd[:2], known, nil)
	require.NoError(t, err, "two values and what is known tell three parameters")
	assert.InDelta(t, begins, two.Induction, 1e-6)
	assert.Panics(t, func() { _, _ = FitKineticsBegun(times, g, nil, known, nil) })
	assert.Panics(t, func() { _, _ = FitKineticsBegun(times, g, sd, Beforehand{Induction: begins}, nil) })
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

// One value and what is known of rate and induction tell a growth through the value; its
// times are told the worse the further they lie from it, and those above it worst.
func TestOneValueBegun(t *testing.T) {
	known := Beforehand{Induction: 0.2, InductionSD: 0.5, LnRate: math.Log(0.1), LnRateSD: 0.7}
	f, err := FitKineticsBegun([]float64{8}, []float64{0.6}, []float64{0.006}, known, nil)
	require.NoError(t, err)
	assert.Equal(t, Converged, f.Status)
	assert.InDelta(t, 0.6, f.At(8), 1e-9)
	assert.InDelta(t, 0.1, f.Rate, 1e-7)
	assert.InDelta(t, 0.2, f.Induction, 1e-6)
	width := func(g float64) float64 {
		low, high := f.TimeInterval(g, 0.95)
		return math.Log(high / low)
	}
	assert.Less(t, width(0.6), 0.10)
	assert.Greater(t, width(0.5), 2*width(0.6))
	assert.Greater(t, width(0.7), width(0.5))
	assert.Equal(t, math.Inf(1), width(0.9))

	// The limits of the time are those at which the criterion has risen by chi squared:
	// along the ridge, where the value is kept, of rate and induction alone.
	low, _ := f.TimeInterval(0.5, 0.95)
	least := math.Inf(1)
	for begins := -0.9; begins < 1.5; begins += 0.001 {
		at := 0.2 + 0.5*begins
		if at < 0 {
			continue
		}
		rate, err := Root(func(k float64) float64 {
			return math.Expm1(-k*(low-at))/math.Expm1(-k*(8-at)) - 0.5/0.6
		}, 1e-6, 5, 0)
		if err == nil {
			least = math.Min(least, math.Pow(begins, 2)+math.Pow(math.Log(rate/0.1)/0.7, 2))
		}
	}
	assert.InDelta(t, 1.96*1.96, least, 0.02)

	_, err = FitKineticsBegun([]float64{8}, []float64{0.6}, []float64{0.006}, Beforehand{Induction: 0.2, InductionSD: 0.5}, nil)
	assert.ErrorContains(t, err, "1 distinct times above zero, 2 needed")
}

// How a law follows its values is what fits to values hardly different give.
func TestInfluence(t *testing.T) {
	times, u := []float64{4, 5.5, 7, 9, 12, 7}, []float64{0, 0, 0, 0, 0, 0.4}
	g, sd := []float64{0.395, 0.525, 0.61, 0.695, 0.785, 0.72}, []float64{0.004, 0.005, 0.006, 0.006, 0.008, 0.007}
	known := Beforehand{Induction: 0.25, InductionSD: 0.4}
	plain := func(g []float64, known Beforehand) []float64 {
		f, err := FitKineticsBegun(times[:5], g[:5], sd[:5], known, nil)
		require.NoError(t, err)
		return f.Params
	}
	warped := func(g []float64, known Beforehand) []float64 {
		f, err := FitWarpedBegun(times, g, sd, u, known, nil, 0)
		require.NoError(t, err)
		return f.Params
	}
	f, err := FitKineticsBegun(times[:5], g[:5], sd[:5], known, nil)
	require.NoError(t, err)
	w, err := FitWarpedBegun(times, g, sd, u, known, nil, 0)
	require.NoError(t, err)
	byValue, byBefore := f.Influence()
	byWarped, byBeforeWarped := w.Influence()
	for _, c := range []struct {
		fit               func(g []float64, known Beforehand) []float64
		byValue, byBefore [][]float64
	}{{plain, byValue, byBefore}, {warped, byWarped, byBeforeWarped}} {
		const by = 0.02
		require.Len(t, c.byBefore, 1)
		up, down := c.fit(g, Beforehand{Induction: 0.25 + by*0.4, InductionSD: 0.4}), c.fit(g, Beforehand{Induction: 0.25 - by*0.4, InductionSD: 0.4})
		for j, v := range c.byBefore[0] {
			assert.InEpsilon(t, (up[j]-down[j])/(2*by), v, 2e-3)
		}
		for i, v := range c.byValue {
			moved := slices.Clone(g)
			moved[i] = g[i] + by*sd[i]
			up := c.fit(moved, known)
			moved[i] = g[i] - by*sd[i]
			down := c.fit(moved, known)
			for j := range v {
				assert.InDelta(t, (up[j]-down[j])/(2*by), v[j]*sd[i], 2e-3*math.Abs(v[j]*sd[i])+1e-6, "value %d, parameter %d", i, j)
			}
		}
	}
	assert.Nil(t, Problem{}.Influence(Solution{}))
}

// What is told by a law that is known to begin after a while becomes surer by a leap where
// the values bring that while to nothing and hold it there; not where it is not held.
func TestHoldingInduction(t *testing.T) {
	times, sd := []float64{4, 5.5, 7, 9, 12}, []float64{0.004, 0.005, 0.006, 0.006, 0.008}
	known := Beforehand{Induction: 0.25, InductionSD: 0.4}
	var last KineticsFit
	var inside, on int
	for up := 0.0; up < 0.030; up += 0.0005 {
		f, err := FitKineticsBegun(times, []float64{0.370 + up, 0.490, 0.585, 0.690, 0.795}, sd, known, nil)
		require.NoError(t, err)
		held, free := f.Holding(true), f.Holding(false)
		if f.Induction > 0 {
			inside++
			assert.Equal(t, f.Cov, free.Cov)
		} else {
			on++
			assert.Equal(t, f.Cov, held.Cov)
			assert.InEpsilonSlice(t, mat.Row(nil, 0, f.Cov)[:2], mat.Row(nil, 0, free.Holding(true).Cov)[:2], 1e-6)
		}
		assert.Zero(t, held.Cov.At(2, 2))
		assert.Less(t, held.TimeSD(0.7), 0.99*free.TimeSD(0.7))
		if last.Cov != nil {
			assert.InEpsilon(t, last.AtSD(8), free.AtSD(8), 0.01)
			assert.InEpsilon(t, last.TimeSD(0.7), free.TimeSD(0.7), 0.01, "%g up", up)
		}
		last = free
	}
	assert.Greater(t, min(inside, on), 10, "%d inside, %d on the bound", inside, on)
}
