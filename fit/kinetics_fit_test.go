package fit

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

func unknownRate(err error) bool { return errors.Is(err, ErrRateUnknown) }

type goldenFit struct {
	Reference struct {
		Params, SE []float64
		Cov        [][]float64
		RSS        float64
		DoF        int
	}
	Derived struct {
		Y    struct{ Value, SE float64 }         `json:"y_at_10_5"`
		Time struct{ Target, Value, SE float64 } `json:"time_to_reach"`
	}
}

// golden/kinetics.json: minima polished in 60 digits, four synthetic sets and
// R's BOD (Bates and Watts 1988, appendix A1.4). The references leave the
// induction time free, one of them below zero.
func TestFitKineticsGolden(t *testing.T) {
	raw, err := os.ReadFile("../testdata/golden/kinetics.json")
	require.NoError(t, err)
	var file struct {
		Kinetics map[string]struct {
			T, Y       []float64
			Three, Two *goldenFit
		}
	}
	require.NoError(t, json.Unmarshal(raw, &file))
	require.Len(t, file.Kinetics, 5)
	for name, set := range file.Kinetics {
		for _, want := range []*goldenFit{set.Three, set.Two} {
			if want == nil {
				continue
			}
			n := len(want.Reference.Params)
			lo, hi := math.Inf(-1), set.T[0]
			if n == 2 {
				lo, hi = 0, 0
			}
			got, err := fitKinetics(set.T, set.Y, nil, growthData{earliest: lo, latest: hi})
			require.NoError(t, err, name)
			require.Equal(t, Converged, got.Status)
			require.Equal(t, want.Reference.DoF, got.DoF())
			assert.InEpsilon(t, want.Reference.RSS, got.RSS, 1e-9, name)
			c := limitCovariance(got)
			require.NotNil(t, c)
			params := []float64{got.Limit, got.Rate, got.Induction}
			for i := range n {
				assert.InEpsilon(t, want.Reference.Params[i], params[i], 1e-7, "%s parameter %d", name, i)
				assert.InEpsilon(t, want.Reference.SE[i], math.Sqrt(c.At(i, i)), 1e-7, "%s error %d", name, i)
				for j := range n {
					assert.InEpsilon(t, want.Reference.Cov[i][j], c.At(i, j), 1e-7, "%s covariance %d %d", name, i, j)
				}
			}
			y, reach := want.Derived.Y, want.Derived.Time
			assert.InEpsilon(t, y.Value, got.At(10.5), 1e-7, name)
			assert.InEpsilon(t, y.SE, got.AtSD(10.5), 1e-7, name)
			at, err := got.Time(reach.Target)
			require.NoError(t, err)
			assert.InEpsilon(t, reach.Value, at, 1e-7, name)
			assert.InEpsilon(t, reach.SE, got.TimeSD(reach.Target), 1e-7, name)

			if n == 2 || want.Reference.Params[2] >= 0 { // the exported door finds the same
				door, err := FitKinetics(set.T, set.Y, nil, n == 3)
				require.NoError(t, err)
				assert.InDeltaSlice(t, got.Params, door.Params, 1e-8)
			}
		}
	}
}

// Standard deviations of values and times by fitting anew with each value moved a
// little: to first order the squares of the moves add.
func TestErrorsByRefit(t *testing.T) {
	times, sd := []float64{3, 4.5, 6, 9, 12, 18}, []float64{0.01, 0.008, 0.012, 0.01, 0.015, 0.01}
	for _, induction := range []bool{false, true} {
		var g []float64
		for i, m := range times {
			g = append(g, 0.9*-math.Expm1(-0.14*(m-0.8))+[]float64{0.006, -0.009, 0.004, 0.003, -0.007, 0.002}[i])
		}
		fitted := func() KineticsFit {
			f, err := FitKinetics(times, g, sd, induction)
			require.NoError(t, err)
			require.Equal(t, Converged, f.Status)
			return f
		}
		f := fitted()
		const at, level = 7.5, 0.6
		var value, when float64
		for i := range g {
			const by = 1e-3
			g[i] += by * sd[i]
			up := fitted()
			g[i] -= 2 * by * sd[i]
			down := fitted()
			g[i] += by * sd[i]
			timeOf := func(f KineticsFit) float64 { v, err := f.Time(level); require.NoError(t, err); return v }
			value += math.Pow((up.At(at)-down.At(at))/(2*by), 2)
			when += math.Pow((timeOf(up)-timeOf(down))/(2*by), 2)
		}
		// The covariance leaves out how the slope of the law turns with its
		// residuals, a few per cent of it here.
		assert.InEpsilon(t, math.Sqrt(value), f.AtSD(at), 0.05, "value, induction %v", induction)
		assert.InEpsilon(t, math.Sqrt(when), f.TimeSD(level), 0.05, "time, induction %v", induction)
	}
}

// Where the free induction time is negative the bound holds it at zero, and
// the fit is the one without induction.
func TestFitKineticsInductionBound(t *testing.T) {
	times, g := []float64{3, 5, 8, 12, 20}, []float64{0.435, 0.58, 0.715, 0.8, 0.832} // golden k2
	with, err := FitKinetics(times, g, nil, true)
	require.NoError(t, err)
	without, err := FitKinetics(times, g, nil, false)
	require.NoError(t, err)
	assert.Equal(t, []bool{false, false, true}, with.AtBound)
	assert.Equal(t, 3, with.DoF())
	assert.InDeltaSlice(t, without.Params, with.Params, 1e-9)
	assert.InDelta(t, 0.8420210676327081, with.Limit, 1e-7)
}

// Three equally spaced times d apart determine all three parameters:
// exp(-k d) = (g3-g2)/(g2-g1), Limit = g2 + (g2-g1)(g3-g2)/((g2-g1)-(g3-g2)).
func TestFitKineticsThreeTimes(t *testing.T) {
	g := []float64{0.362372, 0.650062, 0.807950}
	rise, next := g[1]-g[0], g[2]-g[1]
	rate, limit := -math.Log(next/rise)/4, g[1]+rise*next/(rise-next)
	assert.InDelta(t, math.Exp(-0.6), next/rise, 1e-5)
	got, err := FitKinetics([]float64{4, 8, 12}, g, nil, true)
	require.NoError(t, err)
	assert.InEpsilon(t, rate, got.Rate, 1e-8)
	assert.InEpsilon(t, limit, got.Limit, 1e-8)
	assert.InDelta(t, 1, got.Induction, 1e-4)
	assert.Zero(t, got.DoF())
	assert.Nil(t, limitCovariance(got), "no degree of freedom to estimate the noise from")
	assert.True(t, math.IsNaN(got.AtSD(5)))
	assert.True(t, math.IsNaN(got.TimeSD(0.5)))

	known, err := FitKinetics([]float64{4, 8, 12}, g, []float64{0.01, 0.01, 0.01}, true)
	require.NoError(t, err)
	assert.InDelta(t, 0.01, known.AtSD(8), 1e-7, "through every point: its own error")
}

// Two times without induction are the two-times method.
func TestFitKineticsTwoTimes(t *testing.T) {
	want, err := TwoTimes(4, 0.45, 9, 0.72)
	require.NoError(t, err)
	got, err := FitKinetics([]float64{9, 4}, []float64{0.72, 0.45}, []float64{0.02, 0.01}, false)
	require.NoError(t, err)
	assert.InEpsilon(t, want.Limit, got.Limit, 1e-8)
	assert.InEpsilon(t, want.Rate, got.Rate, 1e-8)
	assert.InDelta(t, 0.01, got.AtSD(4), 1e-8)
}

// A value of twice the standard deviation counts as a quarter of a value.
func TestFitKineticsWeights(t *testing.T) {
	times, g := []float64{3, 5, 8, 12}, []float64{0.41, 0.60, 0.70, 0.81}
	weighted, err := FitKinetics(times, g, []float64{0.01, 0.01, 0.005, 0.01}, false)
	require.NoError(t, err)
	repeated, err := FitKinetics(append(times, 8, 8, 8), append(g, 0.70, 0.70, 0.70),
		[]float64{0.01, 0.01, 0.01, 0.01, 0.01, 0.01, 0.01}, false)
	require.NoError(t, err)
	assert.InDeltaSlice(t, repeated.Params, weighted.Params, 1e-9)
	assert.InEpsilon(t, repeated.TimeSD(0.5), weighted.TimeSD(0.5), 1e-7)
}

// An upswept or straight family ends on the bound as a straight line with an
// infinite limit, and values on it still have errors.
func TestFitKineticsStraight(t *testing.T) {
	times := []float64{2, 4, 6, 8}
	got, err := FitKinetics(times, []float64{0.19, 0.40, 0.62, 0.83}, nil, false)
	require.NoError(t, err)
	require.Equal(t, Converged, got.Status)
	assert.Zero(t, got.Rate)
	assert.Equal(t, math.Inf(1), got.Limit)
	slope := (2*0.19 + 4*0.40 + 6*0.62 + 8*0.83) / (4 + 16 + 36 + 64) // least squares through zero
	assert.InEpsilon(t, slope, got.Slope, 1e-10)
	assert.InEpsilon(t, 5*slope, got.At(5), 1e-10)
	assert.Nil(t, limitCovariance(got))
	assert.Equal(t, 3, got.DoF())
	assert.InEpsilon(t, math.Sqrt(got.RSS/3/120)*5, got.AtSD(5), 1e-9)
	assert.InEpsilon(t, math.Sqrt(got.RSS/3/120)*5/slope, got.TimeSD(5*slope), 1e-9)

	nearly := Kinetics{Limit: 1e4, Rate: 1e-5}
	g := make([]float64, len(times))
	for i, v := range times {
		g[i] = nearly.At(v)
	}
	got, err = FitKinetics(times, g, nil, false)
	require.NoError(t, err)
	assert.InEpsilon(t, 0.1, got.Slope, 1e-9)
	assert.InDelta(t, 1e-5, got.Rate, 1e-9)
}

// A value at time zero is zero whatever the parameters, and changes nothing.
func TestFitKineticsTimeZero(t *testing.T) {
	times, g := []float64{4, 6, 9, 13}, []float64{0.35, 0.55, 0.78, 1.01}
	want, err := FitKinetics(times, g, nil, true)
	require.NoError(t, err)
	got, err := FitKinetics(append(times, 0), append(g, 0), nil, true)
	require.NoError(t, err)
	assert.InDeltaSlice(t, want.Params, got.Params, 1e-8)
	assert.Greater(t, got.Induction, 0.1)
}

func TestFitKineticsErrors(t *testing.T) {
	three := []float64{4, 8, 12}
	for _, c := range []struct {
		t, g, sd  []float64
		induction bool
		unknown   bool
		message   string
	}{
		{[]float64{5}, []float64{0.5}, nil, false, false, "1 distinct times above zero, 2 needed"},
		{nil, nil, nil, true, false, "0 distinct times"},
		{[]float64{5, 5, 10}, []float64{0.5, 0.5, 0.6}, nil, true, false, "2 distinct times above zero, 3 needed"},
		{[]float64{-1, 5, 10}, three, nil, false, false, "time 1: -1 is negative"},
		{three, []float64{0.5, math.NaN(), 0.7}, nil, false, false, "value 2: NaN is not finite"},
		{three, []float64{0.5, 0.6, 0.7}, []float64{1, 1, 0}, false, false, "standard deviation 3: 0"},
		{three, []float64{0.7, 0.6, 0.5}, nil, false, true, "do not grow after time 4"},
		{three, []float64{0.7, 0.7, 0.7}, nil, false, true, "do not grow after time 4"},
		{three, []float64{0, 0, 0}, nil, false, true, "do not grow"},
		{three, []float64{-1, -2, -3}, nil, true, true, "do not grow"},
	} {
		_, err := FitKinetics(c.t, c.g, c.sd, c.induction)
		require.ErrorContains(t, err, c.message)
		assert.Equal(t, c.unknown, unknownRate(err), c.message)
	}
	assert.Panics(t, func() { _, _ = FitKinetics(three, three[:2], nil, false) })
}

// growth and its derivatives against central differences, through the change
// from series to closed form.
func TestGrowthDerivatives(t *testing.T) {
	for _, k := range []float64{1e-9, 1e-5, 1.9e-4, 2.1e-4, 1e-2, 0.3, 5} {
		at := []float64{0.3, k, 0.7}
		const u = 5.0
		_, d := growth(at[0], at[1], u-at[2])
		for j := range d {
			h := 1e-6 * math.Max(1, at[j])
			value := func(step float64) float64 {
				q := [3]float64{at[0], at[1], at[2]}
				q[j] += step
				v, _ := growth(q[0], q[1], u-q[2])
				return v
			}
			assert.InDelta(t, (value(h)-value(-h))/(2*h), d[j], 1e-8, "rate %g, derivative %d", k, j)
		}
	}
}

// limitCovariance returns the covariance of Limit, Rate and Induction in that
// order, by the origin in Noise. It is nil where Limit is infinite or the
// covariance unknown.
func limitCovariance(f KineticsFit) *mat.SymDense {
	c := f.Covariance(f.Noise)
	if c == nil || f.Rate == 0 {
		return nil
	}
	// Limit = Slope / Rate
	turn := mat.NewDense(3, 3, []float64{
		1 / f.Rate, -f.Slope / (f.Rate * f.Rate), 0,
		0, 1, 0,
		0, 0, 1,
	})
	var half, full mat.Dense
	half.Mul(turn, c)
	full.Mul(&half, turn.T())
	out := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := i; j < 3; j++ {
			out.SetSym(i, j, full.At(i, j))
		}
	}
	return out
}
