package smooth

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"sensito/fit"
	"sensito/fit/internal/curvecheck"
)

// bspline returns the value at u of the cubic B-spline on the knots 0 to 4, by
// the recursion of de Boor, A Practical Guide to Splines, 1978, chapter X.
func bspline(u float64) float64 {
	var of func(from, degree float64) float64
	of = func(from, degree float64) float64 {
		if degree == 0 {
			if u >= from && u < from+1 {
				return 1
			}
			return 0
		}
		return ((u-from)*of(from, degree-1) + (from+degree+1-u)*of(from+1, degree-1)) / degree
	}
	return of(0, 3)
}

// dense is the problem of a spline fit set up anew from the definition: the
// design in the level and the rises, and all second differences of the
// coefficients, with the first three coefficients equal.
type dense struct {
	a, diff *mat.Dense
	y       *mat.VecDense
}

func denseProblem(d fit.BendData, s Spline) dense {
	n, c := len(d.X)+len(d.Base), len(s.Coef)
	k := c - 2
	rises := mat.NewDense(c, k, nil) // from parameters to coefficients
	for i := range c {
		rises.Set(i, 0, 1)
		for j := 3; j <= i; j++ {
			rises.Set(i, j-2, 1)
		}
	}
	basis := mat.NewDense(n, c, nil)
	out := dense{a: mat.NewDense(n, k, nil), diff: mat.NewDense(c-2, k, nil), y: mat.NewVecDense(n, nil)}
	for r := range n {
		if r < len(d.X) {
			u := (d.X[r] - s.First) / s.Step
			for i := range c {
				basis.Set(r, i, bspline(u-float64(i-3))/d.Sigma)
			}
			out.y.SetVec(r, d.Y[r]/d.Sigma)
		} else {
			basis.Set(r, 0, 1/d.Sigma)
			out.y.SetVec(r, d.Base[r-len(d.X)]/d.Sigma)
		}
	}
	out.a.Mul(basis, rises)
	second := mat.NewDense(c-2, c, nil)
	for i := range c - 2 {
		second.Set(i, i, 1)
		second.Set(i, i+1, -2)
		second.Set(i, i+2, 1)
	}
	out.diff.Mul(second, rises)
	return out
}

// normal returns a'a + penalty diff'diff.
func (p dense) normal(penalty float64) *mat.Dense {
	var m, q mat.Dense
	m.Mul(p.a.T(), p.a)
	q.Mul(p.diff.T(), p.diff)
	q.Scale(penalty, &q)
	m.Add(&m, &q)
	return &m
}

// gradient returns the derivatives of half the penalised sum of squares, and
// the largest term in one.
func (p dense) gradient(penalty float64, params []float64) (g []float64, terms float64) {
	v := mat.NewVecDense(len(params), params)
	var out, aty mat.VecDense
	out.MulVec(p.normal(penalty), v)
	aty.MulVec(p.a.T(), p.y)
	terms = mat.Norm(&aty, math.Inf(1))
	out.SubVec(&out, &aty)
	return out.RawVector().Data, terms
}

// drawReadings returns any readings at all: rising, falling, jumping, with or
// without readings of the base, with a sigma not below the given one.
func drawReadings(t *rapid.T, sigma float64) fit.BendData {
	n := rapid.IntRange(5, 35).Draw(t, "n")
	first := rapid.Float64Range(-4, 0).Draw(t, "first")
	step := rapid.Float64Range(0.05, 0.5).Draw(t, "step")
	d := fit.BendData{Sigma: rapid.Float64Range(sigma, 0.05).Draw(t, "sigma"),
		Base: rapid.SliceOfN(rapid.Float64Range(0, 0.5), 0, 3).Draw(t, "base")}
	for i := range n {
		d.X = append(d.X, first+step*float64(i))
	}
	if rapid.Bool().Draw(t, "curve") {
		b := drawBend(t)
		noise := rapid.Float64Range(0, 0.2).Draw(t, "noise")
		seed := rapid.Uint64().Draw(t, "seed")
		rnd := rand.New(rand.NewPCG(seed, 1))
		for i := range n {
			d.Y = append(d.Y, b.At(3*float64(i)/float64(n-1))+noise*rnd.NormFloat64())
		}
	} else {
		d.Y = rapid.SliceOfN(rapid.Float64Range(0, 3), n, n).Draw(t, "y")
	}
	return d
}

func TestSplineCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawReadings(t, 1e-5)
		got, err := FitSpline(d, 10, 1)
		require.NoError(t, err)
		curvecheck.Check(t, got.Spline, d.X[0], d.X[len(d.X)-1], fit.Root)

		for j := 1; j < len(got.Coef); j++ {
			require.GreaterOrEqual(t, got.Coef[j], got.Coef[j-1], "coefficients fall")
		}
		for _, r := range got.Params[1:] {
			require.GreaterOrEqual(t, r, 0.0, "a rise is negative")
		}
		assert.Equal(t, got.Spline, got.SplineOf(got.Params))
		assert.InDelta(t, d.X[len(d.X)-1], got.Last(), 1e-12)
		// Level to the left, straight to the right.
		assert.Less(t, got.First, d.X[0])
		for _, far := range []float64{0, 0.1, 1, 1e3} {
			assert.Equal(t, got.Params[0], got.At(got.First-far))
			assert.Zero(t, got.SlopeAt(got.First-far))
			end, slope := got.At(got.Last()), got.SlopeAt(got.Last())
			assert.InDelta(t, end+far*slope, got.At(got.Last()+far), 1e-12*(1+far*slope))
			assert.Equal(t, slope, got.SlopeAt(got.Last()+far))
		}
	})
}

// The basis against de Boor's recursion.
func TestSplineBasis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Spline{First: rapid.Float64Range(-4, 4).Draw(t, "first"), Step: rapid.Float64Range(0.05, 1).Draw(t, "step"),
			Coef: rapid.SliceOfN(rapid.Float64Range(-1, 1), 6, 20).Draw(t, "coef")}
		s.Coef[1], s.Coef[2] = s.Coef[0], s.Coef[0]
		x := s.First + rapid.Float64Range(0, 0.999).Draw(t, "x")*(s.Last()-s.First)
		var want float64
		for i, c := range s.Coef {
			want += c * bspline((x-s.First)/s.Step-float64(i-3))
		}
		assert.InDelta(t, want, s.At(x), 1e-12)
	})
}

// The conditions of Karush, Kuhn and Tucker at the solution, from the problem
// set up anew: no slope in the free parameters, none downhill in the rises that
// are held at zero. The same for what is derived there: the effective number of
// parameters as the trace of the influence matrix, the covariance as an inverse.
func TestFitSplineOptimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawReadings(t, 0.003)
		got, err := FitSpline(d, 10, 1)
		require.NoError(t, err)
		p := denseProblem(d, got.Spline)
		g, terms := p.gradient(got.Penalty, got.Params)
		var free []int
		for i, v := range got.Params {
			if got.Cov.At(i, i) > 0 {
				free = append(free, i)
				assert.InDelta(t, 0, g[i], 1e-9*terms, "free parameter %d", i)
			} else {
				assert.Zero(t, v, "held rise %d", i)
				assert.GreaterOrEqual(t, g[i], -1e-9*terms, "held rise %d", i)
			}
		}

		var fitted mat.VecDense
		fitted.MulVec(p.a, mat.NewVecDense(len(got.Params), got.Params))
		fitted.SubVec(&fitted, p.y)
		assert.InDelta(t, mat.Dot(&fitted, &fitted), got.RSS, 1e-9*mat.Dot(p.y, p.y))

		n, _ := p.a.Dims()
		m, some := mat.NewDense(len(free), len(free), nil), mat.NewDense(n, len(free), nil)
		full := p.normal(got.Penalty)
		for a, i := range free {
			for b, j := range free {
				m.Set(a, b, full.At(i, j))
			}
			for r := range n {
				some.Set(r, a, p.a.At(r, i))
			}
		}
		rounding := 1e-9 + 0x1p-52*float64(len(free))*mat.Cond(m, 1)
		var inverse, influence mat.Dense
		require.NoError(t, inverse.Inverse(m))
		influence.Product(some, &inverse, some.T())
		assert.InDelta(t, mat.Trace(&influence), got.EDF, rounding*float64(len(free)))
		place := map[int]int{}
		for a, i := range free {
			place[i] = a
		}
		for i := range got.Params {
			for j := range got.Params {
				a, freeI := place[i]
				b, freeJ := place[j]
				if freeI && freeJ {
					tolerance := rounding * math.Sqrt(inverse.At(a, a)*inverse.At(b, b))
					assert.InDelta(t, inverse.At(a, b), got.Cov.At(i, j), tolerance)
				} else {
					assert.Zero(t, got.Cov.At(i, j))
				}
			}
		}
	})
}

// restricted returns minus twice the restricted log likelihood up to a constant
// by its other form, through the covariance of the readings: the rises are
// random with covariance (diff'diff)^-1/penalty, so the readings have
// V = I + a_r (diff'diff)^-1 a_r'/penalty about the level
// (Harville, J. Am. Stat. Assoc. 72, 320, 1977, from memory).
func (p dense) restricted(penalty, worth, variance float64) float64 {
	n, k := p.a.Dims()
	c, _ := p.diff.Dims()
	rises, level := p.a.Slice(0, n, 1, k), p.a.Slice(0, n, 0, 1)
	diff := p.diff.Slice(0, c, 1, k)
	var q, inverse, v, vi mat.Dense
	q.Mul(diff.T(), diff)
	if err := inverse.Inverse(&q); err != nil {
		return math.NaN()
	}
	v.Product(rises, &inverse, rises.T())
	v.Scale(1/penalty, &v)
	for i := range n {
		v.Set(i, i, v.At(i, i)+1)
	}
	if err := vi.Inverse(&v); err != nil {
		return math.NaN()
	}
	var vy, vx mat.Dense
	vy.Mul(&vi, p.y)
	vx.Mul(&vi, level)
	var xx, xy, yy mat.Dense
	xx.Mul(level.T(), &vx)
	xy.Mul(level.T(), &vy)
	yy.Mul(p.y.T(), &vy)
	quadratic := yy.At(0, 0) - xy.At(0, 0)*xy.At(0, 0)/xx.At(0, 0)
	det, _ := mat.LogDet(&v)
	return (float64(n-1)+worth)*math.Log(quadratic+worth*variance) + det + math.Log(xx.At(0, 0))
}

func TestFitSplinePenalty(t *testing.T) {
	rnd := rand.New(rand.NewPCG(16, 18))
	for name, b := range usual {
		for _, noise := range []float64{0.3, 1, 3} {
			for _, known := range []struct{ worth, variance float64 }{{0, 1}, {10, 1}, {10, 0.3}} {
				d := strip(b, 21)
				d.Sigma *= noise
				d = noisy(d, rnd)
				d.Sigma /= noise
				got, err := FitSpline(d, known.worth, known.variance)
				require.NoError(t, err)
				p := denseProblem(d, got.Spline)
				at := func(ln float64) float64 { return p.restricted(got.Penalty*math.Exp(ln), known.worth, known.variance) }
				what := fmt.Sprintf("%s, noise %g, known %v, ln penalty %.2f", name, noise, known, math.Log(got.Penalty))
				for _, away := range []float64{0.02, 0.1, 0.5, 1} {
					assert.Greater(t, at(away), at(0), "%s: larger by %g", what, away)
					assert.Greater(t, at(-away), at(0), "%s: smaller by %g", what, away)
				}
				// And the lowest of them over the whole range.
				for ln := -6.0; ln <= 18; ln += 0.25 {
					assert.GreaterOrEqual(t, at(ln-math.Log(got.Penalty)), at(0)-1e-3, "%s: lower at %g", what, ln)
				}
			}
		}
	}
}

// A penalty that vanishes leaves the rising curve nearest to the readings: for
// readings that rise, one through them all, where there are knots enough. One
// that grows beyond bounds leaves their mean, since a level start has no second
// difference only when all is level.
func TestSplinePenaltyLimits(t *testing.T) {
	d := strip(usual["toe-line"], 10) // with two readings of the base
	p := newSplineProblem(d)
	got, err := p.solve(1e-7)
	require.NoError(t, err)
	for i, x := range d.X {
		assert.InDelta(t, d.Y[i], got.At(x), 1e-5)
	}
	assert.InDelta(t, 11, got.EDF, 0.01, "10 readings and the base")

	got, err = p.solve(1e15)
	require.NoError(t, err)
	mean := 0.0
	for _, y := range append(append([]float64(nil), d.Y...), d.Base...) {
		mean += y / 12
	}
	for _, x := range d.X {
		assert.InDelta(t, mean, got.At(x), 1e-6)
	}
	assert.InDelta(t, 1, got.EDF, 1e-6)
}

// A level line has no second differences and is met whatever the penalty. A
// straight one has some, since the curve starts level: the readings alone ask
// for a penalty that lets it pass through them, and readings of a stated
// repeatability for one that keeps it within that.
func TestFitSplineLines(t *testing.T) {
	for _, n := range []int{8, 21, 35} {
		for _, sigma := range []float64{1e-5, 1e-4, 0.01, 0.1} {
			for _, worth := range []float64{0, 10} {
				within := 0.6 * sigma
				if worth == 0 {
					within = 2e-4 * sigma
				}
				level, straight := fit.BendData{Sigma: sigma}, fit.BendData{Sigma: sigma}
				for i := range n {
					x := 3 * float64(i) / float64(n-1)
					level.X, level.Y = append(level.X, x), append(level.Y, 0.3)
					straight.X, straight.Y = append(straight.X, x), append(straight.Y, 0.2+0.6*x)
				}
				what := fmt.Sprintf("%d readings, sigma %g, worth %g", n, sigma, worth)
				got, err := FitSpline(level, worth, 1)
				require.NoError(t, err, what)
				for _, c := range got.Coef {
					assert.InDelta(t, 0.3, c, 1e-12, what)
				}
				got, err = FitSpline(straight, worth, 1)
				require.NoError(t, err, what)
				for i, x := range straight.X {
					assert.InDelta(t, straight.Y[i], got.At(x), within, what)
				}
			}
		}
	}
}

// golden is a set of testdata/golden/smooth.json.
type golden struct {
	X, Y, W, Grid []float64
	Knots         []float64               `json:"pspline_knots"`
	Monotone      map[string]goldenSpline `json:"monotone_pspline"`
	Free          map[string]goldenSpline `json:"pspline"`
}

type goldenSpline struct {
	Coef, Fit, Grid []float64
	Objective       float64
	Active          int
}

func readGolden(t *testing.T) map[string]golden {
	text, err := os.ReadFile("../../testdata/golden/smooth.json")
	require.NoError(t, err)
	var all struct{ Sets map[string]golden }
	require.NoError(t, json.Unmarshal(text, &all))
	require.Len(t, all.Sets, 9)
	return all.Sets
}

// Monotone and free P-splines as exact quadratic programs, from SciPy's bounded
// least squares and R's quadprog (SciPy 1.10.1, quadprog 1.5-8, which agree to
// 1e-14): golden/smooth.json. Its knots end at the readings and its start is
// free. Weights are whole numbers when doubled, as is the penalty then, and
// stand as readings repeated.
func TestSplineGolden(t *testing.T) {
	for name, set := range readGolden(t) {
		d := fit.BendData{Sigma: 1}
		for i, x := range set.X {
			require.Equal(t, 2*set.W[i], math.Trunc(2*set.W[i]))
			for range int(2 * set.W[i]) {
				d.X, d.Y = append(d.X, x), append(d.Y, set.Y[i])
			}
		}
		last := len(set.Knots) - 4
		knots := Spline{First: set.Knots[3], Step: (set.Knots[last] - set.Knots[3]) / float64(last-3), Coef: make([]float64, last)}
		p := newSplineProblemOn(knots, d, 0)
		for lambda, want := range set.Monotone {
			what := fmt.Sprintf("%s, penalty %s", name, lambda)
			penalty, err := strconv.ParseFloat(lambda, 64)
			require.NoError(t, err)
			penalty *= 2
			got, err := p.solve(penalty)
			require.NoError(t, err, what)
			checkGolden(t, what+", rising", knots, got.Params, set, want)
			held := 0
			for _, r := range got.Params[1:] {
				if r == 0 {
					held++
				}
			}
			assert.Equal(t, want.Active, held, what)
			p.start = got.Params[0] - p.mean
			floats.CumSum(p.height[1:p.k], got.Params[1:])
			rss, rough := p.squares()
			assert.InDelta(t, 2*want.Objective, rss+penalty*rough, 1e-9, what)

			_, err = p.solveFor(penalty, nil)
			require.NoError(t, err)
			free := []float64{p.mean + p.start}
			for j := 1; j < p.k; j++ {
				free = append(free, p.rise(j))
			}
			checkGolden(t, what+", free", knots, free, set, set.Free[lambda])
		}
	}
}

func checkGolden(t *testing.T, what string, s Spline, params []float64, set golden, want goldenSpline) {
	s.Coef = make([]float64, len(want.Coef))
	floats.CumSum(s.Coef, params)
	assert.InDeltaSlice(t, want.Coef, s.Coef, 1e-9, what)
	value := func(x float64) (y float64) {
		i, b, _ := s.basis(x)
		return floats.Dot(b[:], s.Coef[i:i+4])
	}
	for i, x := range set.X {
		assert.InDelta(t, want.Fit[i], value(x), 1e-9, "%s: fit at %g", what, x)
	}
	for i, x := range set.Grid {
		assert.InDelta(t, want.Grid[i], value(x), 1e-9, "%s: curve at %g", what, x)
	}
}

// These readings, of far less scatter than any densitometer's, have the rises that are held
// at zero go round and round; they end at the minimum all the same.
func TestSplineGoesRound(t *testing.T) {
	b := fit.Bend{Base: 0.5, Gradient: 2.5, Toe: 0.98828125, ToeWidth: 0.0625, Power: 1, Shoulder: 1.78828125, ShoulderWidth: 0.095703125}
	rnd := rand.New(rand.NewPCG(0, 1))
	d := fit.BendData{Sigma: 6.103515625e-05}
	for i := range 10 {
		d.X, d.Y = append(d.X, -1+0.5*float64(i)), append(d.Y, b.At(3*float64(i)/9)+7.62939453125e-06*rnd.NormFloat64())
	}
	got, err := FitSpline(d, 10, 1)
	require.NoError(t, err)
	g, terms := denseProblem(d, got.Spline).gradient(got.Penalty, got.Params)
	for i, rise := range got.Params {
		if i == 0 || rise > 0 {
			assert.InDelta(t, 0, g[i], 1e-9*terms, "free, %d", i)
		} else {
			assert.Zero(t, rise)
			assert.GreaterOrEqual(t, g[i], -1e-9*terms, "held, %d", i)
		}
	}
}

func TestFitSplineFaults(t *testing.T) {
	assert.Panics(t, func() { FitSpline(fit.BendData{X: []float64{1, 2}, Y: []float64{1}, Sigma: 1}, 0, 1) })
	assert.Panics(t, func() { FitSpline(fit.BendData{X: []float64{1}, Y: []float64{1}, Sigma: 1}, 0, 1) })
	assert.Panics(t, func() { FitSpline(fit.BendData{X: []float64{1, 2}, Y: []float64{1, 2}}, 0, 1) })
	assert.Panics(t, func() {
		fit.FitBend(new(fit.Solver), fit.BendData{X: []float64{1, 2}, Y: []float64{1}, Sigma: 1}, fit.ToeLine, nil)
	})
	_, err := FitSpline(fit.BendData{X: []float64{1, 1, 1}, Y: []float64{1, 2, 3}, Sigma: 0.01}, 10, 1)
	assert.ErrorIs(t, err, ErrSpline, "all at one place")
	_, err = FitSpline(fit.BendData{X: []float64{1, 2, 3}, Y: []float64{1, math.NaN(), 3}, Sigma: 0.01}, 10, 1)
	assert.ErrorIs(t, err, ErrSpline, "a reading that is no number")
}

func BenchmarkFitSpline(b *testing.B) {
	d := noisy(strip(usual["toe-shoulder"], 21), rand.New(rand.NewPCG(5, 8)))
	b.Run("steps=21", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := FitSpline(d, 10, 1); err != nil {
				b.Fatal(err)
			}
		}
	})
}
