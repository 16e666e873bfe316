package fit

import (
	"bufio"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

type goldenLine struct{ Intercept, Slope float64 }

func readEIV(t testing.TB) (file struct {
	Pearson struct {
		X, Y, WX, WY []float64
		Published    goldenLine
		York         struct {
			goldenLine
			SEIntercept       float64 `json:"se_intercept"`
			SESlope           float64 `json:"se_slope"`
			SEInterceptScaled float64 `json:"se_intercept_scaled"`
			SESlopeScaled     float64 `json:"se_slope_scaled"`
			S                 float64
			Cov               float64 `json:"cov_ab"`
		}
		Ordinary goldenLine `json:"ols_y_on_x"`
		Weighted goldenLine `json:"wls_y_weights_only"`
	} `json:"pearson_york"`
	Deming struct {
		Rows []struct {
			goldenLine
			Delta float64
		}
	} `json:"pearson_unweighted_deming"`
	Curve struct {
		T, Y, SX, SY []float64
		A, K         float64
		Cov          [][]float64 `json:"cov_beta"`
		Sum          float64     `json:"sum_square"`
		X            []float64   `json:"x_adjusted"`
	} `json:"curve_kinetic"`
}) {
	raw, err := os.ReadFile("../testdata/golden/eiv.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(raw, &file))
	return file
}

func sds(weights []float64) []float64 {
	sd := make([]float64, len(weights))
	for i, w := range weights {
		sd[i] = 1 / math.Sqrt(w)
	}
	return sd
}

// Pearson's data (1901) with York's weights (1966). The published line is that
// of J. H. Williamson, Canadian Journal of Physics 46, 1845, 1968; the rest is
// golden/eiv.json, York's iteration in 40 digits, confirmed by ODRPACK.
func TestLinePearsonYork(t *testing.T) {
	p := readEIV(t).Pearson
	l, err := FitLine(p.X, p.Y, sds(p.WX), sds(p.WY), nil)
	require.NoError(t, err)
	assert.Equal(t, NoiseGiven, l.Noise)
	assert.Equal(t, 8, l.DoF())
	assert.InDelta(t, p.Published.Intercept, l.Intercept, 1e-11, "as printed")
	assert.InDelta(t, p.Published.Slope, l.Slope, 1e-11, "as printed")
	assert.InEpsilon(t, p.York.Intercept, l.Intercept, 1e-12)
	assert.InEpsilon(t, p.York.Slope, l.Slope, 1e-12)
	assert.InEpsilon(t, p.York.S, l.S, 1e-12)
	given, scaled := l.StdErrs(NoiseGiven), l.StdErrs(NoiseFromResiduals)
	assert.InEpsilon(t, p.York.SEIntercept, given[0], 1e-12)
	assert.InEpsilon(t, p.York.SESlope, given[1], 1e-12)
	assert.InEpsilon(t, p.York.SEInterceptScaled, scaled[0], 1e-12)
	assert.InEpsilon(t, p.York.SESlopeScaled, scaled[1], 1e-12)
	assert.InEpsilon(t, p.York.Cov, l.Covariance(NoiseGiven).At(0, 1), 1e-12)

	l, err = FitLine(p.X, p.Y, nil, nil, nil)
	require.NoError(t, err)
	assert.InEpsilon(t, p.Ordinary.Intercept, l.Intercept, 1e-13)
	assert.InEpsilon(t, p.Ordinary.Slope, l.Slope, 1e-13)
	assert.Equal(t, NoiseFromResiduals, l.Noise)
	l, err = FitLine(p.X, p.Y, nil, sds(p.WY), nil)
	require.NoError(t, err)
	assert.InEpsilon(t, p.Weighted.Intercept, l.Intercept, 1e-13)
	assert.InEpsilon(t, p.Weighted.Slope, l.Slope, 1e-13)
}

// Deming's line for a known ratio of the variances, a closed form, on Pearson's
// data; at 1 the orthogonal line that Pearson gives as 5.784 and -0.546.
func TestLineDeming(t *testing.T) {
	file := readEIV(t)
	require.Len(t, file.Deming.Rows, 3)
	for _, want := range file.Deming.Rows {
		sx, sy := make([]float64, 10), make([]float64, 10)
		for i := range sx {
			sx[i], sy[i] = 0.1, 0.1*math.Sqrt(want.Delta)
		}
		l, err := FitLine(file.Pearson.X, file.Pearson.Y, sx, sy, nil)
		require.NoError(t, err)
		assert.InEpsilon(t, want.Intercept, l.Intercept, 1e-12)
		assert.InEpsilon(t, want.Slope, l.Slope, 1e-12)
		if want.Delta == 1 {
			assert.InDelta(t, 5.784, l.Intercept, 5e-4, "Pearson 1901")
			assert.InDelta(t, -0.546, l.Slope, 5e-4, "Pearson 1901")
		}
	}
}

// NIST StRD Norris.
func TestLineNorris(t *testing.T) {
	file, err := os.Open("../testdata/strd/Norris.dat")
	require.NoError(t, err)
	defer file.Close()
	var x, y []float64
	for line, lines := 1, bufio.NewScanner(file); lines.Scan(); line++ {
		if line >= 61 && line <= 96 {
			v := numbers(t, lines.Text())
			y, x = append(y, v[0]), append(x, v[1])
		}
	}
	require.Len(t, x, 36)
	l, err := FitLine(x, y, nil, nil, nil)
	require.NoError(t, err)
	assert.InEpsilon(t, -0.262323073774029, l.Intercept, 1e-10)
	assert.InEpsilon(t, 1.00211681802045, l.Slope, 1e-10)
	assert.InEpsilon(t, 26.6173985294224, l.S, 1e-10)
	sd := l.StdErrs(l.Noise)
	assert.InEpsilon(t, 0.232818234301152, sd[0], 1e-10)
	assert.InEpsilon(t, 0.429796848199937e-03, sd[1], 1e-10)
}

// JCGM 100:2008, H.3, calibration of a thermometer: published values (recalled)
// as printed, and golden/gum.json in full.
func TestLineGUMThermometer(t *testing.T) {
	g := readGUM(t).Thermometer
	x := make([]float64, len(g.T))
	for i, v := range g.T {
		x[i] = v - 20
	}
	l, err := FitLine(x, g.B, nil, nil, nil)
	require.NoError(t, err)
	sd := l.StdErrs(NoiseFromResiduals)
	r := l.Covariance(NoiseFromResiduals).At(0, 1) / sd[0] / sd[1]
	s := math.Sqrt(l.S / float64(l.DoF()))
	for i, got := range []float64{l.Intercept, l.Slope} {
		assert.InEpsilon(t, g.Computed.Y[i], got, 1e-10)
		assert.InEpsilon(t, g.Computed.U[i], sd[i], 1e-10)
	}
	assert.InEpsilon(t, g.Computed.R, r, 1e-10)
	assert.InEpsilon(t, g.Computed.S, s, 1e-10)
	assert.InEpsilon(t, g.Computed.B30, l.At(10), 1e-10)
	assert.InEpsilon(t, g.Computed.UB30, l.AtSD(10, NoiseFromResiduals), 1e-10)
	for _, c := range []struct{ published, got, unit float64 }{
		{g.Published.Y1, l.Intercept, 1e-4}, {g.Published.UY1, sd[0], 1e-4},
		{g.Published.Y2, l.Slope, 1e-5}, {g.Published.UY2, sd[1], 1e-5},
		{g.Published.R, r, 1e-3}, {g.Published.S, s, 1e-4},
		{g.Published.B30, l.At(10), 1e-4}, {g.Published.UB30, l.AtSD(10, NoiseFromResiduals), 1e-4},
	} {
		assert.InDelta(t, c.published, c.got, 0.5*c.unit)
	}
}

// The curve with errors in both variables of golden/eiv.json (ODRPACK) by
// Minimize, with the true times as parameters beside limit and rate.
func TestErrorsInBothByMinimize(t *testing.T) {
	c := readEIV(t).Curve
	m := len(c.T)
	n := 2 + m
	p := Problem{M: 2 * m, N: n, Eval: func(p, r, jac []float64) {
		clear(jac)
		for i := range m {
			u := p[2+i]
			e := math.Exp(-p[1] * u)
			r[i] = (p[0]*(1-e) - c.Y[i]) / c.SY[i]
			jac[i*n], jac[i*n+1], jac[i*n+2+i] = (1-e)/c.SY[i], p[0]*u*e/c.SY[i], p[0]*p[1]*e/c.SY[i]
			r[m+i] = (u - c.T[i]) / c.SX[i]
			jac[(m+i)*n+2+i] = 1 / c.SX[i]
		}
	}}
	s := Minimize(p, append([]float64{1, 0.15}, c.T...), Options{})
	require.Equal(t, Converged, s.Status)
	assert.InEpsilon(t, c.A, s.Params[0], 1e-8)
	assert.InEpsilon(t, c.K, s.Params[1], 1e-8)
	assert.InEpsilon(t, c.Sum, s.RSS, 1e-8)
	for i, x := range c.X {
		assert.InEpsilon(t, x, s.Params[2+i], 1e-7)
	}
	assert.InEpsilon(t, c.Cov[0][0], s.Cov.At(0, 0), 1e-6)
	assert.InEpsilon(t, c.Cov[0][1], s.Cov.At(0, 1), 1e-6)
	assert.InEpsilon(t, c.Cov[1][1], s.Cov.At(1, 1), 1e-6)
}

// Correlated errors of all sizes: the line must lie at the least sum of squares
// on a fine grid of slopes, turn over when x and y are exchanged, and follow a
// change of units, errors and all.
func TestLineProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	for range 200 {
		n := 3 + r.IntN(8)
		x, y, sx, sy, c := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		truth := math.Tan(math.Pi * (r.Float64() - 0.5) * 0.9)
		for i := range n {
			sx[i], sy[i], c[i] = math.Pow(10, -2*r.Float64()), math.Pow(10, -2*r.Float64()), 1.8*r.Float64()-0.9
			at, a, b := 10*r.Float64(), r.NormFloat64(), r.NormFloat64()
			x[i] = at + sx[i]*a
			y[i] = 3 + truth*at + sy[i]*(c[i]*a+math.Sqrt(1-c[i]*c[i])*b)
		}
		l, err := FitLine(x, y, sx, sy, c)
		require.NoError(t, err)
		for i := range 2000 {
			b := math.Tan(math.Pi * (float64(i)/2000 - 0.5))
			assert.GreaterOrEqual(t, sumAlongY(x, y, sx, sy, c, b), l.S*(1-1e-9))
		}
		assert.InEpsilon(t, sumAlongY(x, y, sx, sy, c, l.Slope), l.S, 1e-7)

		turned, err := FitLine(y, x, sy, sx, c)
		require.NoError(t, err)
		assert.InEpsilon(t, 1/l.Slope, turned.Slope, 1e-9)
		assert.InDelta(t, -l.Intercept/l.Slope, turned.Intercept, 1e-8*math.Max(1, math.Abs(l.Intercept/l.Slope)))
		assert.InEpsilon(t, l.S, turned.S, 1e-9)

		scaled := func(v []float64, by, add float64) []float64 {
			out := make([]float64, n)
			for i := range v {
				out[i] = by*v[i] + add
			}
			return out
		}
		other, err := FitLine(scaled(x, 1000, 7), scaled(y, 0.01, -5), scaled(sx, 1000, 0), scaled(sy, 0.01, 0), c)
		require.NoError(t, err)
		assert.InEpsilon(t, l.Slope*1e-5, other.Slope, 1e-9)
		assert.InEpsilon(t, l.StdErrs(NoiseGiven)[1]*1e-5, other.StdErrs(NoiseGiven)[1], 1e-8)
		assert.InEpsilon(t, 0.01*l.AtSD(2, NoiseGiven), other.AtSD(2007, NoiseGiven), 1e-6)
	}
}

// sumAlongY is the weighted sum of squares of the best line of slope b, as
// written by York et al. 2004.
func sumAlongY(x, y, sx, sy, r []float64, b float64) float64 {
	var w, mean, s float64
	weight := func(i int) float64 { return 1 / (sy[i]*sy[i] + b*b*sx[i]*sx[i] - 2*b*r[i]*sx[i]*sy[i]) }
	for i := range x {
		w, mean = w+weight(i), mean+weight(i)*(y[i]-b*x[i])
	}
	for i := range x {
		d := y[i] - b*x[i] - mean/w
		s += weight(i) * d * d
	}
	return s
}

// The standard errors against the scatter of 4000 lines through points drawn
// anew: within 4 %, three standard errors of a standard deviation.
func TestLineErrorsAgainstDraws(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 1))
	const n = 8
	sx, sy, c := make([]float64, n), make([]float64, n), make([]float64, n)
	x, y := make([]float64, n), make([]float64, n)
	for i := range n {
		sx[i], sy[i], c[i] = 0.05+0.02*float64(i%3), 0.03+0.03*float64(i%2), 0.5-0.1*float64(i)
	}
	var slopes, intercepts []float64
	var stated [2]float64
	for range 4000 {
		for i := range n {
			a, b := r.NormFloat64(), r.NormFloat64()
			x[i] = float64(i) + sx[i]*a
			y[i] = 2 - 0.7*float64(i) + sy[i]*(c[i]*a+math.Sqrt(1-c[i]*c[i])*b)
		}
		l, err := FitLine(x, y, sx, sy, c)
		require.NoError(t, err)
		slopes, intercepts = append(slopes, l.Slope), append(intercepts, l.Intercept)
		for i, v := range l.StdErrs(NoiseGiven) {
			stated[i] += v / 4000
		}
	}
	mean, sd := moments(intercepts)
	assert.InDelta(t, 2, mean, 4*sd/math.Sqrt(4000))
	assert.InEpsilon(t, sd, stated[0], 0.04)
	mean, sd = moments(slopes)
	assert.InDelta(t, -0.7, mean, 4*sd/math.Sqrt(4000))
	assert.InEpsilon(t, sd, stated[1], 0.04)
}

func TestLineErrors(t *testing.T) {
	nan := math.NaN()
	three := []float64{1, 2, 3}
	for _, c := range []struct {
		x, y, sx, sy, r []float64
		noLine          bool
		message         string
	}{
		{three[:1], three[:1], nil, nil, nil, false, "points: 1 given, 2 needed"},
		{three, []float64{1, nan, 2}, nil, nil, nil, false, "point 2: (2, NaN) is not finite"},
		{three, []float64{1, math.Inf(1), 2}, nil, nil, nil, false, "point 2: (2, +Inf) is not finite"},
		{three, three, []float64{1, 0, 1}, []float64{1, 0, 1}, nil, false, "point 2: standard deviations 0 and 0"},
		{three, three, nil, []float64{1, 1, 0}, nil, false, "point 3: standard deviations 0 and 0"},
		{three, three, []float64{-1, 1, 1}, nil, nil, false, "point 1: standard deviations -1"},
		{three, three, three, three, []float64{0, 1, 0}, false, "point 2: correlation 1 is outside"},
		{[]float64{2, 2, 2}, three, nil, nil, nil, true, "every x is 2"},
		{[]float64{-1, 1, 0, 0}, []float64{0, 0, 2, -2}, []float64{1, 1, 1, 1}, []float64{1, 1, 1, 1}, nil, true, "vertical"},
		{[]float64{1, -1, 0, 0}, []float64{0, 0, 1, -1}, []float64{1, 1, 1, 1}, []float64{1, 1, 1, 1}, nil, true, "no slope"},
	} {
		_, err := FitLine(c.x, c.y, c.sx, c.sy, c.r)
		require.ErrorContains(t, err, c.message)
		assert.Equal(t, c.noLine, errors.Is(err, ErrNoLine), c.message)
	}
	assert.Panics(t, func() { _, _ = FitLine(three, three[:2], nil, nil, nil) })
	assert.Panics(t, func() { _, _ = FitLine(three, three, three[:2], nil, nil) })

	l, err := FitLine(three[:2], three[1:], nil, nil, nil)
	require.NoError(t, err)
	assert.Nil(t, l.StdErrs(NoiseFromResiduals), "two points say nothing of their noise")
	assert.True(t, math.IsNaN(l.AtSD(0, NoiseFromResiduals)))
	assert.InDelta(t, 1, l.At(0), 1e-12)

	flat, err := FitLine(three, []float64{5, 5, 5}, three, three, nil)
	require.NoError(t, err)
	assert.InDelta(t, 0, flat.Slope, 1e-12)
	assert.InDelta(t, 5, flat.Intercept, 1e-12)
}
