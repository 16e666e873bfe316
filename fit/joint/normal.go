package joint

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// used says which readings of a strip count, those of the steps first, then those
// of the base.
type used [][]bool

// row is one reading against the curve: what it lies above it, and how the curve
// there moves with the parameters.
type row struct {
	residual float64
	shared   []float64
	own      [owns]float64
}

// linear is the model about some parameters.
type linear struct {
	rows    [][]row          // by strip and reading
	shared  []blas64.General // what rows have of the shared parameters, by strip
	squares float64          // of the residuals that count
	count   int
}

// about returns the model about parameters. All readings have a row, those that
// do not count too.
func (m *design) about(p params, use used) *linear {
	out := &linear{}
	c := m.common(p)
	n := shapes + m.nd + m.ne
	if m.slopes == nil {
		m.slopes, m.heights = make([]float64, m.grid*n), make([]float64, m.grid*n)
	}
	slopes, heights := m.slopes, m.heights
	for j, s := range m.strips {
		sh := m.shape(c, p, j)
		m.derivatives(c, sh, m.tail(p), slopes, heights)
		gain, place, base := m.gain(p, j), m.place(p, j), m.base(p, j)+p.own[j][2]
		rows := make([]row, 0, len(s.X)+len(s.Base))
		back := make([]float64, (len(s.X)+len(s.Base))*m.ns)
		blank := func() row {
			k := len(rows)
			r := row{shared: back[k*m.ns : (k+1)*m.ns : (k+1)*m.ns]}
			for i, v := 0, 1.0; i < m.nb; i++ {
				r.shared[i] = v
				v *= m.l[j]
			}
			r.own[2] = 1
			return r
		}
		for i, x := range s.X {
			at := between(x-place, m.first, m.step, m.grid)
			height := at.value(sh.height, sh.slope)
			slope := at.slope(sh.height, sh.slope)
			r := blank()
			r.residual = s.Y[i] - base - gain*height
			r.own[0], r.own[1] = gain*height, -gain*slope
			r.shared[m.iDrift] = -gain * slope * m.l[j]
			by := r.shared[m.iShape : m.iD+m.nd+m.ne]
			a, b := at.at*n, (at.at+1)*n
			for k := range by {
				by[k] = gain * (at.y0*heights[a+k] + at.y1*heights[b+k] + at.d0*slopes[a+k] + at.d1*slopes[b+k])
			}
			for k := m.nt - 1; k >= 0; k-- { // the first of them last, whose place they have
				vec.ScaleTo(r.shared[m.iE+k*m.ne:m.iE+(k+1)*m.ne], m.with[j][k], r.shared[m.iE:m.iE+m.ne])
			}
			rows = append(rows, r)
		}
		for _, y := range s.Base {
			r := blank()
			r.residual = y - base
			rows = append(rows, r)
		}
		for i, r := range rows {
			if use != nil && use[j][i] {
				out.squares += r.residual * r.residual
				out.count++
			}
		}
		out.rows = append(out.rows, rows)
		out.shared = append(out.shared, blas64.General{Rows: len(rows), Cols: m.ns, Stride: m.ns, Data: back})
	}
	return out
}

// normal is the normal matrix and the gradient of the readings, for a variance of 1,
// with the own parameters of each strip apart.
type normal struct {
	shared *mat.SymDense
	cross  [][owns][]float64 // by strip
	own    [][owns][owns]float64
	pull   params
}

func (m *design) normal(l *linear, use used) *normal {
	out := &normal{shared: mat.NewSymDense(m.ns, nil), pull: params{shared: make([]float64, m.ns), own: make([][owns]float64, len(m.strips))}}
	raw := out.shared.RawSymmetric()
	for j, rows := range l.rows {
		var cross [owns][]float64
		for k := range cross {
			cross[k] = make([]float64, m.ns)
		}
		var own [owns][owns]float64
		x := l.shared[j]
		if slices.Contains(use[j], false) { // of which those that do not count are left out
			x.Data = slices.Clone(x.Data)
			for i, yes := range use[j] {
				if !yes {
					clear(x.Data[i*m.ns : (i+1)*m.ns])
				}
			}
		}
		blas64.Syrk(blas.Trans, 1, x, 1, raw)
		for i, r := range rows {
			if !use[j][i] {
				continue
			}
			vec.AddScaled(out.pull.shared, r.residual, r.shared)
			for k, v := range r.own {
				vec.AddScaled(cross[k], v, r.shared)
				for a, w := range r.own {
					own[k][a] += v * w
				}
				out.pull.own[j][k] += v * r.residual
			}
		}
		out.cross = append(out.cross, cross)
		out.own = append(out.own, own)
	}
	return out
}

// eliminated is a normal matrix whose own parameters are solved for, for each strip
// apart.
type eliminated struct {
	left   *mat.SymDense // for the shared parameters, without their prior
	lnDet  float64       // of what is solved for
	own    [][owns][owns]float64
	follow [][owns][]float64 // how the own parameters of a strip follow the shared ones
}

// eliminate solves for the own parameters, with their priors and damping in
// proportion to the diagonal.
func (m *design) eliminate(nm *normal, variance, damping float64) *eliminated {
	out := &eliminated{left: mat.NewSymDense(m.ns, nil), own: make([][owns][owns]float64, len(nm.own)), follow: make([][owns][]float64, len(nm.own))}
	out.left.ScaleSym(1/variance, nm.shared)
	raw := out.left.RawSymmetric()
	back := make([]float64, len(nm.own)*owns*m.ns)
	for j := range nm.own {
		o, own := nm.own[j], m.ownPrecision(j)
		for k := range owns {
			for a := range owns {
				o[k][a] /= variance
			}
			o[k][k] = (o[k][k] + own[k]) * (1 + damping)
		}
		inverse, lnDet := invert(o)
		out.lnDet += lnDet
		follow := &out.follow[j]
		for k := range owns {
			follow[k], back = back[:m.ns:m.ns], back[m.ns:]
			for a := range owns {
				vec.AddScaled(follow[k], -inverse[k][a]/variance, nm.cross[j][a])
			}
		}
		for k := range owns {
			for a, v := range nm.cross[j][k] {
				if v != 0 {
					vec.AddScaled(raw.Data[a*raw.Stride+a:a*raw.Stride+m.ns], v/variance, follow[k][a:])
				}
			}
		}
		out.own[j] = inverse
	}
	return out
}

// reduced is a normal matrix with all its priors, factored.
type reduced struct {
	*eliminated
	chol  blas64.Triangular // U with U'U what is left for the shared parameters
	lnDet float64           // of the whole
}

// reduce adds the prior of the shared parameters and factors what is left; ok is false
// where it is not positive definite.
func (m *design) reduce(e *eliminated, prior []float64, damping float64) (r *reduced, ok bool) {
	from := e.left.RawSymmetric()
	a := blas64.Symmetric{N: m.ns, Stride: m.ns, Uplo: blas.Upper, Data: slices.Clone(from.Data)}
	for i, q := range prior {
		// Damping is in proportion to the diagonal before the strips were solved
		// for, of which what is left is the lesser part.
		a.Data[i*m.ns+i] = (a.Data[i*m.ns+i] + q) * (1 + damping)
	}
	u, ok := lapack64.Potrf(a)
	if !ok {
		return nil, false
	}
	r = &reduced{eliminated: e, chol: u, lnDet: e.lnDet}
	for i := range m.ns {
		r.lnDet += 2 * math.Log(u.Data[i*m.ns+i])
	}
	return r, true
}

// inverse returns the covariance of the shared parameters.
func (r *reduced) inverse() *mat.SymDense {
	n := r.chol.N
	u := r.chol
	u.Data = slices.Clone(u.Data)
	lapack64.Potri(u)
	return mat.NewSymDense(n, u.Data)
}

// invert returns the inverse of a positive definite matrix of three rows, and the
// logarithm of its determinant.
func invert(a [owns][owns]float64) (inverse [owns][owns]float64, lnDet float64) {
	c := func(i, j int) float64 {
		i1, i2, j1, j2 := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return a[i1][j1]*a[i2][j2] - a[i1][j2]*a[i2][j1]
	}
	det := a[0][0]*c(0, 0) + a[0][1]*c(0, 1) + a[0][2]*c(0, 2)
	for i := range owns {
		for j := range owns {
			inverse[i][j] = c(j, i) / det
		}
	}
	return inverse, math.Log(det)
}

// solve returns the step against a gradient.
func (r *reduced) solve(pull params) params {
	x := slices.Clone(pull.shared)
	for j, follow := range r.follow {
		for k := range owns {
			vec.AddScaled(x, pull.own[j][k], follow[k])
		}
	}
	v := blas64.Vector{N: len(x), Inc: 1, Data: x}
	blas64.Trsv(blas.Trans, r.chol, v)
	blas64.Trsv(blas.NoTrans, r.chol, v)
	out := params{shared: x, own: make([][owns]float64, len(pull.own))}
	for j, follow := range r.follow {
		for k := range owns {
			v := vec.Dot(follow[k], x)
			for a := range owns {
				v += r.own[j][k][a] * pull.own[j][a]
			}
			out.own[j][k] = v
		}
	}
	return out
}

// gradient returns that of half the criterion, readings and priors, downhill.
func (m *design) gradient(nm *normal, variance float64, p params, prior []float64) params {
	out := params{shared: slices.Clone(nm.pull.shared), own: slices.Clone(nm.pull.own)}
	for i, q := range prior {
		out.shared[i] /= variance
		out.shared[i] -= q * (p.shared[i] - m.meanOf(i))
	}
	for j := range out.own {
		for k, q := range m.ownPrecision(j) {
			out.own[j][k] /= variance
			out.own[j][k] -= q * p.own[j][k]
		}
	}
	return out
}

// penalty returns the squares of the parameters about their priors.
func (m *design) penalty(p params, prior []float64) float64 {
	sum := 0.0
	for i, q := range prior {
		d := p.shared[i] - m.meanOf(i)
		sum += q * d * d
	}
	for j, own := range p.own {
		for k, q := range m.ownPrecision(j) {
			sum += q * own[k] * own[k]
		}
	}
	return sum
}

func (p params) dot(q params) float64 {
	sum := vec.Dot(p.shared, q.shared)
	for j := range p.own {
		for k := range owns {
			sum += p.own[j][k] * q.own[j][k]
		}
	}
	return sum
}
