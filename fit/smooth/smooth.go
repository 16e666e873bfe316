// Package smooth draws smooth curves through values that scatter, on plain float64 slices.
// Fit gives each value a knot and a standard deviation of its own; the curve of FitSpline
// has evenly spaced knots and rises. How stiff they are follows from the values.
//
// Begin with Fit.
package smooth

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Data are values of known standard deviation at places that rise.
type Data struct {
	X, Y, SD []float64

	// Free, where it is not nil, is a column by which the values may differ at no price,
	// besides a straight line: how they follow a parameter that was fitted before.
	Free []float64

	// Takes says whether a curve will do. One that will not is made stiffer. Nil takes any.
	Takes func(Curve) bool
}

// Curve is a smoothing spline: the natural cubic spline, straight beyond its ends, that
// bends the less the more it is penalised for it. Unlike a Spline it has a knot at every
// value, so that it may lie densely where the values do. It is made by Fit.
type Curve struct {
	X, Y, Bend []float64 // the knots, the curve there, and its second derivative
	Penalty    float64   // on the integrated squared second derivative; +Inf where nothing bends but the free column
	Chi2       float64   // the squared residuals, each over its standard deviation, summed

	// Cov is the covariance of the curve at its knots: that of the posterior in which the
	// penalty is a prior (G. Wahba, J. R. Stat. Soc. B 45, 133, 1983), which counts what
	// smoothing takes away besides the errors of the values.
	Cov *mat.SymDense
}

// Fit returns the smoothing spline through the values. The penalty maximises the
// restricted likelihood, in which the curve is random and the standard deviations are
// known. The error is ErrSpline where no penalty gives a curve that will do, and names an
// x, y or sd that is no use. It panics when lengths differ or there are fewer than 4.
func Fit(d Data) (Curve, error) {
	if len(d.X) != len(d.Y) || len(d.X) != len(d.SD) || d.Free != nil && len(d.X) != len(d.Free) || len(d.X) < 4 {
		panic("smooth: a smoothing spline of unequal or too few values")
	}
	for i, x := range d.X {
		if !finite(x) || !finite(d.Y[i]) || !(d.SD[i] > 0) || math.IsInf(d.SD[i], 0) || i > 0 && !(x > d.X[i-1]) {
			return Curve{}, fmt.Errorf("value %d: %g ± %g at %g is no use", i+1, d.Y[i], d.SD[i], x)
		}
	}
	p := newProblem(d)
	const span, by = 25., 0.25 // of the logarithm of the penalty
	middle, best, at := math.Log(p.unit), math.Inf(1), math.NaN()
	try := func(from, to, by float64) {
		for ln := from; ln <= to; ln += by {
			if s, ok := p.solve(math.Exp(ln)); ok && s.minus2l < best {
				best, at = s.minus2l, ln
			}
		}
	}
	try(middle-span, middle+span, 4*by)
	try(at-3*by, min(at+3*by, middle+span), by)
	for ln := at; ln <= middle+span; ln += 4 * by {
		s, ok := p.solve(math.Exp(ln))
		if !ok {
			break
		}
		if curve := p.curve(s); d.Takes == nil || d.Takes(curve) {
			return curve, nil
		}
	}
	return Curve{}, ErrSpline
}

// AtBend returns the curve's value and its first two derivatives at x.
func (s Curve) AtBend(x float64) (y, slope, bend float64) {
	last := len(s.X) - 1
	i, found := slices.BinarySearch(s.X, x)
	if !found {
		i--
	}
	i = min(max(i, 0), last-1)
	h := s.X[i+1] - s.X[i]
	u := min(max((x-s.X[i])/h, 0), 1)
	v := 1 - u
	y = v*s.Y[i] + u*s.Y[i+1] + h*h/6*((v*v*v-v)*s.Bend[i]+(u*u*u-u)*s.Bend[i+1])
	slope = (s.Y[i+1]-s.Y[i])/h + h/6*((1-3*v*v)*s.Bend[i]+(3*u*u-1)*s.Bend[i+1])
	bend = v*s.Bend[i] + u*s.Bend[i+1]
	if beyond := x - min(max(x, s.X[0]), s.X[last]); beyond != 0 {
		y, bend = y+slope*beyond, 0
	}
	return y, slope, bend
}

// problem is the least-squares problem of a Curve in the notation of P. J. Green
// and B. W. Silverman, Nonparametric Regression and Generalized Linear Models, Chapman
// and Hall 1994, section 2.3: with the curve g and its second derivatives c at the knots,
// Q' g = R c. What is random in Q' y has the covariance Q' V Q + R / penalty, V the
// squared standard deviations.
type problem struct {
	Data
	q        *mat.Dense        // knots by those inside
	r, qvq   *mat.SymBandDense // of those inside
	qy, free *mat.VecDense     // Q' y, and Q' of the free column
	unit     float64           // a penalty that weighs about as much as the values
}

// solution is what a penalty gives.
type solution struct {
	penalty   float64
	factor    mat.BandCholesky // of Q' V Q + R / penalty
	weighed   *mat.VecDense    // its inverse times Q' y, less the free part
	freely    *mat.VecDense    // and times Q' of the free column
	by, known float64          // how much of the free column there is, and how well it is known: 1 / variance
	minus2l   float64
}

func newProblem(d Data) *problem {
	n := len(d.X)
	p := &problem{Data: d, q: mat.NewDense(n, n-2, nil), r: mat.NewSymBandDense(n-2, min(2, n-3), nil), qvq: mat.NewSymBandDense(n-2, min(2, n-3), nil), qy: mat.NewVecDense(n-2, nil)}
	for j := range n - 2 {
		h0, h1 := d.X[j+1]-d.X[j], d.X[j+2]-d.X[j+1]
		p.q.Set(j, j, 1/h0)
		p.q.Set(j+1, j, -1/h0-1/h1)
		p.q.Set(j+2, j, 1/h1)
		p.r.SetSymBand(j, j, (h0+h1)/3)
		if j < n-3 {
			p.r.SetSymBand(j, j+1, h1/6)
		}
	}
	for i := range n - 2 {
		for j := i; j < min(i+3, n-2); j++ {
			var sum float64
			for k := j; k < i+3; k++ {
				sum += p.q.At(k, i) * p.q.At(k, j) * d.SD[k] * d.SD[k]
			}
			p.qvq.SetSymBand(i, j, sum)
		}
	}
	p.qy.MulVec(p.q.T(), mat.NewVecDense(n, d.Y))
	if d.Free != nil {
		p.free = mat.NewVecDense(n-2, nil)
		p.free.MulVec(p.q.T(), mat.NewVecDense(n, d.Free))
	}
	p.unit = p.r.Trace() / p.qvq.Trace()
	return p
}

// solve returns what a penalty gives, false where rounding leaves nothing.
func (p *problem) solve(penalty float64) (*solution, bool) {
	s := &solution{penalty: penalty, weighed: mat.NewVecDense(len(p.X)-2, nil)}
	n := len(p.X) - 2
	m := mat.NewSymBandDense(n, min(2, n-1), nil)
	for i := range n {
		for j := i; j < min(i+3, n); j++ {
			m.SetSymBand(i, j, p.qvq.At(i, j)+p.r.At(i, j)/penalty)
		}
	}
	if !s.factor.Factorize(m) || s.factor.SolveVecTo(s.weighed, p.qy) != nil {
		return nil, false
	}
	s.minus2l = mat.Dot(p.qy, s.weighed) + s.factor.LogDet()
	if p.free == nil {
		return s, true
	}
	s.freely = mat.NewVecDense(len(p.X)-2, nil)
	if s.factor.SolveVecTo(s.freely, p.free) != nil {
		return nil, false
	}
	if s.known = mat.Dot(p.free, s.freely); !(s.known > 0) {
		return nil, false
	}
	s.by = mat.Dot(p.free, s.weighed) / s.known
	s.minus2l += math.Log(s.known) - s.by*s.by*s.known
	s.weighed.AddScaledVec(s.weighed, -s.by, s.freely)
	return s, true
}

// curve returns the curve of a solution: y less V Q (Q' V Q + R/penalty)^-1 Q' y.
func (p *problem) curve(s *solution) Curve {
	n := len(p.X)
	out := Curve{X: slices.Clone(p.X), Y: slices.Clone(p.Y), Bend: make([]float64, n), Penalty: s.penalty}
	pull := mat.NewVecDense(n, nil)
	pull.MulVec(p.q, s.weighed)
	for i, sd := range p.SD {
		off := pull.AtVec(i) * sd
		out.Y[i] -= off * sd
		out.Chi2 += off * off
	}
	// The natural spline through these, the free part being one at the knots.
	var right, bend mat.VecDense
	right.MulVec(p.q.T(), mat.NewVecDense(n, out.Y))
	var f mat.BandCholesky
	f.Factorize(p.r)
	if f.SolveVecTo(&bend, &right) == nil {
		copy(out.Bend[1:], bend.RawVector().Data)
	}
	out.Cov = p.covariance(s)
	return out
}

// covariance returns V - V Q (Q' V Q + R/penalty)^-1 Q' V, and what is not known of the
// free part besides.
func (p *problem) covariance(s *solution) *mat.SymDense {
	n := len(p.X)
	var vq, solved, off mat.Dense
	vq.Apply(func(i, _ int, v float64) float64 { return v * p.SD[i] * p.SD[i] }, p.q)
	cov := mat.NewSymDense(n, nil)
	if s.factor.SolveTo(&solved, vq.T()) != nil {
		return nil
	}
	off.Mul(&vq, &solved)
	var free mat.VecDense
	if s.freely != nil {
		free.MulVec(&vq, s.freely)
	}
	for i := range n {
		for j := i; j < n; j++ {
			v := -(off.At(i, j) + off.At(j, i)) / 2
			if i == j {
				v += p.SD[i] * p.SD[i]
			}
			if s.freely != nil {
				v += free.AtVec(i) * free.AtVec(j) / s.known
			}
			cov.SetSym(i, j, v)
		}
	}
	return cov
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
