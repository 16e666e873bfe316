package fit

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"sensito/fit/internal/curvecheck"
)

var knownShape = BendData{ToeWidth: Prior{0.15, 0.6}, Power: Prior{1, 0.3}, ShoulderWidth: Prior{0.25, 0.7}}

// rises returns where a bend rises. With corners of unlike roundness, a and b
// wide, the slopes of the two corners cross once, where
// (x-Toe)/a = (x-Shoulder)/b, and beyond that, below a wide shoulder or above a
// wide toe, the curve falls.
func (b Bend) rises() (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	span := b.Shoulder - b.Toe
	switch {
	case b.ShoulderWidth > b.ToeWidth:
		lo = b.Toe - b.ToeWidth*span/(b.ShoulderWidth-b.ToeWidth)
	case b.ShoulderWidth > 0 && b.ShoulderWidth < b.ToeWidth:
		hi = b.Shoulder + b.ShoulderWidth*span/(b.ToeWidth-b.ShoulderWidth)
	}
	return lo, hi
}

func TestBendCurve(t *testing.T) {
	for name, f := range bendForms {
		t.Run("form="+name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				b := f.Bend(drawBend(t, f))
				lo, hi := b.rises()
				curvecheck.Check(t, b, math.Max(lo, -0.5), math.Min(hi, 3.5), Root)
				for x, sign := range map[float64]float64{lo: -1, hi: 1} {
					if math.Abs(x-b.Toe) < 20*b.ToeWidth { // else both slopes round to the same
						assert.Negative(t, b.SlopeAt(x+sign*0.05), "beyond %g", x)
						assert.Positive(t, b.SlopeAt(x-sign*0.05), "before %g", x)
					}
				}
			})
		})
	}
}

// The limits that the formula names: the base far to the left, the line and the
// top to the right, and no overflow anywhere.
func TestBendLimits(t *testing.T) {
	line := Bend{Base: 0.1, Gradient: 0.7, Toe: 1, ToeWidth: 0.1, Power: 1}
	assert.Equal(t, 0.1, line.At(-1e6))
	assert.Zero(t, line.SlopeAt(-1e6))
	assert.InDelta(t, 0.1+0.7*99, line.At(100), 1e-12)
	assert.InDelta(t, 0.1+0.7*0.1*math.Ln2, line.At(1), 1e-15, "a ln 2 above the corner")
	assert.InDelta(t, 0.35, line.SlopeAt(1), 1e-15, "half the gradient at the corner")

	power := line
	power.Power = 1.5
	assert.Equal(t, 0.1, power.At(-1e6))
	assert.Zero(t, power.SlopeAt(-1e6))
	assert.InDelta(t, 0.1+0.7*math.Pow(99, 1.5), power.At(100), 1e-10)

	top := line
	top.Shoulder, top.ShoulderWidth = 2.5, 0.2
	assert.InDelta(t, 0.1+0.7*1.5, top.At(1e6), 1e-9)
	assert.Zero(t, top.SlopeAt(1e6))
	assert.Equal(t, 0.1, top.At(-1e6))
}

func TestBendNames(t *testing.T) {
	for name, f := range bendForms {
		assert.Len(t, f.Names(), f.Params(), name)
		assert.Panics(t, func() { f.Bend(make([]float64, f.Params()+1)) }, name)
	}
	b := ToeShoulder.Bend([]float64{0.1, math.Log(0.7), 1, 0.2, math.Log(1.5), 0.3})
	assert.InDeltaSlice(t, []float64{0.1, 0.7, 1, 0.2, 1, 2.5, 0.3},
		[]float64{b.Base, b.Gradient, b.Toe, b.ToeWidth, b.Power, b.Shoulder, b.ShoulderWidth}, 1e-15)
	// A draw from the error of a width may lie below zero.
	draw := ToeShoulder.Bend([]float64{0.1, 0, 1, -0.2, 0, -0.3})
	assert.Positive(t, draw.ToeWidth)
	assert.Positive(t, draw.ShoulderWidth)
	assert.InDelta(t, 0.6, draw.At(1.5), 1e-9)
}

func bendProblem(d BendData, f BendForm) Problem {
	_, _, priors := d.priors(f)
	return Problem{M: len(d.X) + len(d.Base) + priors, N: f.Params(),
		Eval: func(p, r, jac []float64) { d.residuals(f, p, r, jac) }}
}

func TestBendJacobian(t *testing.T) {
	for name, f := range bendForms {
		for _, known := range []bool{false, true} {
			t.Run(fmt.Sprintf("form=%s/priors=%t", name, known), func(t *testing.T) {
				rapid.Check(t, func(rt *rapid.T) {
					d := strip(f.Bend(drawBend(rt, f)), 21)
					if known {
						d.ToeWidth, d.Power, d.ShoulderWidth = knownShape.ToeWidth, knownShape.Power, knownShape.ShoulderWidth
					}
					checkDerivatives(rt, bendProblem(d, f), drawBend(rt, f), 0)
				})
			})
		}
	}
}

// One reading so far out that the corner's height is near the smallest number
// or below it. The base, next to nothing, hides nothing of the rest.
func TestBendJacobianFar(t *testing.T) {
	for name, f := range bendForms {
		for _, u := range []float64{-600, -667, -669, -680, -700, 300, 700} {
			for _, y := range []float64{math.Log(0.9), math.Log(1.1)} {
				// A power off 1, with a shoulder far enough not to matter.
				p := []float64{1e-300, -0.02, 0.01, 0.95, y, 1.04}
				if f == ToeShoulder {
					p[4] = 0.02
				}
				p = p[:f.Params()]
				x := p[bendToe] + u*0.95
				d := BendData{X: []float64{x}, Y: []float64{0}, Sigma: 1}
				checkDerivatives(t, bendProblem(d, f), p, math.Max(u, 0))
			}
		}
		for _, u := range []float64{-708, -740, -750, -1e5, -1e300} {
			p := []float64{0.1, -0.02, 0.01, 0.95, -0.1, 1.04}[:f.Params()]
			d := BendData{X: []float64{u}, Y: []float64{0}, Sigma: 1}
			r, jac := make([]float64, 1), make([]float64, len(p))
			d.residuals(f, p, r, jac)
			assert.InDelta(t, 0.1, r[0], 1e-100, "%s at %g", name, u)
			assert.InDeltaSlice(t, append([]float64{1}, make([]float64, len(p)-1)...), jac, 1e-100, "%s at %g", name, u)
			assert.Zero(t, math.Floor(math.Abs(f.Bend(p).SlopeAt(u))*1e100), "%s at %g", name, u)
		}
	}
}

func TestFitBendExact(t *testing.T) {
	for name, f := range bendForms {
		t.Run("form="+name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				want := drawBend(t, f)
				d := strip(f.Bend(want), 21)
				got := FitBend(new(Solver), d, f, nil)
				require.Equal(t, Converged, got.Status)
				assert.InDeltaSlice(t, want, got.Params, 1e-6)
				assert.Less(t, got.RSS, 1e-12)
				assert.Equal(t, f.Bend(got.Params), got.Bend)
				assert.Equal(t, got.RSS, got.ReadingRSS)
				require.NotNil(t, got.Cov)

				again := FitBend(new(Solver), d, f, got.Params)
				assert.InDeltaSlice(t, want, again.Params, 1e-6, "from the earlier fit")
				assert.Less(t, again.Evals, 10)
			})
		})
	}
}

// Closed forms of analytic_curves_21x015.csv, tabulated to four decimals, each
// of which is a bend: A and B to what the table's rounding allows, Q with a
// sharp corner to the sharpest that is fitted. The speed points are those of
// analytic_curves_expected.csv, to its tolerances for the closed form (0.0002)
// and for sharp corners (0.02).
func TestFitBendClosedForms(t *testing.T) {
	file, err := os.Open("../testdata/reference/analytic_curves_21x015.csv")
	require.NoError(t, err)
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	for _, c := range []struct {
		name               string
		want               Bend
		speedPoint, within float64
	}{
		{"A", Bend{Base: 0.10, Gradient: 0.65, Toe: -2.10, ToeWidth: 0.12}, -1.9852, 0.0002},
		{"B", Bend{Base: 0.25, Gradient: 0.90, Toe: -2.60, ToeWidth: 0.10}, -2.5288, 0.0002},
		{"Q", Bend{Base: 0.10, Gradient: 0.60, Toe: -2.30}, -2.1333, 0.02},
	} {
		d := BendData{Sigma: 0.01}
		for _, row := range rows[1:] {
			if row[0] == c.name {
				x, errX := strconv.ParseFloat(row[2], 64)
				y, errY := strconv.ParseFloat(row[3], 64)
				require.NoError(t, errX)
				require.NoError(t, errY)
				d.X, d.Y = append(d.X, x), append(d.Y, y)
			}
		}
		require.Len(t, d.X, 21)
		got := FitBend(new(Solver), d, ToeLine, nil)
		require.Equal(t, Converged, got.Status, c.name)
		if c.want.ToeWidth > 0 {
			assert.InDelta(t, c.want.Base, got.Base, 1e-4, c.name)
			assert.InDelta(t, c.want.Gradient, got.Gradient, 1e-4, c.name)
			assert.InDelta(t, c.want.Toe, got.Toe, 3e-4, c.name)
			assert.InDelta(t, c.want.ToeWidth, got.ToeWidth, 3e-4, c.name)
		} else {
			// The corner is w ln 2 times the gradient off at most.
			assert.True(t, got.AtBound[bendToeWidth], "a sharp corner is at the bound")
			assert.InDelta(t, 0.15*0.15, got.ToeWidth, 1e-12)
			assert.Zero(t, got.Cov.At(bendToeWidth, bendToeWidth))
			assert.InDelta(t, c.want.Gradient, got.Gradient, 0.002, c.name)
			assert.InDelta(t, c.want.Toe, got.Toe, 0.01, c.name)
			for i, x := range d.X {
				assert.InDelta(t, d.Y[i], got.At(x), got.Gradient*got.ToeWidth*math.Ln2, c.name)
			}
		}
		at, err := Root(func(x float64) float64 { return got.At(x) - got.Base - 0.10 }, d.X[0], d.X[20], 0)
		require.NoError(t, err)
		assert.InDelta(t, c.speedPoint, at, c.within, "%s: net 0.10", c.name)
	}
}

// The parameters stay where a fit may put them, whatever the readings are.
func TestFitBendBounds(t *testing.T) {
	for name, f := range bendForms {
		t.Run("form="+name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				n := rapid.IntRange(2, 25).Draw(t, "n")
				first := rapid.Float64Range(-5, 2).Draw(t, "first")
				step := rapid.Float64Range(0.05, 0.6).Draw(t, "step")
				d := BendData{Sigma: 0.01, Base: rapid.SliceOfN(rapid.Float64Range(0, 1), 0, 3).Draw(t, "base")}
				for i := range n {
					d.X = append(d.X, first+step*float64(i))
				}
				d.Y = rapid.SliceOfN(rapid.Float64Range(0, 4), n, n).Draw(t, "y")
				if rapid.Bool().Draw(t, "priors") {
					d.ToeWidth, d.Power, d.ShoulderWidth = knownShape.ToeWidth, knownShape.Power, knownShape.ShoulderWidth
				}
				got := FitBend(new(Solver), d, f, nil)
				reach := d.X[n-1] - d.X[0]
				const ulps = 1e-12
				in := func(lo, hi, v float64, what string) {
					assert.True(t, v >= lo*(1-ulps) && v <= hi*(1+ulps), "%s %g not in [%g, %g]", what, v, lo, hi)
				}
				in(1e-3, 1e3, got.Gradient, "gradient")
				in(0.15*step, reach, got.ToeWidth, "toe width")
				in(0.4, 2.5, got.Power, "power")
				assert.GreaterOrEqual(t, got.Toe, d.X[0]-2*reach-ulps)
				assert.LessOrEqual(t, got.Toe, d.X[n-1]+reach+ulps)
				if f == ToeShoulder {
					in(0.1*step, 4*reach, got.Shoulder-got.Toe, "toe to shoulder")
					in(0.15*step, reach, got.ShoulderWidth, "shoulder width")
				}
				assert.False(t, math.IsNaN(got.RSS) || math.IsInf(got.RSS, 0))
				assert.LessOrEqual(t, got.ReadingRSS, got.RSS)
			})
		})
	}
}

// checkDerivatives compares the Jacobian of p at the point with differences,
// relative to the largest entry of each column and to the rounding of terms of
// the given size.
func checkDerivatives(t require.TestingT, p Problem, at []float64, terms float64) {
	r, jac := make([]float64, p.M), make([]float64, p.M*p.N)
	p.Eval(at, r, jac)
	want := differences(p, at)
	for j := range p.N {
		largest := mat.Norm(want.ColView(j), math.Inf(1))
		for i := range p.M {
			h := 3e-5 * math.Max(math.Abs(at[j]), 0.01)
			assert.InDelta(t, want.At(i, j), jac[i*p.N+j], 1e-6*largest+0x1p-50*(terms+math.Abs(r[i]))/h, "%v: residual %d, parameter %d", at, i, j)
		}
	}
}

// differences returns the derivatives of the residuals by central differences
// over two distances, extrapolated to none.
func differences(p Problem, at []float64) *mat.Dense {
	out := mat.NewDense(p.M, p.N, nil)
	up, down := make([]float64, p.M), make([]float64, p.M)
	for j := range p.N {
		h := 3e-5 * math.Max(math.Abs(at[j]), 0.01)
		for weight, h := range map[float64]float64{4. / 3: h, -1. / 3: 2 * h} {
			q := append([]float64(nil), at...)
			q[j] = at[j] + h
			p.Eval(q, up, nil)
			q[j] = at[j] - h
			p.Eval(q, down, nil)
			for i := range p.M {
				out.Set(i, j, out.At(i, j)+weight*(up[i]-down[i])/(2*h))
			}
		}
	}
	return out
}

func TestFitBendCov(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 14))
	for name, f := range bendForms {
		for _, known := range []bool{false, true} {
			d := noisy(strip(usual(f), 21), rnd)
			if known {
				d.ToeWidth, d.Power, d.ShoulderWidth = knownShape.ToeWidth, knownShape.Power, knownShape.ShoulderWidth
			}
			got := FitBend(new(Solver), d, f, nil)
			require.NotNil(t, got.Cov, name)
			require.Equal(t, f.Params(), got.Free(), name)
			j := differences(bendProblem(d, got.Form), got.Params)
			var jj, want mat.Dense
			jj.Mul(j.T(), j)
			require.NoError(t, want.Inverse(&jj))
			for a := range f.Params() {
				for b := range f.Params() {
					tolerance := 1e-6 * math.Sqrt(want.At(a, a)*want.At(b, b))
					assert.InDelta(t, want.At(a, b), got.Cov.At(a, b), tolerance, "%s priors %t: %d, %d", name, known, a, b)
				}
			}

			// The parts of the sum of squares, from the readings themselves.
			readings := 0.0
			for i, x := range d.X {
				readings += square((d.Y[i] - got.At(x)) / d.Sigma)
			}
			for _, y := range d.Base {
				readings += square((y - got.Base) / d.Sigma)
			}
			assert.InEpsilon(t, readings, got.ReadingRSS, 1e-9, name)
			if known {
				prior := func(v float64, p Prior) float64 { return square(math.Log(v/p.Typical) / p.LnSD) }
				priors := prior(got.ToeWidth, d.ToeWidth)
				switch f {
				case ToeCurve:
					priors += prior(got.Power, d.Power)
				case ToeShoulder:
					priors += prior(got.ShoulderWidth, d.ShoulderWidth)
				}
				assert.InEpsilon(t, readings+priors, got.RSS, 1e-9, name)
			} else {
				assert.Equal(t, got.RSS, got.ReadingRSS, name)
			}
		}
	}
}

func square(x float64) float64 { return x * x }

// hat returns the hat matrix of a fit.
func hat(l *Leverage) *mat.Dense {
	k := len(l.Residuals)
	h := mat.NewDense(k, k, nil)
	for i := range k {
		for j := range k {
			h.Set(i, j, l.Hat(i, j))
		}
	}
	return h
}

func TestBendLeverage(t *testing.T) {
	rnd := rand.New(rand.NewPCG(27, 18))
	for name, f := range bendForms {
		t.Run("form="+name, func(t *testing.T) {
			exact := strip(usual(f), 21)
			d := noisy(exact, rnd)
			fitted := FitBend(new(Solver), d, f, nil)
			leverage := fitted.Leverage(d)
			residuals, k := leverage.Residuals, len(d.X)+len(d.Base)
			require.Len(t, residuals, k)
			for i, x := range d.X {
				assert.InDelta(t, (fitted.At(x)-d.Y[i])/d.Sigma, residuals[i], 1e-9)
			}
			h := hat(leverage)
			var hh mat.Dense
			hh.Mul(h, h)
			assert.True(t, mat.EqualApprox(h, &hh, 1e-9), "not idempotent")
			assert.InDelta(t, f.Params(), mat.Trace(h), 1e-9)
			z, followed, left := residuals[:9], 5, make([]float64, 9)
			leverage.Unfitted(left, z, followed)
			for i, rest := range left {
				assert.InDelta(t, z[i]-mat.Dot(h.RowView(i).(*mat.VecDense).SliceVec(0, followed), mat.NewVecDense(followed, z[:followed])), rest, 1e-9)
			}

			known := d
			known.ToeWidth, known.Power, known.ShoulderWidth = knownShape.ToeWidth, knownShape.Power, knownShape.ShoulderWidth
			assert.Less(t, mat.Trace(hat(FitBend(new(Solver), known, f, nil).Leverage(known))), float64(f.Params()), "priors take part of the parameters")

			// Where residuals vanish the hat matrix is the derivative of the
			// fitted values by the readings.
			fitted = FitBend(new(Solver), exact, f, nil)
			leverage = fitted.Leverage(exact)
			values := func(i int, by float64) []float64 {
				e := exact
				e.Y, e.Base = append([]float64(nil), exact.Y...), append([]float64(nil), exact.Base...)
				if i < len(e.Y) {
					e.Y[i] += by
				} else {
					e.Base[i-len(e.Y)] += by
				}
				b := FitBend(new(Solver), e, f, fitted.Params)
				var out []float64
				for _, x := range e.X {
					out = append(out, b.At(x))
				}
				for range e.Base {
					out = append(out, b.Base)
				}
				return out
			}
			for i := range k {
				const by = 1e-4 // far above the rounding of residuals
				up, down := values(i, by), values(i, -by)
				for j := range k {
					assert.InDelta(t, leverage.Hat(j, i), (up[j]-down[j])/(2*by), 1e-6, "fitted %d by reading %d", j, i)
				}
			}
		})
	}
}

// Strips without a shoulder, where a five-parameter logistic has no unique
// answer: on c7 its upper end runs off to infinity, on c5 the standard error of
// that end is half its value and the condition of its Jacobian, with columns of
// unit length, 650. The lowest RSS of the logistic is from SciPy 1.10.1, with
// mpmath in 60 digits: on c7 the limit it tends to, on c5 to the digits given.
func TestFitBendWithoutShoulder(t *testing.T) {
	for _, c := range []struct {
		name      string
		form      BendForm
		logistic  float64
		condition float64
	}{
		{"c7_toe_and_straight_line", ToeLine, 7.003574541974042e-3, 20},
		{"c7_toe_and_straight_line", ToeCurve, 7.003574541974042e-3, 100},
		{"c5_no_shoulder", ToeLine, 5.882e-3, 100},
		{"c5_no_shoulder", ToeCurve, 5.882e-3, 650},
	} {
		set := readReadings(t)[c.name]
		d := BendData{X: set.X, Y: set.Y, Sigma: 0.01}
		got := FitBend(new(Solver), d, c.form, nil)
		name := fmt.Sprintf("%s with %d parameters", c.name, c.form.Params())
		require.Equal(t, Converged, got.Status, name)
		assert.LessOrEqual(t, got.RSS*square(d.Sigma), 1.05*c.logistic, name)
		assert.Equal(t, c.form.Params(), got.Free(), name)
		errs := got.StdErrs(NoiseFromResiduals)
		require.Len(t, errs, c.form.Params(), name)
		for i, e := range errs {
			assert.True(t, e > 0 && e < 1, "%s: error %g of %s", name, e, c.form.Names()[i])
		}
		j := differences(bendProblem(d, c.form), got.Params)
		for k := range c.form.Params() {
			norm := mat.Norm(j.ColView(k), 2)
			for i := range got.M {
				j.Set(i, k, j.At(i, k)/norm)
			}
		}
		assert.Less(t, mat.Cond(j, 2), c.condition, name)
	}
}

// A fit ends within a thousandth of a standard deviation of the minimum, which a
// run to all digits from there shows.
func TestBendOffset(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 1))
	for name, f := range bendForms {
		for range 100 {
			d := noisy(strip(usual(f), 21), rnd)
			d.ToeWidth, d.Power, d.ShoulderWidth = knownShape.ToeWidth, knownShape.Power, knownShape.ShoulderWidth
			got := FitBend(new(Solver), d, f, nil)
			require.NotNil(t, got.Cov, name)
			p := bendProblem(d, f)
			best := Minimize(p, got.Params, Options{Tolerance: 1e-10})
			for i, v := range best.Params {
				assert.InDelta(t, v, got.Params[i], 1e-3*math.Sqrt(got.Cov.At(i, i)), "%s: %s", name, f.Names()[i])
			}
		}
	}
}

func BenchmarkFitBend(b *testing.B) {
	rnd := rand.New(rand.NewPCG(5, 8))
	for name, f := range bendForms {
		d := noisy(strip(usual(f), 21), rnd)
		d.ToeWidth, d.Power, d.ShoulderWidth = knownShape.ToeWidth, knownShape.Power, knownShape.ShoulderWidth
		b.Run(fmt.Sprintf("form=%s/steps=21", name), func(b *testing.B) {
			b.ReportAllocs()
			var s Solver
			for b.Loop() {
				FitBend(&s, d, f, nil)
			}
		})
	}
}
