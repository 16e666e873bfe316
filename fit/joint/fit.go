package joint

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"sensito/fit"
)

// Options say which readings count.
type Options struct {
	// Doubtful are readings that are left out at first, by strip: those of the
	// steps first, then those of the base. They count again where they belong to
	// the curve of all strips.
	Doubtful [][]int

	// FalseAlarms is the accepted rate of clean strips that lose a reading; at 0
	// all readings count.
	FalseAlarms float64

	MostSlips func(readings int) int // of a strip
}

// Fit is one shape of curve with the place, slope and base of each strip.
type Fit struct {
	state

	LeftOut [][]int // readings that do not count, by strip, as Options.Doubtful
	Sigma   float64 // standard deviation of a reading of weight 1
	DoF     float64 // degrees of freedom behind it
	Squares float64 // of the residuals
	Count   int     // of the readings behind it
	EDF     float64 // parameters that they determine

	cov    *mat.SymDense // of the shared parameters
	lower  mat.TriDense  // L with LL' that
	solved *reduced
}

// New fits one shape to the strips. The error wraps ErrNotFitted where they do not
// determine one.
func New(p Problem, o Options) (*Fit, error) {
	f := &Fit{state: begun(p, o)}
	again := map[[2]int]bool{} // readings that came back, since the others lead to expect them
	for {
		if err := f.fit(); err != nil {
			return nil, err
		}
		if !f.finish() {
			return nil, ErrNotFitted
		}
		if o.FalseAlarms == 0 || !f.change(o, again) {
			break
		}
	}
	for _, use := range f.use {
		var out []int
		for i, yes := range use {
			if !yes {
				out = append(out, i)
			}
		}
		f.LeftOut = append(f.LeftOut, out)
	}
	return f, nil
}

// begun returns where a fit begins.
func begun(p Problem, o Options) state {
	m := newDesign(p)
	s := state{design: m, p: m.start(), variance: p.Sigma * p.Sigma, shared: 0.15, growing: 0.08}
	for j, strip := range p.Strips {
		use := make([]bool, len(strip.X)+len(strip.Base))
		for i := range use {
			use[i] = true
		}
		for _, i := range o.Doubtful[j] {
			use[i] = o.FalseAlarms == 0
		}
		s.use = append(s.use, use)
	}
	return s
}

// finish finds the covariance of the parameters about the minimum: the second
// moment of the mixture; ok is false where that is none.
func (f *Fit) finish() (ok bool) {
	f.solved = f.best.solved
	f.cov = mat.NewSymDense(f.ns, nil)
	for _, c := range f.mixture {
		if c.weight < 1e-3 {
			continue
		}
		one := c.solved.inverse()
		one.ScaleSym(c.weight, one)
		f.cov.AddSym(f.cov, one)
		f.cov.SymRankOne(f.cov, c.weight, mat.NewVecDense(f.ns, c.off.shared))
	}
	f.EDF = f.effective(f.solved, f.solved.inverse(), f.precision(f.best.shared, f.best.growing))
	f.Count, f.Squares = f.lin.count, f.lin.squares
	f.Sigma = math.Sqrt(f.variance)
	f.DoF = math.Max(float64(f.Count)-f.EDF, 1) + f.worth
	if f.known {
		f.DoF = math.Inf(1)
	}
	var chol mat.Cholesky
	if ok = chol.Factorize(f.cov); ok {
		f.lower = mat.TriDense{}
		chol.LTo(&f.lower)
	}
	return ok
}

// following returns how a reading's curve moves with the shared parameters, the own
// ones of its strip following.
func (f *Fit) following(j int, r row) []float64 {
	by := f.byShared(j, r)
	for k, v := range r.own {
		vec.AddScaled(by, v, f.solved.follow[j][k])
	}
	return by
}

// leverage returns the variance of the curve at a reading, in units of that of the
// reading.
func (f *Fit) leverage(j int, r row) float64 {
	h := 0.0
	for k, v := range r.own {
		for a, w := range r.own {
			h += v * w * f.solved.own[j][k][a]
		}
	}
	x := blas64.Vector{N: f.ns, Inc: 1, Data: f.following(j, r)}
	blas64.Trmv(blas.Trans, f.lower.RawTriangular(), x)
	return (h + blas64.Dot(x, x)) / f.variance
}

// Stray returns by how many standard deviations the curve of a strip lies beside where
// the shared shape and drift have it. Among strips of one film the place found has the
// variance of its prior less what the readings leave open.
func (f *Fit) Stray(strip int) float64 {
	const place = 1
	open := f.solved.own[strip][place][place]
	x := mat.NewVecDense(f.ns, f.solved.follow[strip][place])
	open += mat.Inner(x, f.cov, x)
	told := 1/f.ownPrecision(strip)[place] - open
	if told <= 0 {
		return 0
	}
	return f.p.own[strip][place] / math.Sqrt(told)
}

// OwnBase returns by how much the base of a strip lies above where those of the others, by
// their development, have it.
func (f *Fit) OwnBase(strip int) float64 { return f.p.own[strip][2] }

// change leaves out the reading that belongs least to the curve, or takes back one
// that does belong to it; it says whether there was one.
func (f *Fit) change(o Options, again map[[2]int]bool) bool {
	type found struct {
		j, i int
		over float64
	}
	var worst, best *found
	behind := f.DoF
	for j, rows := range f.lin.rows {
		left := 0
		for _, yes := range f.use[j] {
			if !yes {
				left++
			}
		}
		limit := fit.StudentT(1-o.FalseAlarms/float64(len(rows)), behind-1)
		for i, r := range rows {
			h := f.leverage(j, r)
			if !f.use[j][i] {
				over := math.Abs(r.residual) / math.Sqrt(f.variance*(1+h)) / limit
				if over < 1 && !again[[2]int{j, i}] && (best == nil || over < best.over) {
					best = &found{j, i, over}
				}
				continue
			}
			free := math.Max(1-h, 1e-3)
			variance := f.variance
			if !f.known {
				variance = math.Max((behind*f.variance-r.residual*r.residual/free)/(behind-1), f.sigma0*f.sigma0) // what the stated one explains is no slip
			}
			over := math.Abs(r.residual) / math.Sqrt(variance*free) / limit
			if over > 1 {
				over = math.Min(over, math.Abs(r.residual-f.misfit(j, i))/math.Sqrt(variance*free)/limit)
			}
			if over > 1 && left < o.MostSlips(len(rows)) && !again[[2]int{j, i}] && (worst == nil || over > worst.over) {
				worst = &found{j, i, over}
			}
		}
	}
	switch {
	case worst != nil:
		f.use[worst.j][worst.i] = false
	case best != nil:
		f.use[best.j][best.i] = true
		again[[2]int{best.j, best.i}] = true
	default:
		return false
	}
	return true
}

// misfit returns what the other strips show that the shape misses where a reading of
// strip j lies: the middle of the nearest residual of each, 0 of a reading of the base.
// A sharper corner than the shape can have is no slip.
func (f *Fit) misfit(j, i int) float64 {
	s := f.strips[j]
	if i >= len(s.X) {
		return 0
	}
	at := s.X[i] - f.place(f.p, j)
	var others []float64
	for k, strip := range f.strips {
		if k == j {
			continue
		}
		nearest, far := 0, math.Inf(1)
		for m, x := range strip.X {
			if d := math.Abs(x - f.place(f.p, k) - at); d < far && f.use[k][m] {
				nearest, far = m, d
			}
		}
		if far <= f.length {
			others = append(others, f.Residual(k, nearest)*f.weight[j])
		}
	}
	return fit.Median(others)
}

// Residual returns how far a reading lies above the curve of its strip.
func (f *Fit) Residual(strip, reading int) float64 {
	return f.lin.rows[strip][reading].residual / f.weight[strip]
}

// Weight returns what a residual of a strip counts, 1 where the strip has the standard
// deviation of the problem.
func (f *Fit) Weight(strip int) float64 { return f.weight[strip] }
