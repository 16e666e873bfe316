package fit

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

const (
	epsilon = 0x1p-52

	// A predicted relative reduction of the sum of squares below this is lost
	// in the rounding of the sum; the length of the step decides from there on.
	lostInRounding = 1e-13
	// A Gauss-Newton step this small ends a run as converged when rounding of
	// the residuals keeps every step from lowering their sum of squares.
	roundingStep = 1e-6
	// A longer one, at a point where the sum of squares is flat to rounding, is
	// the tail of a model that has run off to infinity.
	flatStep = 1e-3

	// After so many trial steps a run is judged that has a sum of squares to beat, by
	// so many times that sum; after twice as many by less and less, for it is slow
	// (TestSlowFitsAreAwaited).
	beatAfter, beatBy, leastBeatBy = 4, 4, 2
)

// run iterates from the trial point until a stopping rule holds. On return
// w.p, w.r and w.jac belong together.
func (w *workspace) run(o Options) Status {
	if !w.evalTrial() {
		copy(w.p, w.trial)
		w.rss = math.NaN()
		return Stalled
	}
	w.accept()
	lastFinal := math.Inf(1) // length of the last step of the final phase
	for w.trials = 0; w.trials < o.MaxIter; {
		w.factor()
		if w.selectFree() <= epsilon {
			return Converged
		}
		if w.trials == 0 {
			w.radius = o.Reach * w.scaledLength(w.p)
			if w.radius == 0 {
				w.radius = o.Reach * math.Sqrt(w.rss)
			}
		}
		w.step(0)
		newton := w.stepSize()
		gain := w.predicted()
		if o.Beat > 0 && w.trials >= beatAfter {
			by := beatBy * min(1, 2*beatAfter/float64(w.trials))
			if w.rss-gain > max(leastBeatBy, by)*o.Beat {
				return Beaten
			}
		}
		if newton <= o.Tolerance || gain <= o.Offset*o.Offset*w.rss/float64(w.m) {
			if w.evalTrial() && w.trialRSS <= w.rss*(1+100*lostInRounding) {
				w.accept()
			}
			return Converged
		}
		if gain <= lostInRounding*w.rss {
			// The full step, for as long as steps go on shrinking.
			w.trials++
			if newton > 0.9*lastFinal || !w.evalTrial() || w.trialRSS > w.rss*(1+100*lostInRounding) {
				if newton <= flatStep {
					return Converged
				}
				return Stalled
			}
			lastFinal = newton
			w.accept()
			continue
		}
		if status := w.descend(o, newton); status != 0 {
			return status
		}
	}
	return MaxIterations
}

// descend tries steps from the current point, the Gauss-Newton step in w.z
// first, shrinking the trust region until one lowers the sum of squares, and
// moves there. It returns zero, or the status when the run ends here.
func (w *workspace) descend(o Options, newton float64) Status {
	full := true
	newtonLength := norm(w.z, w.n, 1)
	for w.trials < o.MaxIter {
		w.trials++
		if newtonLength > 1.1*w.radius {
			full = false
			w.restrictedStep()
		}
		if w.stepSize() <= epsilon {
			if newton <= roundingStep {
				return Converged
			}
			return Stalled
		}
		length := norm(w.z, w.n, 1)
		if w.trials == 1 {
			w.radius = min(w.radius, length)
		}
		ratio := math.Inf(-1)
		if gain := w.predicted(); gain > 0 && w.evalTrial() {
			ratio = (w.rss - w.trialRSS) / gain
		}
		switch {
		case ratio <= 0.25:
			w.radius = shrink(ratio) * min(w.radius, length)
			w.damping *= 2
		case full || ratio >= 0.75:
			w.radius = 2 * length
			w.damping /= 2
		}
		if ratio > 1e-4 {
			w.accept()
			return 0
		}
	}
	return MaxIterations
}

// shrink returns the factor for the trust region after a step with this ratio
// of actual to predicted reduction: the minimum along the step of the parabola
// through the start, its slope there and the end, between 0.1 and 0.5.
func shrink(ratio float64) float64 {
	if ratio >= 0 {
		return 0.5
	}
	return max(0.1, 0.5/(1-ratio))
}

// restrictedStep computes the step whose length is the radius of the trust
// region to within a tenth, by Newton's method on the inverse of the length,
// safeguarded (Moré 1978).
func (w *workspace) restrictedStep() {
	lo, hi := 0.0, 0.0
	for _, j := range w.free {
		hi = math.Hypot(hi, w.gradient(j))
	}
	hi /= w.radius
	lambda := min(w.damping, hi)
	if lambda == 0 {
		lambda = 0.001 * hi
	}
	for range 10 {
		length, slope := w.lengthAt(lambda)
		excess := length - w.radius
		if math.Abs(excess) <= 0.1*w.radius {
			break
		}
		if excess > 0 {
			lo = lambda
		} else {
			hi = lambda
		}
		lambda += excess / w.radius * slope
		if !(lambda > lo && lambda < hi) {
			lambda = max(0.001*hi, math.Sqrt(lo*hi))
		}
	}
	w.damping = lambda
	w.step(lambda)
}

// store fills dst from the current point.
func (w *workspace) store(dst *Solution, status Status) {
	n := w.n
	if dst.Params == nil && dst.AtBound == nil && dst.Cov == nil && n <= mostBendParams {
		r := new(room)
		dst.Params, dst.AtBound, dst.Cov = r.params[:0:n], r.held[:n:n], r.sym.of(n)
	}
	dst.Params = append(dst.Params[:0], w.p...)
	dst.RSS, dst.M, dst.Status, dst.Evals, dst.Rank = w.rss, w.m, status, w.evals, 0
	dst.AtBound = grown(dst.AtBound, n)
	cov := dst.Cov
	dst.Cov = nil
	if math.IsNaN(w.rss) {
		for j := range n {
			dst.AtBound[j] = w.problem.lower(j) == w.problem.upper(j)
		}
		return
	}
	w.factor()
	w.selectFree()
	for j := range n {
		dst.AtBound[j] = true
	}
	for _, j := range w.free {
		dst.AtBound[j] = false
	}
	dst.Rank = w.pivot()
	if status != Converged || dst.Rank < len(w.free) {
		return
	}
	if cov == nil || cov.SymmetricDim() != n {
		cov = NewSym(n)
	}
	cov.Zero()
	w.invert(cov)
	dst.Cov = cov
}

// pivot factors the free columns of the Jacobian, scaled to unit length, with
// column pivoting in w.a, where that is needed, and returns their numerical rank. Columns that have
// all but vanished on the way from the start count as zero, as they do in the
// Gauss-Newton step.
func (w *workspace) pivot() int {
	n, k := w.n, len(w.free)
	if k == 0 {
		return 0
	}
	if k == n && w.plainRank() {
		for c := range n {
			w.perm[c] = c
		}
		return n
	}
	clear(w.a)
	for c, j := range w.free {
		norm := w.columnNorm(j)
		lost := norm <= fullRank*w.scale[j]
		w.scale[j] = norm
		if lost {
			continue
		}
		for i := range w.m {
			w.a[i*k+c] = w.jac[i*n+j] / norm
		}
	}
	for c := range k {
		w.perm[c] = -1 // may be exchanged
	}
	a := blas64.General{Rows: w.rows, Cols: k, Stride: k, Data: w.a}
	lapack64.Geqp3(a, w.perm[:k], w.tau[:k], w.lapack, len(w.lapack))
	rank := 0
	for rank < k && math.Abs(w.a[rank*k+rank]) > fullRank*math.Abs(w.a[0]) {
		rank++
	}
	return rank
}

// plainRank reports whether the factor without pivoting leaves no doubt of full
// rank, which spares another factorisation. Its diagonal may hide a dependence,
// but not one of so many digits among so few columns.
func (w *workspace) plainRank() bool {
	most, least := 0.0, math.Inf(1)
	for c := range w.n {
		d := math.Abs(w.a[c*w.n+c])
		most, least = max(most, d), min(least, d)
	}
	return least > 1e-5*most
}

// invert stores the inverse of J'J of the free parameters in cov from the
// factor left by pivot: (R'R)^-1 = R^-1 R^-T, permuted and scaled back.
func (w *workspace) invert(cov *mat.SymDense) {
	k := len(w.free)
	if k == 0 {
		return
	}
	lapack64.Trtri(blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: k, Stride: k, Data: w.a})
	for i := range k {
		for j := i; j < k; j++ {
			v := 0.0
			for l := j; l < k; l++ {
				v += w.a[i*k+l] * w.a[j*k+l]
			}
			pi, pj := w.free[w.perm[i]], w.free[w.perm[j]]
			cov.SetSym(pi, pj, v/w.scale[pi]/w.scale[pj])
		}
	}
}
