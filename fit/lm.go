package fit

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"
)

// Problem is a least-squares problem: minimise the sum of squares of M
// residuals over N parameters.
type Problem struct {
	M, N int

	// Eval stores the residuals at p in r (length M) and, when jac is not nil,
	// their derivatives dr_i/dp_j in jac (row-major, M x N). It must not keep
	// or change p. Values that are not finite make the solver try a shorter
	// step.
	Eval func(p, r, jac []float64)

	// Lower and Upper bound the parameters. A nil slice means no bounds, an
	// infinite entry no bound on that parameter; equal entries fix it.
	Lower, Upper []float64
}

// Options tunes a run. The zero value is the recommended run.
type Options struct {
	// MaxIter limits the trial steps, each of which costs one evaluation;
	// 0 means 5000.
	MaxIter int

	// Tolerance is the size of the remaining Gauss-Newton step at which a run
	// has converged: relative to the parameter, or to the distance that
	// changes the residuals by their own norm. That
	// step is still taken. 0 means 1e-9.
	Tolerance float64

	// Reach is the length of the longest first step relative to the start,
	// both measured by how they change the residuals; 0 means 1. Smaller
	// values start more cautiously.
	Reach float64

	// Offset, unless zero, ends a run one step after the linear model promises
	// to lower the sum of squares by no more than Offset squared times the mean
	// square: the minimum is then about that many standard deviations away (the
	// relative offset of Bates and Watts, Technometrics 23, 179, 1981).
	Offset float64

	// Beat, unless zero, is the sum of squares below which the run is of use. It ends
	// where the linear model promises several times that still, as a rival does that
	// will not win: the model may be wrong, but not by so much after a few steps.
	Beat float64
}

// Status says how a run ended.
type Status int

const (
	// Converged: the remaining Gauss-Newton step is within the tolerance or
	// below what rounding lets the sum of squares resolve, or the gradient
	// vanishes.
	Converged Status = iota + 1
	// MaxIterations: the limit on trial steps was reached first.
	MaxIterations
	// Stalled: no step lowers the sum of squares although the point is not a
	// minimum, the model has run off to where the sum of squares is flat, or
	// the start is not finite.
	Stalled
	// Beaten: the sum of squares is not going below Options.Beat.
	Beaten
)

// String returns the name of the status in words.
func (s Status) String() string {
	switch s {
	case Converged:
		return "converged"
	case MaxIterations:
		return "iteration limit reached"
	case Stalled:
		return "stalled"
	case Beaten:
		return "beaten"
	}
	return fmt.Sprintf("Status(%d)", int(s))
}

// Noise names the origin of the variance of the residuals.
type Noise int

const (
	// NoiseFromResiduals estimates the variance as RSS over the degrees of
	// freedom: weights are right up to a common factor.
	NoiseFromResiduals Noise = iota
	// NoiseGiven takes the variance as 1: residuals were divided by known
	// standard deviations.
	NoiseGiven
)

// Solution is everything a run found.
type Solution struct {
	Params []float64
	RSS    float64 // sum of squared residuals; NaN when the start is not finite
	M      int     // number of residuals

	// Cov is the inverse of J'J at Params, not scaled by any variance, with
	// zero rows and columns for parameters held at a bound. It is nil when the
	// run has not converged or the Jacobian is rank-deficient.
	Cov *mat.SymDense

	AtBound []bool // parameters held at a bound, or fixed by equal bounds
	Rank    int    // numerical rank of the Jacobian of the parameters not held
	Status  Status
	Evals   int // calls of Eval
}

// Free returns the number of parameters not held at a bound.
func (s Solution) Free() int {
	n := 0
	for _, held := range s.AtBound {
		if !held {
			n++
		}
	}
	return n
}

// DoF returns the degrees of freedom: residuals less free parameters.
func (s Solution) DoF() int { return s.M - s.Free() }

// Covariance returns the covariance of the parameters for the given origin of
// the variance, in a new matrix. It is nil when it cannot be known: Cov is nil,
// or the variance should come from residuals and no degree of freedom is left.
func (s Solution) Covariance(n Noise) *mat.SymDense {
	if s.Cov == nil {
		return nil
	}
	variance := 1.0
	if n == NoiseFromResiduals {
		if s.DoF() <= 0 {
			return nil
		}
		variance = s.RSS / float64(s.DoF())
	}
	var c mat.SymDense
	c.ScaleSym(variance, s.Cov)
	return &c
}

// StdErrs returns the standard deviations of the parameters, the square roots
// of the diagonal of Covariance, zero for held parameters; nil when unknown.
func (s Solution) StdErrs(n Noise) []float64 {
	c := s.Covariance(n)
	if c == nil {
		return nil
	}
	e := make([]float64, len(s.Params))
	for i := range e {
		e[i] = math.Sqrt(c.At(i, i))
	}
	return e
}

// Minimize solves p from start. Start is moved inside the bounds first and not
// changed. It panics when lengths do not agree.
func Minimize(p Problem, start []float64, o Options) Solution {
	s := solvers.Get().(*Solver)
	defer solvers.Put(s)
	return s.Solve(p, start, o)
}

// solvers are those not in use, with their workspaces.
var solvers = sync.Pool{New: func() any { return new(Solver) }}

// Solver solves problems in a workspace that is kept from run to run. The zero
// value is ready. A Solver must not be used by two goroutines at once.
//
// The method is Levenberg and Marquardt's as a trust region, with columns
// scaled by their running largest norm (J. J. Moré, "The Levenberg-Marquardt
// algorithm: implementation and theory", Lecture Notes in Mathematics 630,
// 1978). A step is the minimum of the damped linear model within the bounds.
type Solver struct {
	Evals int // calls of Eval in all runs

	w    workspace
	bend bendWork
}

// Solve solves p from start as Minimize does. Only the slices and the matrix
// of the solution are allocated once the workspace has grown to size.
func (s *Solver) Solve(p Problem, start []float64, o Options) Solution {
	var dst Solution
	s.SolveTo(&dst, p, start, o)
	return dst
}

// SolveTo is Solve into dst, whose slices and matrix are used again where they
// fit: for many fits of one size, where the last solution need not be kept.
func (s *Solver) SolveTo(dst *Solution, p Problem, start []float64, o Options) {
	check(p, start)
	if o.MaxIter == 0 {
		o.MaxIter = 5000
	}
	if o.Tolerance == 0 {
		o.Tolerance = 1e-9
	}
	if o.Reach == 0 {
		o.Reach = 1
	}
	w := &s.w
	w.reset(p, start)
	status := w.run(o)
	s.Evals += w.evals
	w.store(dst, status)
	w.problem = Problem{} // do not keep the caller's closure alive
}

func check(p Problem, start []float64) {
	switch {
	case p.M < 1 || p.N < 1:
		panic("fit: problem without residuals or parameters")
	case len(start) != p.N:
		panic("fit: length of start differs from the number of parameters")
	case p.Lower != nil && len(p.Lower) != p.N, p.Upper != nil && len(p.Upper) != p.N:
		panic("fit: length of bounds differs from the number of parameters")
	}
	for j := range p.N {
		if !(p.lower(j) <= p.upper(j)) {
			panic("fit: lower bound above upper bound")
		}
	}
}

func (p *Problem) lower(j int) float64 {
	if p.Lower == nil {
		return math.Inf(-1)
	}
	return p.Lower[j]
}

func (p *Problem) upper(j int) float64 {
	if p.Upper == nil {
		return math.Inf(1)
	}
	return p.Upper[j]
}
