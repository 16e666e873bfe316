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
// there moves with the parameters, both times the weight of its strip. The base of a strip moves with that of all, and its
// place with the drift, so that those say nothing of their own.
type row struct {
	residual float64
	shape    []float64 // by the parameters of the shape, the departure, and one whole of one that grows; nil for the base
	own      [owns]float64
	alike    []part // what readings of all strips have alike; nil for nothing
}

// times multiplies all of a row.
func (r *row) times(by float64) {
	r.residual *= by
	vec.Scale(by, r.shape)
	vec.Scale(by, r.own[:])
	for i := range r.alike {
		r.alike[i].by *= by
	}
}

// part is how the curve at a reading moves with a shared parameter.
type part struct {
	at int
	by float64
}

// offAlike returns by how much the exposure and the density of a reading are off, as the
// errors that readings have alike have it.
func (m *design) offAlike(p params, s Strip, i int) (along, up float64) {
	if s.Alike == nil {
		return 0, 0
	}
	for _, a := range s.Alike[i] {
		along += a.Along * p.shared[m.iA+a.Error]
		up += a.Up * p.shared[m.iA+a.Error]
	}
	return along, up
}

// byAlike returns how the curve at a reading, of such a slope there, moves with them.
func (m *design) byAlike(s Strip, i int, slope float64) []part {
	if s.Alike == nil {
		return nil
	}
	var out []part
	for _, a := range s.Alike[i] {
		out = append(out, part{m.iA + a.Error, a.Along*slope + a.Up})
	}
	return out
}

// linear is the model about some parameters.
type linear struct {
	rows    [][]row // by strip and reading
	squares float64 // of the residuals that count
	count   int

	moves []float64 // room of row.shape of all
}

// width is how many numbers row.shape has.
func (m *design) width() int { return shapes + m.nd + m.ne }

// spread adds to the shared parameters what moves those of the shape, and the own ones, of
// a strip.
func (m *design) spread(j int, to, shape []float64, own [owns]float64) {
	z := own[2]
	for i := range m.nb {
		to[i] += z
		z *= m.l[j]
	}
	to[m.iDrift] += own[1] * m.l[j]
	if shape == nil {
		return
	}
	vec.Add(to[m.iShape:m.iE], shape[:shapes+m.nd])
	for k, with := range m.with[j] {
		vec.AddScaled(to[m.iE+k*m.ne:m.iE+(k+1)*m.ne], with, shape[shapes+m.nd:])
	}
}

// byShared returns how the curve at a reading of strip j moves with the shared parameters.
func (m *design) byShared(j int, r row) []float64 {
	by := make([]float64, m.ns)
	m.spread(j, by, r.shape, r.own)
	for _, a := range r.alike {
		by[a.at] += a.by
	}
	return by
}

// about returns the model about parameters. All readings have a row, those that
// do not count too.
func (m *design) about(p params, use used) *linear { return m.aboutTo(m.noRows(), p, use) }

// noRows returns the room of a linear model.
func (m *design) noRows() *linear {
	out := &linear{rows: make([][]row, len(m.strips))}
	steps, readings := 0, 0
	for _, s := range m.strips {
		steps += len(s.X)
		readings += len(s.X) + len(s.Base)
	}
	out.moves = make([]float64, steps*m.width())
	rows := make([]row, readings)
	for j, s := range m.strips {
		n := len(s.X) + len(s.Base)
		out.rows[j], rows = rows[:0:n], rows[n:]
	}
	return out
}

// aboutTo is about in the room of another model.
func (m *design) aboutTo(out *linear, p params, use used) *linear {
	out.squares, out.count = 0, 0
	c, n, back := m.common(p), m.width(), out.moves
	by := m.movesOf(c)
	sh := shape{slope: make([]float64, m.grid), height: make([]float64, m.grid)}
	sum := make([]float64, n)
	tail := m.tail(p)
	for j, s := range m.strips {
		m.shapeTo(sh, c, p, j)
		gain, place, base := m.gain(p, j), m.place(p, j), m.base(p, j)+p.own[j][2]
		out.rows[j] = out.rows[j][:0]
		// The height of the shape moves with what moves the logarithm of its slope by the
		// integral of both: sum has it up to the place of the grid before done, and half a
		// step beyond.
		clear(sum)
		vec.AddScaled(sum, (tail-m.step/2)*sh.slope[0], by[:n])
		done := 0
		for i, x := range s.X {
			along, up := m.offAlike(p, s, i)
			at := between(x+along-place, m.first, m.step, m.grid)
			height, slope := at.value(sh.height, sh.slope), at.slope(sh.height, sh.slope)
			for ; done < at.at; done++ {
				vec.AddScaled(sum, m.step*sh.slope[done], by[done*n:(done+1)*n])
			}
			for ; done > at.at; done-- { // where errors change the order of the exposures
				vec.AddScaled(sum, -m.step*sh.slope[done-1], by[(done-1)*n:done*n])
			}
			r := row{residual: s.Y[i] - up - base - gain*height, shape: back[:n:n], own: [owns]float64{gain * height, -gain * slope, 1},
				alike: m.byAlike(s, i, gain*slope)}
			back = back[n:]
			here, next := sh.slope[at.at], sh.slope[at.at+1]
			vec.ScaleTo(r.shape, gain, sum) // as the weights of both heights are 1 together
			vec.AddScaled(r.shape, gain*here*(m.step*(at.y0/2+at.y1)+at.d0), by[at.at*n:(at.at+1)*n])
			vec.AddScaled(r.shape, gain*next*(m.step*at.y1/2+at.d1), by[(at.at+1)*n:(at.at+2)*n])
			out.rows[j] = append(out.rows[j], r)
		}
		for i, y := range s.Base {
			_, up := m.offAlike(p, s, len(s.X)+i)
			out.rows[j] = append(out.rows[j], row{residual: y - up - base, own: [owns]float64{2: 1}, alike: m.byAlike(s, len(s.X)+i, 0)})
		}
		if m.weight[j] != 1 {
			for i := range out.rows[j] {
				out.rows[j][i].times(m.weight[j])
			}
		}
		for i, r := range out.rows[j] {
			if use != nil && use[j][i] {
				out.squares += r.residual * r.residual
				out.count++
			}
		}
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
	out := &normal{shared: mat.NewSymDense(m.ns, nil), cross: make([][owns][]float64, len(m.strips)), own: make([][owns][owns]float64, len(m.strips)),
		pull: params{shared: make([]float64, m.ns), own: make([][owns]float64, len(m.strips))}}
	raw := out.shared.RawSymmetric()
	at := func(i, from, to int) []float64 { return raw.Data[i*raw.Stride+from : i*raw.Stride+to] }
	back := make([]float64, len(m.strips)*owns*m.ns)
	// The readings of a strip that count, a column each: how the curve moves with the own
	// parameters, the residual, and how it moves with the shape. Products of rows are
	// quicker than those of columns, which are short.
	const residual, shape = owns, owns + 1
	fixed, n := shape+shapes+m.nd, shape+m.width()
	most := 0
	for _, rows := range l.rows {
		most = max(most, len(rows))
	}
	x := make([]float64, n*most)
	gram := blas64.Symmetric{N: n, Stride: n, Uplo: blas.Upper, Data: make([]float64, n*n)}
	for j, rows := range l.rows {
		count := 0
		for i := range rows {
			if use[j][i] {
				count++
			}
		}
		if count == 0 {
			for k := range owns {
				out.cross[j][k], back = back[:m.ns:m.ns], back[m.ns:]
			}
			continue
		}
		x := x[:n*count]
		c := 0
		for i, r := range rows {
			if !use[j][i] {
				continue
			}
			for k, v := range r.own {
				x[k*count+c] = v
			}
			x[residual*count+c] = r.residual
			to := x[shape*count:]
			if r.shape == nil {
				for a := range m.width() {
					to[a*count+c] = 0
				}
			}
			for a, v := range r.shape {
				to[a*count+c] = v
			}
			c++
		}
		blas64.Syrk(blas.NoTrans, 1, blas64.General{Rows: n, Cols: count, Stride: count, Data: x}, 0, gram)
		cross, own, pull := &out.cross[j], &out.own[j], &out.pull.own[j]
		for k := range owns {
			for a := k; a < owns; a++ {
				own[k][a] = gram.Data[k*n+a]
				own[a][k] = own[k][a]
			}
			pull[k] = gram.Data[k*n+residual]
		}
		m.spread(j, out.pull.shared, gram.Data[residual*n+shape:shape*n], *pull)
		for k := range cross {
			cross[k], back = back[:m.ns:m.ns], back[m.ns:]
			m.spread(j, cross[k], gram.Data[k*n+shape:(k+1)*n], own[k])
		}
		m.addAlike(out, j, rows, use[j])
		z := 1.0
		for i := range m.nb {
			vec.AddScaled(at(i, i, m.ns), z, cross[2][i:])
			z *= m.l[j]
		}
		vec.AddScaled(at(m.iDrift, m.iDrift, m.ns), m.l[j], cross[1][m.iDrift:])
		for a := shape; a < fixed; a++ {
			g, i := gram.Data[a*n:(a+1)*n], m.iShape+a-shape
			vec.Add(at(i, i, m.iE), g[a:fixed])
			for k, with := range m.with[j] {
				vec.AddScaled(at(i, m.iE+k*m.ne, m.iE+(k+1)*m.ne), with, g[fixed:])
			}
		}
		for a := range m.ne {
			for b := range a {
				gram.Data[(fixed+a)*n+fixed+b] = gram.Data[(fixed+b)*n+fixed+a]
			}
		}
		for a := range m.ne {
			g := gram.Data[(fixed+a)*n+fixed : (fixed+a+1)*n]
			for k, with := range m.with[j] {
				i := m.iE + k*m.ne + a
				vec.AddScaled(at(i, i, m.iE+(k+1)*m.ne), with*with, g[a:])
				for c := k + 1; c < m.nt; c++ {
					vec.AddScaled(at(i, m.iE+c*m.ne, m.iE+(c+1)*m.ne), with*m.with[j][c], g)
				}
			}
		}
	}
	return out
}

// addAlike adds what the readings of a strip that count have alike with those of others.
func (m *design) addAlike(to *normal, j int, rows []row, use []bool) {
	if m.strips[j].Alike == nil {
		return
	}
	raw := to.shared.RawSymmetric()
	fixed := shapes + m.nd
	for i, r := range rows {
		if !use[i] {
			continue
		}
		for _, a := range r.alike {
			to.pull.shared[a.at] += a.by * r.residual
			for k, v := range r.own {
				to.cross[j][k][a.at] += v * a.by
			}
			for _, b := range r.alike {
				if b.at >= a.at {
					raw.Data[a.at*raw.Stride+b.at] += a.by * b.by
				}
			}
			if r.shape == nil {
				continue
			}
			at := m.iShape*raw.Stride + a.at
			for _, v := range r.shape[:fixed] {
				raw.Data[at] += v * a.by
				at += raw.Stride
			}
			for _, with := range m.with[j] {
				for _, v := range r.shape[fixed:] {
					raw.Data[at] += with * v * a.by
					at += raw.Stride
				}
			}
		}
	}
}

// eliminated is a normal matrix whose own parameters are solved for, for each strip
// apart.
type eliminated struct {
	left   *mat.SymDense // for the shared parameters, without their prior
	lnDet  float64       // of what is solved for
	own    [][owns][owns]float64
	follow [][owns][]float64 // how the own parameters of a strip follow the shared ones
}

// columns returns a matrix of so many columns for each strip, as many as it has own
// parameters, of the height of the shared ones. Products of its rows are quicker than
// those of the short columns.
func (m *design) columns() blas64.General {
	n := owns * len(m.strips)
	return blas64.General{Rows: m.ns, Cols: n, Stride: n, Data: make([]float64, m.ns*n)}
}

// column sets that of an own parameter of a strip.
func column(of blas64.General, j, k int, v []float64, by float64) {
	at := owns*j + k
	for _, x := range v {
		of.Data[at] = by * x
		at += of.Stride
	}
}

// eliminate solves for the own parameters, with their priors and damping in
// proportion to the diagonal.
func (m *design) eliminate(nm *normal, variance, damping float64) *eliminated {
	out := &eliminated{left: mat.NewSymDense(m.ns, nil), own: make([][owns][owns]float64, len(nm.own)), follow: make([][owns][]float64, len(nm.own))}
	back := make([]float64, len(nm.own)*owns*m.ns)
	taken, sum := m.columns(), make([]float64, m.ns)
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
		for k, root := range roots(inverse) {
			clear(sum)
			follow[k], back = back[:m.ns:m.ns], back[m.ns:]
			for a := range owns {
				vec.AddScaled(follow[k], -inverse[k][a]/variance, nm.cross[j][a])
				vec.AddScaled(sum, root[a], nm.cross[j][a])
			}
			column(taken, j, k, sum, 1/variance)
		}
		out.own[j] = inverse
	}
	out.left.ScaleSym(1/variance, nm.shared)
	blas64.Syrk(blas.NoTrans, -1, taken, 1, out.left.RawSymmetric())
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
