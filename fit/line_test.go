package fit

import (
	"bufio"
	"encoding/json"
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

// lineThrough returns the line, intercept and slope first among its parameters,
// that Minimize lays through points with standard deviations sx and sy; a nil sx
// means that x is exact, a nil sy equal errors of y. Where x has errors its true
// values are parameters too: at the least sum of squares that is the line of D.
// York, Canadian Journal of Physics 44, 1079, 1966, and the errors are those of
// D. York et al., American Journal of Physics 72, 367, 2004.
func lineThrough(t testing.TB, x, y, sx, sy []float64) Solution {
	m := len(x)
	p := Problem{M: m, N: 2, Eval: func(p, r, jac []float64) {
		clear(jac)
		for i := range m {
			s := 1.0
			if sy != nil {
				s = sy[i]
			}
			r[i] = (p[0] + p[1]*x[i] - y[i]) / s
			if jac != nil {
				jac[i*2], jac[i*2+1] = 1/s, x[i]/s
			}
		}
	}}
	s := Minimize(p, []float64{0, 0}, Options{})
	require.Equal(t, Converged, s.Status)
	if sx == nil {
		return s
	}
	n := 2 + m
	p = Problem{M: 2 * m, N: n, Eval: func(p, r, jac []float64) {
		clear(jac)
		for i, u := range p[2:] {
			r[i], r[m+i] = (p[0]+p[1]*u-y[i])/sy[i], (u-x[i])/sx[i]
			if jac != nil {
				jac[i*n], jac[i*n+1], jac[i*n+2+i] = 1/sy[i], u/sy[i], p[1]/sy[i]
				jac[(m+i)*n+2+i] = 1 / sx[i]
			}
		}
	}}
	s = Minimize(p, append(s.Params[:2:2], x...), Options{Tolerance: 1e-13})
	require.Equal(t, Converged, s.Status)
	return s
}

// lineAt returns the line at x and its standard deviation.
func lineAt(l Solution, x float64, n Noise) (y, sd float64) {
	c := l.Covariance(n)
	return l.Params[0] + l.Params[1]*x, math.Sqrt(c.At(0, 0) + 2*x*c.At(0, 1) + x*x*c.At(1, 1))
}

// Pearson's data (1901) with York's weights (1966). The published line is that
// of J. H. Williamson, Canadian Journal of Physics 46, 1845, 1968; the rest is
// golden/eiv.json, York's iteration in 40 digits, confirmed by ODRPACK.
func TestLinePearsonYork(t *testing.T) {
	p := readEIV(t).Pearson
	l := lineThrough(t, p.X, p.Y, sds(p.WX), sds(p.WY))
	assert.Equal(t, 8, l.DoF())
	assert.InDelta(t, p.Published.Intercept, l.Params[0], 1e-11, "as printed")
	assert.InDelta(t, p.Published.Slope, l.Params[1], 1e-11, "as printed")
	assert.InEpsilon(t, p.York.Intercept, l.Params[0], 1e-12)
	assert.InEpsilon(t, p.York.Slope, l.Params[1], 1e-12)
	assert.InEpsilon(t, p.York.S, l.RSS, 1e-12)
	given, scaled := l.StdErrs(NoiseGiven), l.StdErrs(NoiseFromResiduals)
	assert.InEpsilon(t, p.York.SEIntercept, given[0], 1e-12)
	assert.InEpsilon(t, p.York.SESlope, given[1], 1e-12)
	assert.InEpsilon(t, p.York.SEInterceptScaled, scaled[0], 1e-12)
	assert.InEpsilon(t, p.York.SESlopeScaled, scaled[1], 1e-12)
	assert.InEpsilon(t, p.York.Cov, l.Covariance(NoiseGiven).At(0, 1), 1e-12)

	l = lineThrough(t, p.X, p.Y, nil, nil)
	assert.InEpsilon(t, p.Ordinary.Intercept, l.Params[0], 1e-13)
	assert.InEpsilon(t, p.Ordinary.Slope, l.Params[1], 1e-13)
	l = lineThrough(t, p.X, p.Y, nil, sds(p.WY))
	assert.InEpsilon(t, p.Weighted.Intercept, l.Params[0], 1e-13)
	assert.InEpsilon(t, p.Weighted.Slope, l.Params[1], 1e-13)
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
		l := lineThrough(t, file.Pearson.X, file.Pearson.Y, sx, sy)
		assert.InEpsilon(t, want.Intercept, l.Params[0], 1e-12)
		assert.InEpsilon(t, want.Slope, l.Params[1], 1e-12)
		if want.Delta == 1 {
			assert.InDelta(t, 5.784, l.Params[0], 5e-4, "Pearson 1901")
			assert.InDelta(t, -0.546, l.Params[1], 5e-4, "Pearson 1901")
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
	l := lineThrough(t, x, y, nil, nil)
	assert.InEpsilon(t, -0.262323073774029, l.Params[0], 1e-10)
	assert.InEpsilon(t, 1.00211681802045, l.Params[1], 1e-10)
	assert.InEpsilon(t, 26.6173985294224, l.RSS, 1e-10)
	sd := l.StdErrs(NoiseFromResiduals)
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
	l := lineThrough(t, x, g.B, nil, nil)
	sd := l.StdErrs(NoiseFromResiduals)
	r := l.Covariance(NoiseFromResiduals).At(0, 1) / sd[0] / sd[1]
	b30, ub30 := lineAt(l, 10, NoiseFromResiduals)
	s := math.Sqrt(l.RSS / float64(l.DoF()))
	for i, got := range []float64{l.Params[0], l.Params[1]} {
		assert.InEpsilon(t, g.Computed.Y[i], got, 1e-10)
		assert.InEpsilon(t, g.Computed.U[i], sd[i], 1e-10)
	}
	assert.InEpsilon(t, g.Computed.R, r, 1e-10)
	assert.InEpsilon(t, g.Computed.S, s, 1e-10)
	assert.InEpsilon(t, g.Computed.B30, b30, 1e-10)
	assert.InEpsilon(t, g.Computed.UB30, ub30, 1e-10)
	for _, c := range []struct{ published, got, unit float64 }{
		{g.Published.Y1, l.Params[0], 1e-4}, {g.Published.UY1, sd[0], 1e-4},
		{g.Published.Y2, l.Params[1], 1e-5}, {g.Published.UY2, sd[1], 1e-5},
		{g.Published.R, r, 1e-3}, {g.Published.S, s, 1e-4},
		{g.Published.B30, b30, 1e-4}, {g.Published.UB30, ub30, 1e-4},
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

// The standard errors against the scatter of 4000 lines through points drawn
// anew: within 4 %, three standard errors of a standard deviation.
func TestLineErrorsAgainstDraws(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 1))
	const n = 8
	sx, sy := make([]float64, n), make([]float64, n)
	x, y := make([]float64, n), make([]float64, n)
	for i := range n {
		sx[i], sy[i] = 0.05+0.02*float64(i%3), 0.03+0.03*float64(i%2)
	}
	var slopes, intercepts []float64
	var stated [2]float64
	for range 4000 {
		for i := range n {
			x[i] = float64(i) + sx[i]*r.NormFloat64()
			y[i] = 2 - 0.7*float64(i) + sy[i]*r.NormFloat64()
		}
		l := lineThrough(t, x, y, sx, sy)
		slopes, intercepts = append(slopes, l.Params[1]), append(intercepts, l.Params[0])
		for i, v := range l.StdErrs(NoiseGiven)[:2] {
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
