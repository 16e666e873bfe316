package fit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
)

// fullRank is the smallest pivot, relative to the largest, of the factor of a
// Jacobian with columns of unit length that counts towards its rank. About
// five digits of a covariance are right at this limit.
const fullRank = 1e-11

// workspace holds one problem and everything computed at its current point.
// Steps are kept in scaled variables z_j = scale_j * dp_j.
type workspace struct {
	problem       Problem
	m, n          int
	rows          int // max(m, n): the factored matrix is padded with zero rows
	evals, trials int
	radius        float64 // of the trust region, in scaled variables
	damping       float64 // last damping that met the radius
	rss, trialRSS float64

	p, trial, z        []float64 // parameters, and a step in scaled variables
	r, trialR          []float64 // residuals
	jac, trialJac      []float64 // row-major m x n
	scale              []float64
	a                  []float64 // scaled Jacobian, then its factor R; rows x n
	qr                 []float64 // Q'r; rows
	gram               []float64 // J'J of the scaled Jacobian, n x n, its upper half
	square             bool      // R is well enough conditioned for its square to be solved with
	tau, lapack        []float64
	small, rhs         []float64 // damped problem: 2n x n and 2n
	free, active, perm []int
}

func grown[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// reset sizes the workspace for p and puts start, moved inside the bounds, in
// the trial point.
func (w *workspace) reset(p Problem, start []float64) {
	m, n := p.M, p.N
	w.problem, w.m, w.n, w.rows, w.evals, w.damping = p, m, n, max(m, n), 0, 0
	w.p, w.trial = grown(w.p, n), grown(w.trial, n)
	w.r, w.trialR = grown(w.r, m), grown(w.trialR, m)
	w.jac, w.trialJac = grown(w.jac, m*n), grown(w.trialJac, m*n)
	w.scale, w.z, w.gram = grown(w.scale, n), grown(w.z, n), grown(w.gram, n*n)
	w.a, w.qr = grown(w.a, w.rows*n), grown(w.qr, w.rows)
	w.tau, w.lapack = grown(w.tau, n), grown(w.lapack, 3*n+1)
	w.small, w.rhs = grown(w.small, 2*n*n), grown(w.rhs, 2*n)
	w.free, w.active, w.perm = grown(w.free, n)[:0], grown(w.active, n)[:0], grown(w.perm, n)
	clear(w.scale)
	for j, v := range start {
		w.trial[j] = w.clamp(j, v)
	}
}

// evalTrial evaluates the trial point and reports whether everything there is
// finite.
func (w *workspace) evalTrial() bool {
	w.evals++
	w.problem.Eval(w.trial, w.trialR, w.trialJac)
	w.trialRSS = 0
	for _, v := range w.trialR {
		w.trialRSS += v * v
	}
	for _, v := range w.trialJac {
		if v-v != 0 { // not finite
			return false
		}
	}
	return w.trialRSS-w.trialRSS == 0
}

// accept makes the trial point the current one.
func (w *workspace) accept() {
	w.p, w.trial = w.trial, w.p
	w.r, w.trialR = w.trialR, w.r
	w.jac, w.trialJac = w.trialJac, w.jac
	w.rss = w.trialRSS
}

// factor updates the column scales and brings the scaled Jacobian to
// triangular form, and the residuals with it: by the normal equations where its
// columns are far from dependent, which takes a third of the time.
func (w *workspace) factor() {
	if w.square = w.factorNormal(); w.square {
		return
	}
	n := w.n
	inv := w.tau[:n]
	for j := range n {
		if v := w.columnNorm(j); v > w.scale[j] {
			w.scale[j] = v
		}
		inv[j] = 0
		if w.scale[j] > 0 {
			inv[j] = 1 / w.scale[j]
		}
	}
	copy(w.qr, w.r)
	clear(w.qr[w.m:])
	for i := range w.m {
		scaled := w.a[i*n : (i+1)*n]
		for j, v := range w.jac[i*n : (i+1)*n] {
			scaled[j] = v * inv[j]
		}
	}
	clear(w.a[w.m*n:])
	triangularise(w.a, w.rows, n, w.qr, w.tau)
}

// factorNormal is factor by the normal equations. It reports whether they can be
// trusted; otherwise nothing but scales has changed.
func (w *workspace) factorNormal() bool {
	n := w.n
	g, by := w.gram[:n*n], w.qr[:n]
	normal(g, by, w.jac, w.r)
	inv := w.tau[:n]
	for j := range n {
		square := g[j*n+j]
		if !(square > 1e-200 && square < 1e200) { // its products may leave the range
			return false
		}
		w.scale[j] = max(w.scale[j], math.Sqrt(square))
		inv[j] = 1 / w.scale[j]
	}
	for i := range n {
		by[i] *= inv[i]
		for j := i; j < n; j++ {
			g[i*n+j] *= inv[i] * inv[j]
		}
	}
	copy(w.a, g)
	return cholesky(w.a, by, n)
}

// columnNorm returns the length of column j of the Jacobian, safe against
// overflow.
func (w *workspace) columnNorm(j int) float64 {
	return norm(w.jac[j:], w.m, w.n)
}

// selectFree lists the parameters that may move: those not at a bound, or at
// one with the sum of squares falling inwards. It returns the largest cosine
// between their columns of the Jacobian and the residuals.
func (w *workspace) selectFree() float64 {
	w.free = w.free[:0]
	largest := 0.0
	for j := range w.n {
		g := w.gradient(j)
		if w.held(j, -g) {
			continue
		}
		w.free = append(w.free, j)
		column := norm(w.a[j:], j+1, w.n)
		if length := column * math.Sqrt(w.rss); length > 0 {
			largest = max(largest, math.Abs(g)/length)
		}
	}
	return largest
}

// gradient returns half the derivative of the sum of squares with respect to
// scaled parameter j.
func (w *workspace) gradient(j int) float64 {
	g := 0.0
	for i := 0; i <= j; i++ {
		g += w.a[i*w.n+j] * w.qr[i]
	}
	return g
}

// scaledLength returns the length of p in scaled variables.
func (w *workspace) scaledLength(p []float64) float64 {
	l := 0.0
	for j, v := range p {
		l = math.Hypot(l, v*w.scale[j])
	}
	return l
}

// held reports whether parameter j cannot move in the given direction.
func (w *workspace) held(j int, direction float64) bool {
	lo, hi := w.problem.lower(j), w.problem.upper(j)
	return lo == hi || direction < 0 && w.p[j] <= lo || direction > 0 && w.p[j] >= hi
}

// step computes the damped step of the parameters in w.z and the point it leads
// to in w.trial; lambda 0 gives the Gauss-Newton step. Bounds are kept as P. B.
// Stark and R. L. Parker do in "Bounded-variable least-squares", Computational
// Statistics 10, 1995: the step goes towards the minimum of the active
// parameters until one meets a bound and leaves them; at that minimum, the one
// whose gradient leads inwards most returns. The linear model falls at each
// turn, so turns end by themselves; the limit is for rounding only.
func (w *workspace) step(lambda float64) {
	clear(w.z)
	w.activate()
	for range 10 * w.n {
		if len(w.active) > 0 {
			w.solveActive(lambda)
			if w.advance() {
				continue
			}
		}
		if !w.release(lambda) {
			break
		}
	}
	for j, z := range w.z {
		w.trial[j] = w.p[j]
		if z != 0 {
			w.trial[j] = w.clamp(j, w.p[j]+z/w.scale[j])
		}
	}
}

// advance moves the active parameters in w.z towards w.rhs as far as the first
// bound. It reports whether it met one; the parameter there is no longer active.
func (w *workspace) advance() bool {
	share, first, bound := 1.0, -1, 0.0
	for k, j := range w.active {
		lo, hi := w.room(j)
		if b := min(max(w.rhs[k], lo), hi); b != w.rhs[k] {
			if s := (b - w.z[j]) / (w.rhs[k] - w.z[j]); first < 0 || s < share {
				share, first, bound = s, k, b
			}
		}
	}
	for k, j := range w.active {
		if k == first {
			w.z[j] = bound
		} else {
			w.z[j] += share * (w.rhs[k] - w.z[j])
		}
	}
	if first >= 0 {
		w.active = slices.Delete(w.active, first, first+1)
	}
	return first >= 0
}

// release makes one parameter active whose step ends at a bound although the
// linear model falls inwards there, and reports whether there was one.
func (w *workspace) release(lambda float64) bool {
	best, most := -1, 0.0
	for j := range w.n {
		lo, hi := w.room(j)
		if w.scale[j] == 0 || lo == hi || lo < w.z[j] && w.z[j] < hi || slices.Contains(w.active, j) {
			continue
		}
		g := lambda * w.z[j]
		for i := 0; i <= j; i++ {
			moved := w.qr[i]
			for l := i; l < w.n; l++ {
				moved += w.a[i*w.n+l] * w.z[l]
			}
			g += w.a[i*w.n+j] * moved
		}
		if w.z[j] >= hi {
			g = -g
		}
		if -g > most {
			best, most = j, -g
		}
	}
	if best < 0 || most <= 1e-14*math.Sqrt(w.rss) {
		return false
	}
	at, _ := slices.BinarySearch(w.active, best) // columns stay triangular
	w.active = slices.Insert(w.active, at, best)
	return true
}

// room returns the range of the scaled step of parameter j.
func (w *workspace) room(j int) (lo, hi float64) {
	lo, hi = w.problem.lower(j), w.problem.upper(j)
	return (lo - w.p[j]) * w.scale[j], (hi - w.p[j]) * w.scale[j]
}

func (w *workspace) clamp(j int, v float64) float64 {
	return min(max(v, w.problem.lower(j)), w.problem.upper(j))
}

// activate makes every free parameter active that the residuals depend on.
func (w *workspace) activate() {
	w.active = w.active[:0]
	for _, j := range w.free {
		if w.scale[j] > 0 {
			w.active = append(w.active, j)
		}
	}
}

// solveActive solves the damped problem of the active parameters, the others
// moving as w.z says, and leaves the scaled step in w.rhs. Without damping,
// parameters whose columns depend on earlier ones are made inactive first. It
// returns the triangular factor.
func (w *workspace) solveActive(lambda float64) blas64.Triangular {
	upper := w.triangle(lambda)
	for lambda == 0 {
		c := dependent(upper)
		if c < 0 {
			break
		}
		w.active = slices.Delete(w.active, c, c+1)
		upper = w.triangle(0)
	}
	if upper.N > 0 {
		blas64.Trsv(blas.NoTrans, upper, blas64.Vector{N: upper.N, Inc: 1, Data: w.rhs})
	}
	return upper
}

// triangle brings the damped problem of the active parameters to triangular
// form: the factor it returns and the right-hand side in w.rhs.
func (w *workspace) triangle(lambda float64) blas64.Triangular {
	n, k := w.n, len(w.active)
	plain := lambda == 0 && k == n // triangular already
	if w.square && !plain && w.triangleNormal(lambda) {
		return blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: k, Stride: k, Data: w.small}
	}
	rows := n
	if lambda > 0 {
		rows += k
	}
	small, rhs := w.small[:rows*k], w.rhs[:rows]
	clear(small)
	clear(rhs)
	for i := range n {
		rhs[i] = -w.qr[i]
		for j := i; j < n; j++ {
			rhs[i] -= w.a[i*n+j] * w.z[j]
		}
		for c, j := range w.active {
			if i <= j {
				small[i*k+c] = w.a[i*n+j]
				rhs[i] += w.a[i*n+j] * w.z[j]
			}
		}
	}
	if lambda > 0 {
		root := math.Sqrt(lambda)
		for c := range k {
			small[(n+c)*k+c] = root
		}
	}
	if k > 0 && !plain {
		triangularise(small, rows, k, rhs, w.tau)
	}
	return blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: k, Stride: k, Data: small}
}

// triangleNormal is triangle by the normal equations. It reports whether they can be
// trusted.
func (w *workspace) triangleNormal(lambda float64) bool {
	n, k := w.n, len(w.active)
	small, rhs, rest := w.small[:k*k], w.rhs[:k], w.rhs[n:2*n]
	for i := range n {
		rest[i] = -w.qr[i]
		for j := i; j < n; j++ {
			rest[i] -= w.a[i*n+j] * w.z[j]
		}
		for _, j := range w.active {
			if i <= j {
				rest[i] += w.a[i*n+j] * w.z[j]
			}
		}
	}
	for a, j := range w.active {
		rhs[a] = 0
		for i := range j + 1 {
			rhs[a] += w.a[i*n+j] * rest[i]
		}
		for b, l := range w.active[a:] {
			small[a*k+a+b] = w.gram[j*n+l]
		}
		small[a*k+a] += lambda
	}
	return cholesky(small, rhs, k)
}

// dependent returns the first column that the rank test would not count, by
// the diagonal of the triangular factor, or -1.
func dependent(upper blas64.Triangular) int {
	most := 0.0
	for c := range upper.N {
		most = max(most, math.Abs(upper.Data[c*upper.Stride+c]))
	}
	for c := range upper.N {
		if math.Abs(upper.Data[c*upper.Stride+c]) <= fullRank*most {
			return c
		}
	}
	return -1
}

// lengthAt returns the length of the damped step, bounds apart, and minus the
// inverse of its logarithmic derivative with respect to lambda.
func (w *workspace) lengthAt(lambda float64) (length, slope float64) {
	clear(w.z)
	w.activate()
	upper := w.solveActive(lambda)
	v := blas64.Vector{N: upper.N, Inc: 1, Data: w.rhs}
	length = norm(w.rhs, upper.N, 1)
	blas64.Scal(1/length, v)
	blas64.Trsv(blas.Trans, upper, v)
	d := norm(w.rhs, upper.N, 1)
	return length, 1 / (d * d)
}

// predicted returns the reduction of the sum of squares the linear model
// promises for the step w.z.
func (w *workspace) predicted() float64 {
	gain := 0.0
	for i := range w.n {
		moved := 0.0
		for j := i; j < w.n; j++ {
			moved += w.a[i*w.n+j] * w.z[j]
		}
		gain -= moved * (2*w.qr[i] + moved)
	}
	return gain
}

// stepSize returns the largest component of w.z, each relative to its
// parameter or to the norm of the residuals, whichever makes it smaller.
func (w *workspace) stepSize() float64 {
	norm := math.Sqrt(w.rss)
	size := 0.0
	for j, z := range w.z {
		if z == 0 {
			continue
		}
		z = math.Abs(z)
		size = max(size, min(z/norm, z/(w.scale[j]*math.Abs(w.p[j]))))
	}
	return size
}
