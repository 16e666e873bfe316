package fit

import (
	"math"

	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Influence returns how the parameters of a solution move as each residual is lessened
// by a little, a row for each, to first order and with the curvature of the residuals:
// the derivative of the place of the minimum (G. A. F. Seber and C. J. Wild, Nonlinear
// Regression, 1989, section 5.8, from memory). Parameters at a bound stay there. It is
// nil where the covariance is unknown, or the place is no minimum.
func (p Problem) Influence(s Solution) [][]float64 {
	if s.Cov == nil {
		return nil
	}
	var free []int
	for j, held := range s.AtBound {
		if !held {
			free = append(free, j)
		}
	}
	r, jac := make([]float64, p.M), make([]float64, p.M*p.N)
	gradient := func(at []float64) []float64 { // half that of the sum of squares
		p.Eval(at, r, jac)
		g := make([]float64, len(free))
		for a, j := range free {
			for i := range p.M {
				g[a] += r[i] * jac[i*p.N+j]
			}
		}
		return g
	}
	const step = 1e-3 // in standard errors of residuals of size 1
	hessian := mat.NewSymDense(max(len(free), 1), nil)
	for b, j := range free {
		by := step * math.Sqrt(s.Cov.At(j, j))
		at := append([]float64(nil), s.Params...)
		at[j] = s.Params[j] + by
		up := gradient(at)
		at[j] = s.Params[j] - by
		down := gradient(at)
		for a := range b + 1 {
			hessian.SetSym(a, b, (up[a]-down[a])/(2*by))
		}
	}
	out := make([][]float64, p.M)
	for i := range out {
		out[i] = make([]float64, p.N)
	}
	if len(free) == 0 {
		return out
	}
	var factor mat.Cholesky
	if !factor.Factorize(hessian) {
		return nil
	}
	p.Eval(s.Params, r, jac)
	row, move := mat.NewVecDense(len(free), nil), mat.NewVecDense(len(free), nil)
	for i := range out {
		for a, j := range free {
			row.SetVec(a, jac[i*p.N+j])
		}
		if factor.SolveVecTo(move, row) != nil {
			return nil
		}
		for a, j := range free {
			out[i][j] = move.AtVec(a)
		}
	}
	return out
}

// Leverage tells how a fitted bend follows its readings, Y then Base, to first
// order about the fit.
type Leverage struct {
	Residuals []float64 // of the readings, in units of Sigma

	params    int
	jac, move []float64 // of a reading by the parameters, and of those by it; row by row
	room      []float64 // all of these
}

// Leverage returns that of the fit at its readings, nil where the covariance is
// unknown.
func (b BendFit) Leverage(d BendData) *Leverage { return b.LeverageIn(new(Leverage), d) }

// LeverageIn is Leverage in the memory of one that is not needed any more.
func (b BendFit) LeverageIn(l *Leverage, d BendData) *Leverage {
	if b.Cov == nil {
		return nil
	}
	n, k := len(b.Params), len(d.X)+len(d.Base)
	room := grown(l.room, b.M+b.M*n+k*n)
	clear(room)
	all := room[:b.M]
	*l = Leverage{Residuals: all[:k], params: n, jac: room[b.M:][:b.M*n], move: room[b.M+b.M*n:], room: room}
	d.residuals(b.Form, b.Params, all, l.jac)
	cov := b.Cov.RawSymmetric() // its upper half
	for i := range k {
		move, jac := l.move[i*n:(i+1)*n], l.jac[i*n:(i+1)*n]
		for a := range n {
			row := cov.Data[a*cov.Stride : a*cov.Stride+n]
			for c := a; c < n; c++ {
				move[a] += row[c] * jac[c]
				if c > a {
					move[c] += row[c] * jac[a]
				}
			}
		}
	}
	return l
}

// Hat returns how much the fitted value of reading i follows reading j: the
// element of the hat matrix.
func (l *Leverage) Hat(i, j int) float64 {
	var h float64
	for a := range l.params {
		h += l.move[i*l.params+a] * l.jac[j*l.params+a]
	}
	return h
}

// Change returns by how much the sum of squares changes to first order with readings that
// the fit has not seen and without others that it has: e' (D + H)^-1 e over them,
// residuals e, hat matrix H, and D of 1 and of -1 (Cook and Weisberg, Residuals and
// Influence in Regression, 1982, section 2.2). It is -Inf where the curve follows those
// left out wholly.
func (l *Leverage) Change(with, without []int) float64 {
	var room [16]float64 // of four readings
	var few [4]float64
	at := append(append(make([]int, 0, len(few)), with...), without...)
	n, change := len(at), 0.0
	a, e := room[:0], few[:0]
	for k, i := range at {
		e = append(e, l.Residuals[i])
		for _, j := range at {
			a = append(a, l.Hat(i, j))
		}
		if a[k*n+k]++; k >= len(with) {
			a[k*n+k] -= 2
		}
	}
	for k := range n {
		pivot := a[k*n+k]
		if k >= len(with) && pivot > -1e-9 {
			return math.Inf(-1)
		}
		change += e[k] * e[k] / pivot
		for i := k + 1; i < n; i++ {
			share := a[i*n+k] / pivot
			e[i] -= share * e[k]
			for j := k + 1; j < n; j++ {
				a[i*n+j] -= share * a[k*n+j]
			}
		}
	}
	return change
}

// Unfitted stores in rest what is left of z, a change of the first readings in units of
// Sigma, after the curve has followed n of its values.
func (l *Leverage) Unfitted(rest, z []float64, n int) {
	var room [mostBendParams]float64
	p := room[:l.params]
	for i, v := range z[:n] {
		move := l.move[i*len(p) : (i+1)*len(p)]
		for a, by := range move {
			p[a] += by * v
		}
	}
	for i, v := range z {
		jac := l.jac[i*len(p) : (i+1)*len(p)]
		for a, by := range jac {
			v -= by * p[a]
		}
		rest[i] = v
	}
}

// Spare are residuals that a fit has where it may move to first order, and along
// other directions too: what any curve close to it leaves of them.
type Spare struct {
	rss   float64
	rest  []float64
	basis [][]float64 // orthonormal
}

// Spare returns the residuals where the first readings may also move along the
// directions.
func (l *Leverage) Spare(directions [][]float64) Spare {
	most, n := l.params+len(directions), len(l.Residuals)
	room := make([]float64, (most+1)*n) // of all that follows, in one piece
	s := Spare{rest: room[:n:n], basis: make([][]float64, 0, most)}
	copy(s.rest, l.Residuals)
	add := func(at func(i int) float64, of int) {
		q := room[(len(s.basis)+1)*n:][:n:n]
		clear(q)
		for i := range of {
			q[i] = at(i)
		}
		before := vec.Norm(q, 2)
		for range 2 { // once more for what rounding left
			for _, b := range s.basis {
				vec.AddScaled(q, -vec.Dot(b, q), b)
			}
		}
		left := vec.Norm(q, 2)
		if left <= 1e-6*before {
			return
		}
		vec.Scale(1/left, q)
		vec.AddScaled(s.rest, -vec.Dot(q, s.rest), q)
		s.basis = append(s.basis, q)
	}
	for a := range l.params {
		add(func(i int) float64 { return l.jac[i*l.params+a] }, n)
	}
	for _, z := range directions {
		add(func(i int) float64 { return z[i] }, len(z))
	}
	s.rss = vec.Dot(s.rest, s.rest)
	return s
}

// RSS returns the sum of squares that is left.
func (s Spare) RSS() float64 { return s.rss }

// Without returns the sum of squares that is left without one reading or two (Cook and
// Weisberg, Residuals and Influence in Regression, 1982, section 2.2).
func (s Spare) Without(i int, more ...int) float64 {
	free := func(i, j int) float64 {
		h := 0.0
		for _, b := range s.basis {
			h += b[i] * b[j]
		}
		return h
	}
	e, a := s.rest[i], math.Max(1-free(i, i), 1e-9)
	out := s.rss - e*e/a
	for _, j := range more {
		h := free(i, j)
		rest := s.rest[j] + h*e/a
		out -= rest * rest / math.Max(1-free(j, j)-h*h/a, 1e-9)
	}
	return out
}
