package fit

import (
	"bufio"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// linear is the problem |A p - b|.
func linear(a *mat.Dense, b []float64) Problem {
	m, n := a.Dims()
	return Problem{M: m, N: n, Eval: func(p, r, jac []float64) {
		for i := range m {
			r[i] = mat.Dot(a.RowView(i), mat.NewVecDense(n, p)) - b[i]
			if jac != nil {
				mat.Row(jac[i*n:(i+1)*n], i, a)
			}
		}
	}}
}

// logistic is a four-parameter logistic curve over m equal steps of x from 0
// to 3, with readings of the curve 0.05 + 1.3/(1+exp(-2.6(x-1.45))) that are
// off by a fixed pattern of 0.01.
func logistic(m int) (Problem, []float64) {
	value := func(p []float64, x float64) (y, s float64) {
		s = 1 / (1 + math.Exp(-p[2]*(x-p[3])))
		return p[0] + p[1]*s, s
	}
	x, y := make([]float64, m), make([]float64, m)
	for i := range x {
		x[i] = 3 * float64(i) / float64(m-1)
		y[i], _ = value([]float64{0.05, 1.3, 2.6, 1.45}, x[i])
		y[i] += 0.01 * math.Sin(float64(7*i))
	}
	return Problem{M: m, N: 4, Eval: func(p, r, jac []float64) {
		for i := range x {
			v, s := value(p, x[i])
			r[i] = v - y[i]
			d := p[1] * s * (1 - s)
			jac[4*i], jac[4*i+1], jac[4*i+2], jac[4*i+3] = 1, s, d*(x[i]-p[3]), -d*p[2]
		}
	}}, []float64{0, 1, 2, 1}
}

// NIST StRD Norris, a straight line: certified values and standard errors.
func TestNorris(t *testing.T) {
	file, err := os.Open("../testdata/strd/Norris.dat")
	require.NoError(t, err)
	defer file.Close()
	var x, y []float64
	for line, lines := 1, bufio.NewScanner(file); lines.Scan(); line++ {
		if line < 61 || line > 96 {
			continue
		}
		v := numbers(t, lines.Text())
		y, x = append(y, v[0]), append(x, v[1])
	}
	require.Len(t, x, 36)
	a := mat.NewDense(len(x), 2, nil)
	for i := range x {
		a.SetRow(i, []float64{1, x[i]})
	}
	got := Minimize(linear(a, y), []float64{0, 0}, Options{})
	require.Equal(t, Converged, got.Status)
	assert.InEpsilon(t, -0.262323073774029, got.Params[0], 1e-10)
	assert.InEpsilon(t, 1.00211681802045, got.Params[1], 1e-10)
	assert.InEpsilon(t, 26.6173985294224, got.RSS, 1e-10)
	assert.Equal(t, 34, got.DoF())
	sd := got.StdErrs(NoiseFromResiduals)
	assert.InEpsilon(t, 0.232818234301152, sd[0], 1e-10)
	assert.InEpsilon(t, 0.429796848199937e-03, sd[1], 1e-10)
}

func numbers(t *testing.T, line string) []float64 {
	var v []float64
	for _, f := range strings.Fields(line) {
		v = append(v, parse(t, f))
	}
	return v
}

// Linear problems with bounds against the best of all choices of which
// parameters sit at which bound: 200 random ones, up to five parameters.
func TestBoundsAgainstEnumeration(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	held := 0
	for range 200 {
		n := 1 + rng.IntN(5)
		m := n + rng.IntN(6)
		a, b := mat.NewDense(m, n, nil), make([]float64, m)
		for i := range m {
			b[i] = rng.NormFloat64()
			for j := range n {
				a.Set(i, j, rng.NormFloat64())
			}
		}
		p := linear(a, b)
		start := make([]float64, n)
		for range n {
			p.Lower = append(p.Lower, -0.3*rng.Float64())
			p.Upper = append(p.Upper, 0.3*rng.Float64())
		}
		p.Upper[0] = math.Inf(1)
		want := enumerate(a, b, p.Lower, p.Upper)
		got := Minimize(p, start, Options{})
		require.Equal(t, Converged, got.Status)
		require.InDelta(t, want, got.RSS, 1e-9*want+1e-24)
		for j, v := range got.Params {
			require.True(t, v >= p.Lower[j] && v <= p.Upper[j])
			if got.AtBound[j] {
				held++
				require.True(t, v == p.Lower[j] || v == p.Upper[j])
				require.Equal(t, make([]float64, n), mat.Row(nil, j, got.Cov))
			} else {
				require.Positive(t, got.Cov.At(j, j))
			}
		}
		require.Equal(t, got.Free(), got.Rank)
	}
	assert.Greater(t, held, 100, "the bounds should matter")
}

// enumerate returns the least sum of squares over all choices of parameters
// set to their lower or upper bound, the rest solved and inside.
func enumerate(a *mat.Dense, b, lower, upper []float64) float64 {
	m, n := a.Dims()
	least := math.Inf(1)
	total := int(math.Pow(3, float64(n)))
choices:
	for choice := range total {
		p := make([]float64, n)
		var free []int
		for j, c := 0, choice; j < n; j, c = j+1, c/3 {
			switch c % 3 {
			case 0:
				free = append(free, j)
			case 1:
				p[j] = lower[j]
			case 2:
				p[j] = upper[j]
			}
			if math.IsInf(p[j], 0) {
				continue choices
			}
		}
		var r mat.VecDense
		r.MulVec(a, mat.NewVecDense(n, p))
		r.SubVec(mat.NewVecDense(m, b), &r)
		if len(free) > 0 {
			sub := mat.NewDense(m, len(free), nil)
			for k, j := range free {
				sub.SetCol(k, mat.Col(nil, j, a))
			}
			var x mat.VecDense
			if x.SolveVec(sub, &r) != nil {
				continue
			}
			for k, j := range free {
				if x.AtVec(k) < lower[j] || x.AtVec(k) > upper[j] {
					continue choices
				}
			}
			var moved mat.VecDense
			moved.MulVec(sub, &x)
			r.SubVec(&r, &moved)
		}
		least = math.Min(least, mat.Dot(&r, &r))
	}
	return least
}

// A start at a bound is left again when the minimum is inside, and a start
// outside is moved in.
func TestBoundReleased(t *testing.T) {
	p, start := logistic(21)
	want := Minimize(p, start, Options{})
	require.Equal(t, Converged, want.Status)
	p.Lower = []float64{0, 0, 0.5, -2}
	p.Upper = []float64{3, 4, 20, math.Inf(1)}
	for _, s := range [][]float64{{0, 4, 0.5, 1}, {-7, 99, 0.5, 2}} {
		got := Minimize(p, s, Options{})
		require.Equal(t, Converged, got.Status)
		assert.InDeltaSlice(t, want.Params, got.Params, 1e-9)
		assert.Equal(t, make([]bool, 4), got.AtBound)
		assert.True(t, mat.EqualApprox(want.Cov, got.Cov, 1e-6))
	}
}

// A fixed parameter is a smaller problem: same answer, same covariance.
func TestFixedParameter(t *testing.T) {
	p, start := logistic(21)
	p.Lower, p.Upper = []float64{0.05, 0, 0, 0}, []float64{0.05, 9, 9, 9}
	got := Minimize(p, start, Options{})
	whole := p.Eval
	smaller := Problem{M: p.M, N: 3, Eval: func(q, r, jac []float64) {
		full := make([]float64, 4*p.M)
		whole(append([]float64{0.05}, q...), r, full)
		for i := range r {
			copy(jac[3*i:3*i+3], full[4*i+1:4*i+4])
		}
	}}
	want := Minimize(smaller, start[1:], Options{})
	require.Equal(t, Converged, got.Status)
	assert.InDeltaSlice(t, want.Params, got.Params[1:], 1e-9)
	assert.Equal(t, []bool{true, false, false, false}, got.AtBound)
	assert.Equal(t, want.DoF(), got.DoF())
	assert.True(t, mat.EqualApprox(want.Cov, got.Cov.SliceSym(1, 4), 1e-7))
}

// Two parameters that only act together leave the covariance unknown, not zero
// and not huge, while the fit itself is found; so do one nothing depends on and
// more parameters than residuals.
func TestRankDeficient(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	a, b := mat.NewDense(9, 3, nil), make([]float64, 9)
	var want Solution
	for range 50 {
		for i := range b {
			u, v := rng.NormFloat64(), rng.NormFloat64()
			a.SetRow(i, []float64{u, v, 2*u - v})
			b[i] = rng.NormFloat64()
		}
		want = Minimize(linear(mat.DenseCopyOf(a.Slice(0, 9, 0, 2)), b), []float64{0, 0}, Options{})
		got := Minimize(linear(a, b), []float64{1, 1, 1}, Options{})
		assert.Equal(t, Converged, got.Status)
		assert.InEpsilon(t, want.RSS, got.RSS, 1e-10)
		assert.Equal(t, 2, got.Rank)
		assert.Nil(t, got.Cov)
		assert.Nil(t, got.Covariance(NoiseGiven))
		assert.Nil(t, got.StdErrs(NoiseFromResiduals))
	}

	for i := range b {
		a.Set(i, 2, 0)
	}
	got := Minimize(linear(a, b), []float64{1, 1, 1}, Options{})
	assert.Equal(t, Converged, got.Status)
	assert.InEpsilon(t, want.RSS, got.RSS, 1e-10)
	assert.Equal(t, 1.0, got.Params[2], "stays at the start")
	assert.Equal(t, 2, got.Rank)
	assert.Nil(t, got.Cov)

	got = Minimize(linear(mat.DenseCopyOf(a.Slice(0, 1, 0, 3)), b[:1]), []float64{0, 0, 0}, Options{})
	assert.Equal(t, Converged, got.Status)
	assert.Less(t, got.RSS, 1e-20)
	assert.Equal(t, 1, got.Rank)
	assert.Nil(t, got.Cov)
}

// A first step of any length sends NIST StRD BoxBOD from its first start to a
// plateau where nothing depends on the rate any more. There is no way back, but
// the covariance says that it is unknown.
func TestPlateau(t *testing.T) {
	set := readStRD(t)["BoxBOD"]
	got := Minimize(set.problem(saturating), set.Start1, Options{Reach: 100})
	assert.Greater(t, got.RSS, 8*set.RSS)
	assert.Equal(t, 1, got.Rank)
	assert.Nil(t, got.Cov)
}

// Steps into a region without values are shortened, and a start in one is told.
func TestNotFinite(t *testing.T) {
	p := Problem{M: 1, N: 1, Eval: func(p, r, jac []float64) {
		r[0] = math.Log(p[0]) + 1 // NaN below zero, where the full step from 3 leads
		jac[0] = 1 / p[0]
	}}
	got := Minimize(p, []float64{3}, Options{Reach: 100})
	require.Equal(t, Converged, got.Status)
	assert.InEpsilon(t, math.Exp(-1), got.Params[0], 1e-9)

	got = Minimize(p, []float64{-1}, Options{})
	assert.Equal(t, Stalled, got.Status)
	assert.True(t, math.IsNaN(got.RSS))
	assert.Nil(t, got.Cov)
	assert.Equal(t, []float64{-1}, got.Params)
}

// A wrong derivative cannot be followed to a minimum.
func TestStalled(t *testing.T) {
	got := Minimize(Problem{M: 2, N: 1, Eval: func(p, r, jac []float64) {
		r[0], r[1] = p[0]-1, 1
		jac[0], jac[1] = -1, 0
	}}, []float64{5}, Options{})
	assert.Equal(t, Stalled, got.Status)
	assert.Nil(t, got.Cov)
}

func TestMaxIterations(t *testing.T) {
	p, start := logistic(21)
	got := Minimize(p, start, Options{MaxIter: 2})
	assert.Equal(t, MaxIterations, got.Status)
	assert.Equal(t, 3, got.Evals)
	assert.Nil(t, got.Cov)
	assert.Equal(t, 4, got.Rank, "known even so")
}

// Data the model meets exactly end at the rounding of the residuals.
func TestExactData(t *testing.T) {
	truth := []float64{1.2, 0.15}
	x := []float64{1, 2, 4, 8, 12}
	p := Problem{M: len(x), N: 2, Eval: func(p, r, jac []float64) {
		for i := range x {
			r[i] = saturating(x[i:], p, jac[2*i:]) - saturating(x[i:], truth, make([]float64, 2))
		}
	}}
	got := Minimize(p, []float64{1, 1}, Options{})
	require.Equal(t, Converged, got.Status)
	assert.InDeltaSlice(t, truth, got.Params, 1e-12)
	assert.Less(t, got.RSS, 1e-28)
	require.NotNil(t, got.Cov)
}

// The origin of the variance scales the covariance and nothing else.
func TestNoise(t *testing.T) {
	p, start := logistic(21)
	got := Minimize(p, start, Options{})
	given, estimated := got.StdErrs(NoiseGiven), got.StdErrs(NoiseFromResiduals)
	for i := range given {
		assert.InEpsilon(t, given[i]*math.Sqrt(got.RSS/17), estimated[i], 1e-12)
	}
	none := Minimize(linear(mat.NewDense(2, 2, []float64{1, 2, 3, 5}), []float64{1, 1}), []float64{0, 0}, Options{})
	assert.Zero(t, none.DoF())
	assert.NotNil(t, none.Covariance(NoiseGiven))
	assert.Nil(t, none.Covariance(NoiseFromResiduals))
}

// A workspace used for other sizes in between gives the same bits.
func TestSolverReuse(t *testing.T) {
	var s Solver
	var kept Solution
	p, start := logistic(21)
	want := Minimize(p, start, Options{})
	larger, _ := logistic(50)
	small := linear(mat.NewDense(1, 1, []float64{2}), []float64{3})
	for range 2 {
		got := s.Solve(p, start, Options{})
		assert.Equal(t, want, got)
		s.SolveTo(&kept, p, start, Options{})
		assert.Equal(t, want, kept)
		s.SolveTo(&kept, larger, start, Options{})
		s.SolveTo(&kept, small, []float64{0}, Options{})
		assert.Equal(t, []float64{1.5}, kept.Params)
		assert.Equal(t, want.Params, got.Params, "an earlier solution is the caller's")
	}
	assert.Equal(t, []float64{0, 1, 2, 1}, start)
}

// Once warm, a run allocates nothing; Solve allocates what it returns.
func TestAllocations(t *testing.T) {
	var s Solver
	var kept Solution
	p, start := logistic(21)
	s.SolveTo(&kept, p, start, Options{})
	assert.Zero(t, testing.AllocsPerRun(50, func() { s.SolveTo(&kept, p, start, Options{}) }))
	assert.LessOrEqual(t, testing.AllocsPerRun(50, func() { s.Solve(p, start, Options{}) }), 1.0)
	p.Lower, p.Upper = []float64{0, 0, 0, 1.5}, []float64{5, 5, 2.5, 5}
	assert.Zero(t, testing.AllocsPerRun(50, func() { s.SolveTo(&kept, p, start, Options{}) }))
}

func TestStatusString(t *testing.T) {
	assert.Equal(t, "converged", Converged.String())
	assert.Equal(t, "iteration limit reached", MaxIterations.String())
	assert.Equal(t, "stalled", Stalled.String())
	assert.Equal(t, "Status(0)", Status(0).String())
}

func TestCallerFaults(t *testing.T) {
	p, start := logistic(21)
	assert.Panics(t, func() { Minimize(p, start[:3], Options{}) })
	assert.Panics(t, func() { Minimize(Problem{N: 1}, []float64{1}, Options{}) })
	p.Lower = []float64{0}
	assert.Panics(t, func() { Minimize(p, start, Options{}) })
	p.Lower, p.Upper = []float64{1, 1, 1, 1}, []float64{2, 2, 0, 2}
	assert.Panics(t, func() { Minimize(p, start, Options{}) })
}

func BenchmarkSolver(b *testing.B) {
	b.Run("model=logistic/steps=21", func(b *testing.B) {
		p, start := logistic(21)
		var s Solver
		var kept Solution
		for b.Loop() {
			s.SolveTo(&kept, p, start, Options{})
		}
		b.ReportMetric(float64(kept.Evals), "evals/op")
	})
	b.Run("model=kinetics/steps=5", func(b *testing.B) {
		t, g := []float64{3, 5, 8, 12, 20}, []float64{0.435, 0.58, 0.715, 0.8, 0.832}
		for b.Loop() {
			if _, err := FitKinetics(t, g, nil, true); err != nil {
				b.Fatal(err)
			}
		}
	})
}
