package joint

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// corner is a line from 0 whose start is rounded over w.
func corner(u, w float64) float64 { return w * math.Log1p(math.Exp(u/w)) }

// strips are those of a film of toe and shoulder, grown by 0.15 a minute, whose toe
// recedes; noise is of a reading, every one of which is rounded to 0.01 with any.
func strips(r *rand.Rand, noise float64, minutes ...float64) []Strip {
	read := func(d float64) float64 {
		if noise == 0 {
			return d
		}
		return math.Round(100*(d+noise*r.NormFloat64())) / 100
	}
	var out []Strip
	for _, m := range minutes {
		g, foot, base := 1.1*-math.Expm1(-0.15*m), -2.2-0.05*math.Log(m/7), 0.1+0.004*m
		s := Strip{Level: base, Slope: 0.95 * g, Foot: foot + 0.02}
		for i := range 21 {
			x := -3 + 0.15*float64(i)
			s.X = append(s.X, x)
			s.Y = append(s.Y, read(base+g*(corner(x-foot, 0.13)-corner(x-foot-1.7, 0.2))))
		}
		s.Base = []float64{read(base), read(base)}
		out = append(out, s)
	}
	return out
}

func noSlips(strips []Strip) Options {
	return Options{Doubtful: make([][]int, len(strips)), FalseAlarms: 0.001, MostSlips: func(n int) int { return n / 6 }}
}

// fitted is a fit of five strips.
func fitted(t *testing.T, seed uint64, noise float64) *Fit { return fittedWith(t, seed, noise, 0, 0) }

// fittedWith is a fit of five strips behind a wedge whose steps are known to within
// so much, read against a tablet of such steps.
func fittedWith(t *testing.T, seed uint64, noise, wedge, tablet float64) *Fit {
	s := strips(rand.New(rand.NewPCG(seed, 1)), noise, 4, 5.5, 7, 9, 12)
	s[4].Otherwise = true
	p := Problem{Strips: s, Sigma: 0.0104, Worth: 10}
	if wedge > 0 || tablet > 0 {
		p.Alike = []int{21, 12}
		of := func(y float64) []Alike { // the two steps of a tablet about a density
			k := int(y / 0.2)
			return []Alike{{Error: 21 + k, Up: tablet * (1 - (y/0.2 - float64(k)))}, {Error: 22 + k, Up: tablet * (y/0.2 - float64(k))}}
		}
		for j := range s {
			for i, y := range s[j].Y {
				s[j].Alike = append(s[j].Alike, append(of(y), Alike{Error: i, Along: wedge}))
			}
			for _, y := range s[j].Base {
				s[j].Alike = append(s[j].Alike, of(y))
			}
		}
	}
	f, err := New(p, noSlips(s))
	require.NoError(t, err)
	return f
}

// bothWays runs a test on strips whose readings err each by itself, and on such that have
// errors alike.
func bothWays(t *testing.T, seed uint64, test func(t *testing.T, f *Fit)) {
	t.Run("each by itself", func(t *testing.T) { test(t, fitted(t, seed, 0.01)) })
	t.Run("alike", func(t *testing.T) { test(t, fittedWith(t, seed, 0.01, 0.03, 0.02)) })
}

// The derivatives of every reading are those of differences.
func TestDerivatives(t *testing.T) { bothWays(t, 1, testDerivatives) }

func testDerivatives(t *testing.T, f *Fit) {
	p := f.p
	for i := range p.shared { // away from zeros that hide terms
		p.shared[i] += 0.03 * math.Sin(float64(3*i+1))
	}
	for j := range p.own {
		p.own[j] = [owns]float64{0.02, -0.01, 0.004}
	}
	if f.iA < f.ns {
		p.shared[f.iA+10] = 6 // steps of the wedge change places
	}
	here := f.about(p, f.use)
	const h = 1e-5
	check := func(move func(by float64) params, of func(int, row) float64, what string, k int) {
		up, down := f.about(move(h), f.use), f.about(move(-h), f.use)
		for j, rows := range here.rows {
			for i, r := range rows {
				slope := (down.rows[j][i].residual - up.rows[j][i].residual) / (2 * h)
				require.InDelta(t, slope, of(j, r), 2e-3*math.Max(1, math.Abs(slope)), "%s %d, strip %d, reading %d", what, k, j, i)
			}
		}
	}
	for k := range p.shared {
		check(func(by float64) params {
			q := p.moved(params{shared: make([]float64, f.ns), own: make([][owns]float64, len(p.own))}, 0)
			q.shared[k] += by
			return q
		}, func(j int, r row) float64 { return f.byShared(j, r)[k] }, "shared parameter", k)
	}
	for k := range owns {
		check(func(by float64) params {
			q := p.moved(params{shared: make([]float64, f.ns), own: make([][owns]float64, len(p.own))}, 0)
			for j := range q.own {
				q.own[j][k] += by
			}
			return q
		}, func(_ int, r row) float64 { return r.own[k] }, "own parameter", k)
	}
}

// Solving for the own parameters first gives the step, the covariance and the
// determinant of all parameters at once.
func TestElimination(t *testing.T) { bothWays(t, 2, testElimination) }

func testElimination(t *testing.T, f *Fit) {
	prior := f.precision(0.2, 0.05)
	nm := f.normal(f.lin, f.use)
	const variance = 0.0104 * 0.0104
	r, ok := f.reduce(f.eliminate(nm, variance, 0), prior, 0)
	require.True(t, ok)
	down := f.gradient(nm, variance, f.p, prior)

	n := f.ns + owns*len(f.strips)
	whole, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, q := range prior {
		whole.SetSym(i, i, q)
		right.SetVec(i, down.shared[i])
	}
	for j, rows := range f.lin.rows {
		at := f.ns + owns*j
		for k, q := range f.ownPrecision(j) {
			whole.SetSym(at+k, at+k, q)
			right.SetVec(at+k, down.own[j][k])
		}
		for _, r := range rows {
			v := mat.NewVecDense(n, nil)
			for i, d := range f.byShared(j, r) {
				v.SetVec(i, d)
			}
			for k, d := range r.own {
				v.SetVec(at+k, d)
			}
			whole.SymRankOne(whole, 1/variance, v)
		}
	}
	var chol mat.Cholesky
	require.True(t, chol.Factorize(whole))
	var step mat.VecDense
	require.NoError(t, chol.SolveVecTo(&step, right))
	got := r.solve(down)
	for i, v := range got.shared {
		assert.InDelta(t, step.AtVec(i), v, 1e-7)
	}
	for j, own := range got.own {
		for k, v := range own {
			assert.InDelta(t, step.AtVec(f.ns+owns*j+k), v, 1e-7)
		}
	}
	assert.InEpsilon(t, chol.LogDet(), r.lnDet, 1e-10)
	var all mat.SymDense
	require.NoError(t, chol.InverseTo(&all))
	cov := r.inverse()
	for i := range f.ns {
		for j := i; j < f.ns; j++ {
			assert.InDelta(t, all.At(i, j), cov.At(i, j), 1e-9)
		}
	}
	edf := float64(n)
	for i, q := range prior {
		edf -= q * all.At(i, i)
	}
	for j := range f.strips {
		for k, q := range f.ownPrecision(j) {
			edf -= q * all.At(f.ns+owns*j+k, f.ns+owns*j+k)
		}
	}
	assert.InDelta(t, edf, f.effective(r, cov, prior), 1e-6)
}

// Exact readings are followed to a tenth of what is read, and between them.
func TestExactStrips(t *testing.T) {
	f := fitted(t, 3, 0)
	for j, s := range f.strips {
		for i := range s.X {
			assert.InDelta(t, 0, f.Residual(j, i), 0.002, "strip %d, step %d", j+1, i+1)
		}
	}
	curves, err := f.Curves(1, nil)
	require.NoError(t, err)
	for j, m := range []float64{4, 5.5, 7, 9, 12} {
		g, foot := 1.1*-math.Expm1(-0.15*m), -2.2-0.05*math.Log(m/7)
		for x := -2.9; x < -0.1; x += 0.05 {
			y, slope := curves[j].AtSlope(x, nil)
			assert.InDelta(t, 0.1+0.004*m+g*(corner(x-foot, 0.13)-corner(x-foot-1.7, 0.2)), y, 0.003)
			up, _ := curves[j].AtSlope(x+1e-5, nil)
			down, _ := curves[j].AtSlope(x-1e-5, nil)
			assert.InDelta(t, (up-down)/2e-5, slope, 1e-4, "the slope is the derivative")
		}
	}
}

// The directions of the error have the variance that the fit has of every reading.
func TestDirections(t *testing.T) { bothWays(t, 4, testDirections) }

func testDirections(t *testing.T, f *Fit) {
	curves, err := f.Curves(1, nil)
	require.NoError(t, err)
	for j, s := range f.strips {
		for i, x := range s.X {
			variance := 0.0
			along := make([]float64, curves[j].Directions())
			for k := range along {
				along[k] = 1
				y, _ := curves[j].AtSlope(x, Parts(along))
				along[k] = 0
				here, _ := curves[j].AtSlope(x, Parts(along))
				variance += (y - here) * (y - here)
			}
			r := f.lin.rows[j][i]
			r.alike = nil // the curve is that of the true exposures
			want := f.leverage(j, r) * f.variance
			assert.InEpsilon(t, want, variance, 0.02, "strip %d, step %d", j+1, i+1)
		}
	}
	assert.Equal(t, curves[0].Shared+owns, curves[0].Directions())
	if f.alike != nil {
		assert.Len(t, curves[0].Alike, len(f.alike))
		assert.Less(t, curves[0].Alike[0]+curves[0].Alike[1], curves[0].Shared)
	}
	off, err := f.Curves(2, []Off{{1: 0.01}, {0: 0.02}})
	require.NoError(t, err)
	assert.Equal(t, curves[0].Shared+2, off[0].Shared)
	along := make([]float64, off[0].Directions())
	along[off[0].Shared-2] = 1
	y, slope := off[0].AtSlope(-1, nil)
	higher, steeper := off[0].AtSlope(-1, Parts(along))
	assert.InEpsilon(t, 1.01*y, higher, 1e-9)
	assert.InEpsilon(t, 1.01*slope, steeper, 1e-9)
	along[off[0].Shared-2], along[off[0].Shared-1] = 0, 1
	higher, _ = off[0].AtSlope(-1, Parts(along))
	assert.InDelta(t, y+0.02, higher, 1e-9)
	assert.InDelta(t, off[0].Base(nil)+0.02, off[0].Base(Parts(along)), 1e-9)
}

// A slip at the densest step of one strip is found, and of every strip at once; clean
// strips are not accused, and a reading that was doubted without reason comes back.
func TestSlips(t *testing.T) {
	for seed := range uint64(10) {
		s := strips(rand.New(rand.NewPCG(seed, 5)), 0.01, 4, 5.5, 7, 9, 12)
		o := noSlips(s)
		o.Doubtful[2] = []int{7}
		f, err := New(Problem{Strips: s, Sigma: 0.0104, Worth: 10}, o)
		require.NoError(t, err)
		for j := range s {
			assert.Empty(t, f.LeftOut[j], "a clean strip")
		}
		s[1].Y[20] += 0.12
		f, err = New(Problem{Strips: s, Sigma: 0.0104, Worth: 10}, noSlips(s))
		require.NoError(t, err)
		assert.Equal(t, []int{20}, f.LeftOut[1], "the densest reading")
		s[1].Y[20] -= 0.12
		for j := range s {
			s[j].Y[3*j+2] += 0.1 * float64(j+1)
		}
		f, err = New(Problem{Strips: s, Sigma: 0.0104, Worth: 10}, noSlips(s))
		require.NoError(t, err)
		for j := range s {
			assert.Contains(t, f.LeftOut[j], 3*j+2)
		}
	}
}

// However well strips are read, and though they follow the form, the curve errs by what
// a film may have beside it: with a misfit free to vanish it would be surer by far.
func TestMisfitHasAFloor(t *testing.T) {
	s := strips(rand.New(rand.NewPCG(1, 6)), 0, 4, 5.5, 7, 9, 12)
	for j := range s { // coarse steps, between which a film may do something
		var x, y []float64
		for i := 0; i < len(s[j].X); i += 3 {
			x, y = append(x, s[j].X[i]), append(y, s[j].Y[i])
		}
		s[j].X, s[j].Y = x, y
	}
	f, err := New(Problem{Strips: s, Sigma: 0.001, Worth: 10}, noSlips(s))
	require.NoError(t, err)
	curves, err := f.Curves(1, nil)
	require.NoError(t, err)
	worst := 0.0
	for x := -2.4; x < -0.6; x += 0.05 {
		variance, along := 0.0, make([]float64, curves[2].Directions())
		here, _ := curves[2].AtSlope(x, nil)
		for k := range along {
			along[k] = 1
			y, _ := curves[2].AtSlope(x, Parts(along))
			along[k] = 0
			variance += (y - here) * (y - here)
		}
		worst = math.Max(worst, math.Sqrt(variance))
	}
	assert.InDelta(t, 0.0030, worst, 0.0010)
}

// The readings determine fewer parameters than they are, and some; the scatter is that
// which they were given.
func TestScatterOfReadings(t *testing.T) {
	sum := 0.0
	const fits = 20
	for seed := range uint64(fits) {
		f := fitted(t, 100+seed, 0.01)
		assert.InDelta(t, 20, f.EDF, 10)
		assert.InDelta(t, float64(f.Count)-f.EDF+10, f.DoF, 1e-9)
		sum += f.Squares / (float64(f.Count) - f.EDF)
	}
	assert.InDelta(t, math.Hypot(0.01, 0.01/math.Sqrt(12)), math.Sqrt(sum/fits), 0.0008)
}

// A strip that was moved lies beside the others by several standard deviations, with
// its sign; the others and strips that share a place do not.
func TestStray(t *testing.T) {
	for _, off := range []float64{0, 0.1, -0.1} {
		ss := strips(rand.New(rand.NewPCG(8, 2)), 0.01, 4, 5, 6, 8, 10)
		for i := range ss[2].X {
			ss[2].X[i] += off
		}
		ss[2].Foot += off
		f, err := New(Problem{Strips: ss, Sigma: 0.01, Worth: 4}, noSlips(ss))
		require.NoError(t, err)
		for j := range ss {
			z := f.Stray(j)
			switch {
			case j == 2 && off != 0:
				assert.Greater(t, z*math.Copysign(1, off), 3.5)
			default:
				assert.Less(t, math.Abs(z), 3.0, "strip %d, strip 3 moved by %g", j+1, off)
			}
		}
	}
}

// Of many strips some tell where the fit of all begins, which is that from any start: the
// curves are the same within a small part of their errors, and so are these.
func TestManyStrips(t *testing.T) {
	var minutes []float64
	for k := range many {
		minutes = append(minutes, 4*math.Pow(3, float64(k)/(many-1)))
	}
	s := strips(rand.New(rand.NewPCG(2, 3)), 0.01, minutes...)
	s[7].Otherwise = true
	p, o := Problem{Strips: s, Sigma: 0.0104, Worth: 10}, noSlips(s)
	f, err := New(p, o)
	require.NoError(t, err)
	all := &Fit{state: begun(p, o)}
	require.NoError(t, all.fitAll())
	require.True(t, all.finish())
	assert.InEpsilon(t, all.Sigma, f.Sigma, 2e-3)
	assert.InEpsilon(t, all.EDF, f.EDF, 0.02)
	got, err := f.Curves(1, nil)
	require.NoError(t, err)
	want, err := all.Curves(1, nil)
	require.NoError(t, err)
	sd := func(c *Curve, x float64) float64 {
		variance := 0.0
		c.Moves(x, func(_ int, y, _ float64) { variance += y * y })
		return math.Sqrt(variance)
	}
	for j := range s {
		for x := -2.9; x < 0.2; x += 0.3 {
			y, _ := got[j].AtSlope(x, nil)
			right, _ := want[j].AtSlope(x, nil)
			require.InDelta(t, right, y, 0.03*sd(want[j], x), "strip %d at %.1f", j, x)
			require.InEpsilon(t, sd(want[j], x), sd(got[j], x), 0.01, "strip %d at %.1f", j, x)
		}
	}
}

// The bases of clean strips are taken to lie as near where development has them as usual,
// those of strips that differ farther off: each is then told by its own readings.
func TestOwnBases(t *testing.T) {
	const n = 100
	wider := func(off ...float64) (fits int) {
		squares := 0.0
		for i := range n {
			minutes := []float64{4, 7, 12, 5.5, 9}[:len(off)]
			s := strips(rand.New(rand.NewPCG(uint64(i), 6)), 0.01, minutes...)
			for j, by := range off {
				for k := range s[j].Y {
					s[j].Y[k] += by
				}
				for k := range s[j].Base {
					s[j].Base[k] += by
				}
				s[j].Level += by
			}
			f, err := New(Problem{Strips: s, Sigma: 0.0104, Worth: 10}, noSlips(s))
			require.NoError(t, err)
			if f.ownBase > ownBases[0] {
				fits++
			}
			for j, m := range minutes {
				got := f.base(f.p, j) + f.p.own[j][2]
				squares += math.Pow(got-(0.1+0.004*m+off[j]), 2)
			}
		}
		assert.Less(t, math.Sqrt(squares/float64(n*len(off))), 0.0055, "off by %v", off)
		t.Logf("off by %v: bases are farther apart than usual in %d fits of %d, and err by %.4f", off, fits, n, math.Sqrt(squares/float64(n*len(off))))
		return fits
	}
	assert.Zero(t, wider(0, 0, 0))
	assert.GreaterOrEqual(t, wider(0, -0.015, -0.01, 0.015, 0.01), 25)
	assert.GreaterOrEqual(t, wider(0, -0.03, -0.03, 0.03, 0.03), 95)
	assert.Equal(t, n, wider(-0.05, 0, 0.3, 0.4, -0.05))
}
