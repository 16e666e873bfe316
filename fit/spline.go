package fit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Spline is a rising cubic spline on evenly spaced knots that starts level: far
// to the left it has the value Coef[0], to the right of its knots it goes on
// straight. It is a sum of cubic B-splines (de Boor, A Practical Guide to
// Splines, 1978), whose coefficients do not fall, so neither does the curve.
type Spline struct {
	First, Step float64   // the first knot and the distance between knots
	Coef        []float64 // three more than there are intervals; the first three are equal
}

// Last returns the last knot.
func (s Spline) Last() float64 { return s.First + float64(len(s.Coef)-3)*s.Step }

// AtSlope returns the curve's value and derivative at x.
func (s Spline) AtSlope(x float64) (y, slope float64) {
	last := s.Last()
	if x <= last {
		return s.inside(x)
	}
	y, slope = s.inside(last)
	return y + slope*(x-last), slope
}

// At returns the curve's value at x.
func (s Spline) At(x float64) float64 {
	y, _ := s.AtSlope(x)
	return y
}

// SlopeAt returns the derivative of the curve at x.
func (s Spline) SlopeAt(x float64) float64 {
	_, slope := s.AtSlope(x)
	return slope
}

// inside returns value and slope at x, which is not to the right of the knots.
func (s Spline) inside(x float64) (y, slope float64) {
	if x <= s.First {
		return s.Coef[0], 0
	}
	i, b, d := s.basis(x)
	for j := range 4 {
		y += b[j] * s.Coef[i+j]
		slope += d[j] * s.Coef[i+j]
	}
	return y, slope
}

// basis returns the four B-splines that are not zero at x, with their slopes,
// and the index of the first.
func (s Spline) basis(x float64) (i int, b, d [4]float64) {
	u := (x - s.First) / s.Step
	i = min(max(int(u), 0), len(s.Coef)-4)
	u -= float64(i)
	v := 1 - u
	b = [4]float64{v * v * v / 6, (3*u*u*u - 6*u*u + 4) / 6, (3*v*v*v - 6*v*v + 4) / 6, u * u * u / 6}
	d = [4]float64{-v * v / 2, (3*u*u - 4*u) / 2, -(3*v*v - 4*v) / 2, u * u / 2}
	for j := range d {
		d[j] /= s.Step
	}
	return i, b, d
}

// SplineFit is a fitted spline. Params are the value far to the left and the
// rises from one coefficient to the next, from the third on; Cov is their
// posterior covariance for residuals of variance 1 (Wahba, J. R. Stat. Soc. B
// 45, 133, 1983), with zero rows for rises that the constraint holds at zero.
type SplineFit struct {
	Spline
	Params  []float64
	Cov     *mat.SymDense
	Penalty float64 // on the squared second differences of the coefficients
	RSS     float64 // of the readings, in units of BendData.Sigma
	EDF     float64 // effective number of parameters
}

// SplineOf returns the spline with the given parameters on the knots of s.
func (s Spline) SplineOf(params []float64) Spline {
	out := Spline{First: s.First, Step: s.Step, Coef: make([]float64, len(params)+2)}
	v := params[0]
	for j := range out.Coef {
		if j > 2 {
			v += params[j-2]
		}
		out.Coef[j] = v
	}
	return out
}

// ErrSpline says that the readings do not determine a spline.
var ErrSpline = errors.New("the readings do not determine a smooth curve")

// FitSpline fits a rising spline to the readings by least squares with a
// penalty on the squared second differences of its coefficients (Eilers and
// Marx, Statistical Science 11, 89, 1996). The size of the penalty maximises
// the restricted likelihood; the rise is a constraint, met by an active set.
// The priors of the data are not used. The error is ErrSpline. It panics like
// FitBend.
func FitSpline(d BendData, worth, variance float64) (SplineFit, error) {
	if len(d.X) != len(d.Y) || len(d.X) < 2 || !(d.Sigma > 0) {
		panic("fit: spline data of unequal or too short lengths, or without sigma")
	}
	p := newSplineProblem(d)
	penalty, err := p.restrictedLikelihood(worth, variance)
	if err != nil {
		return SplineFit{}, err
	}
	return p.solve(penalty)
}

const (
	levelRises   = 2  // zero rises between coefficients that make a start level
	splineLead   = 3  // intervals to the left of the readings, for the way down to the base
	minIntervals = 12 // over the readings
	maxIntervals = 30
)

// splineProblem is the linear least-squares problem in the parameters of a
// SplineFit.
type splineProblem struct {
	knots Spline
	n, k  int        // readings and parameters
	a     *mat.Dense // n x k, rows divided by sigma
	y     *mat.VecDense
	ata   *mat.SymDense // a'a
	pen   *mat.SymDense // squared second differences
	aty   *mat.VecDense
}

func newSplineProblem(d BendData) *splineProblem {
	intervals := min(max(len(d.X)-1, minIntervals), maxIntervals)
	x0, x1 := d.X[0], d.X[len(d.X)-1]
	step := (x1 - x0) / float64(intervals)
	knots := Spline{First: x0 - splineLead*step, Step: step, Coef: make([]float64, intervals+splineLead+3)}
	return newSplineProblemOn(knots, d, levelRises)
}

// newSplineProblemOn sets up the problem on the given knots, with the first
// level rises between coefficients zero instead of parameters: levelRises for
// a level start, 0 for a free one.
func newSplineProblemOn(knots Spline, d BendData, level int) *splineProblem {
	p := &splineProblem{knots: knots, n: len(d.X) + len(d.Base), k: len(knots.Coef) - level}
	p.a, p.y = mat.NewDense(p.n, p.k, nil), mat.NewVecDense(p.n, nil)
	for r, x := range d.X {
		i, b, _ := p.knots.basis(x)
		// Parameter 0 adds to every coefficient, parameter j to those from j+level on.
		p.a.Set(r, 0, 1/d.Sigma)
		for j := 1; j < p.k; j++ {
			var v float64
			for c := range 4 {
				if i+c >= j+level {
					v += b[c]
				}
			}
			p.a.Set(r, j, v/d.Sigma)
		}
		p.y.SetVec(r, d.Y[r]/d.Sigma)
	}
	for r, y := range d.Base {
		p.a.Set(len(d.X)+r, 0, 1/d.Sigma)
		p.y.SetVec(len(d.X)+r, y/d.Sigma)
	}
	var ata mat.Dense
	ata.Mul(p.a.T(), p.a)
	p.ata = mat.NewSymDense(p.k, nil)
	p.pen = mat.NewSymDense(p.k, nil)
	for i := range p.k {
		for j := i; j < p.k; j++ {
			p.ata.SetSym(i, j, ata.At(i, j))
		}
	}
	// A second difference of coefficients is a difference of successive rises;
	// the first rise follows a level start, if there is one.
	for j := 1; j < p.k; j++ {
		if j > 1 || level > 0 {
			p.pen.SetSym(j, j, p.pen.At(j, j)+1)
		}
		if j > 1 {
			p.pen.SetSym(j-1, j-1, p.pen.At(j-1, j-1)+1)
			p.pen.SetSym(j-1, j, p.pen.At(j-1, j)-1)
		}
	}
	p.aty = mat.NewVecDense(p.k, nil)
	p.aty.MulVec(p.a.T(), p.y)
	return p
}

// normal returns the Cholesky factor of a'a + penalty*pen over the free
// parameters.
func (p *splineProblem) normal(penalty float64, free []int) (*mat.Cholesky, error) {
	m := mat.NewSymDense(len(free), nil)
	for a, i := range free {
		for b := a; b < len(free); b++ {
			j := free[b]
			m.SetSym(a, b, p.ata.At(i, j)+penalty*p.pen.At(i, j))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(m) {
		return nil, ErrSpline
	}
	return &c, nil
}

func (p *splineProblem) all() []int {
	free := make([]int, p.k)
	for i := range free {
		free[i] = i
	}
	return free
}

// params solves for the free parameters; the others are zero.
func (p *splineProblem) params(c *mat.Cholesky, free []int) ([]float64, error) {
	rhs, sol := mat.NewVecDense(len(free), nil), mat.NewVecDense(len(free), nil)
	for a, i := range free {
		rhs.SetVec(a, p.aty.AtVec(i))
	}
	if err := c.SolveVecTo(sol, rhs); err != nil {
		return nil, ErrSpline
	}
	out := make([]float64, p.k)
	for a, i := range free {
		out[i] = sol.AtVec(a)
	}
	return out, nil
}

// squares returns the residual sum of squares and the penalty's quadratic form.
func (p *splineProblem) squares(params []float64) (rss, rough float64) {
	v := mat.NewVecDense(p.k, params)
	var f mat.VecDense
	f.MulVec(p.a, v)
	for i := range p.n {
		e := p.y.AtVec(i) - f.AtVec(i)
		rss += e * e
	}
	return rss, mat.Inner(v, p.pen, v)
}

// restrictedLikelihood returns the penalty that maximises the restricted
// likelihood of the mixed model in which the penalised directions are random
// (Ruppert, Wand and Carroll, Semiparametric Regression, 2003, section 4.9):
// with one free direction, the level, and p.k-1 penalised ones,
//
//	-2 l = (n-1) ln(RSS + lambda rough) + ln det(A'A + lambda P) - (k-1) ln lambda
//
// worth residuals of known variance join the first term.
func (p *splineProblem) restrictedLikelihood(worth, variance float64) (float64, error) {
	free := p.all()
	minus2l := func(ln float64) float64 {
		penalty := math.Exp(ln)
		c, err := p.normal(penalty, free)
		if err != nil {
			return math.Inf(1)
		}
		params, err := p.params(c, free)
		if err != nil {
			return math.Inf(1)
		}
		rss, rough := p.squares(params)
		return (float64(p.n-1)+worth)*math.Log(rss+penalty*rough+worth*variance) + c.LogDet() - float64(p.k-1)*ln
	}
	const from, to, by = -6.0, 18.0, 1.5
	best, at := math.Inf(1), math.NaN()
	for ln := from; ln <= to; ln += by {
		if v := minus2l(ln); v < best {
			best, at = v, ln
		}
	}
	if math.IsNaN(at) {
		return 0, ErrSpline
	}
	lo, hi := at-by, at+by
	const ratio = 0.6180339887498949
	for hi-lo > 0.01 {
		l, r := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
		if minus2l(l) < minus2l(r) {
			hi = r
		} else {
			lo = l
		}
	}
	return math.Exp((lo + hi) / 2), nil
}

// solve fits with the given penalty under the constraint that no rise is
// negative: rises that would be are held at zero, and freed again when the fit
// would rather have them positive (Lawson and Hanson, Solving Least Squares
// Problems, 1974, chapter 23).
func (p *splineProblem) solve(penalty float64) (SplineFit, error) {
	held := make([]bool, p.k)
	const rounds = 200
	for range rounds {
		var free []int
		for i := range p.k {
			if !held[i] {
				free = append(free, i)
			}
		}
		c, err := p.normal(penalty, free)
		if err != nil {
			return SplineFit{}, err
		}
		params, err := p.params(c, free)
		if err != nil {
			return SplineFit{}, err
		}
		worst, at := 0.0, -1
		for _, i := range free {
			if i > 0 && params[i] < worst {
				worst, at = params[i], i
			}
		}
		if at >= 0 {
			held[at] = true
			continue
		}
		if at = p.pull(penalty, params, held); at >= 0 {
			held[at] = false
			continue
		}
		return p.finish(penalty, params, free, c)
	}
	return SplineFit{}, ErrSpline
}

// pull returns the held rise that the fit would most like to be positive, by
// more than rounding, or -1 when there is none.
func (p *splineProblem) pull(penalty float64, params []float64, held []bool) int {
	strongest, at, terms := 0.0, -1, 0.0
	for i := range p.k {
		terms = math.Max(terms, math.Abs(p.aty.AtVec(i)))
		if !held[i] {
			continue
		}
		g := p.aty.AtVec(i)
		for j, v := range params {
			g -= (p.ata.At(i, j) + penalty*p.pen.At(i, j)) * v
		}
		if g > strongest {
			strongest, at = g, i
		}
	}
	const rounding = 1e-12
	if strongest <= rounding*terms {
		return -1
	}
	return at
}

func (p *splineProblem) finish(penalty float64, params []float64, free []int, c *mat.Cholesky) (SplineFit, error) {
	var inv mat.SymDense
	if err := c.InverseTo(&inv); err != nil {
		return SplineFit{}, ErrSpline
	}
	f := SplineFit{Params: params, Penalty: penalty, Cov: mat.NewSymDense(p.k, nil)}
	for a, i := range free {
		for b := range free {
			j := free[b]
			f.EDF += inv.At(a, b) * p.ata.At(j, i)
			if j >= i {
				f.Cov.SetSym(i, j, inv.At(a, b))
			}
		}
	}
	f.Spline = p.knots.SplineOf(params)
	f.RSS, _ = p.squares(params)
	return f, nil
}
