package joint

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Curve is the curve of one strip, and how it moves along independent directions
// of the error, one standard deviation each: first those that all strips share,
// in the same order for each, then those of the strip.
type Curve struct {
	Shared int   // directions that all strips share
	Alike  []int // how many of these, the last but those of scale and offset, come of each kind of error that readings have alike

	first, step float64
	line
	moves []line
}

// line is a curve or a change of one on the grid.
type line struct {
	at   []point
	base float64
}

type point struct{ y, slope float64 }

// times returns the line with every value multiplied.
func (l line) times(by float64) line {
	out := line{at: make([]point, len(l.at)), base: by * l.base}
	for g, p := range l.at {
		out.at[g] = point{by * p.y, by * p.slope}
	}
	return out
}

// of returns the value of a line and its slope.
func (w hermite) of(l line) (y, slope float64) {
	a, b := l.at[w.at], l.at[w.at+1]
	return w.y0*a.y + w.y1*b.y + w.d0*a.slope + w.d1*b.slope, w.s0*a.y + w.s1*b.y + w.t0*a.slope + w.t1*b.slope
}

// Directions returns how many directions of the error there are.
func (c *Curve) Directions() int { return len(c.moves) }

// Part is a way along one direction of the error, in standard deviations.
type Part struct {
	Direction int
	By        float64
}

// Parts returns the ways along those directions that there is one along.
func Parts(along []float64) []Part {
	var out []Part
	for k, by := range along {
		if by != 0 {
			out = append(out, Part{k, by})
		}
	}
	return out
}

// AtSlope returns density and slope at a log exposure, so far along directions of
// the error.
func (c *Curve) AtSlope(x float64, along []Part) (y, slope float64) {
	if math.IsNaN(x) {
		return x, x
	}
	w, beyond := c.between(x)
	y, slope = w.of(c.line)
	for _, p := range along {
		more, steeper := w.of(c.moves[p.Direction])
		y += p.By * more
		slope += p.By * steeper
	}
	return y + beyond*slope, slope
}

// between returns the weights at a log exposure, and how far it lies beyond the grid.
func (c *Curve) between(x float64) (w hermite, beyond float64) {
	n := len(c.at)
	if beyond = x - c.first; beyond > 0 {
		beyond = max(0, beyond-float64(n-1)*c.step)
	}
	return between(x, c.first, c.step, n), beyond
}

// Moves gives each direction of the error with how it moves density and slope at a log
// exposure.
func (c *Curve) Moves(x float64, give func(direction int, y, slope float64)) {
	w, beyond := c.between(x)
	for k, m := range c.moves {
		y, slope := w.of(m)
		give(k, y+beyond*slope, slope)
	}
}

// Base returns the density of the base, as AtSlope.
func (c *Curve) Base(along []Part) float64 {
	b := c.base
	for _, p := range along {
		b += p.By * c.moves[p.Direction].base
	}
	return b
}

// Curves returns the curve of each strip; the errors are multiplied by wider. All
// values may be off alike, by a share of each of standard deviation scale, and by one
// value of standard deviation offset: each of them, unless it is 0, is one more
// direction that all strips share.
func (f *Fit) Curves(wider, scale, offset float64) ([]*Curve, error) {
	root, kinds, err := f.directions()
	if err != nil {
		return nil, err
	}
	root.Scale(wider, root)
	_, n := root.Dims()
	c := f.common(f.p)
	// How the logarithm of the slope moves on the grid along each shared direction, a
	// row each: in what all strips share, and in each departure that grows.
	moved := func(basis []float64, width, from int) *mat.Dense {
		var out mat.Dense
		out.Mul(root.Slice(from, from+width, 0, n).T(), mat.NewDense(f.grid, width, basis).T())
		return &out
	}
	all := moved(f.d, f.nd, f.iD)
	all.Add(all, moved(c.dh, shapes, f.iShape))
	var grows []*mat.Dense
	for k := range f.nt {
		grows = append(grows, moved(f.e, f.ne, f.iE+k*f.ne))
	}
	along := mat.DenseCopyOf(root.T()) // the shared parameters, a row each direction

	var out []*Curve
	tail := f.tail(f.p)
	h, bend := make([]float64, f.grid), make([]float64, f.grid)
	for j := range f.strips {
		sh := f.shape(c, f.p, j)
		gain, place, base := f.gain(f.p, j), f.place(f.p, j), f.base(f.p, j)+f.p.own[j][2]
		back := make([]point, (1+n+owns)*f.grid)
		blank := func(base float64) line {
			l := line{at: back[:f.grid:f.grid], base: base}
			back = back[f.grid:]
			return l
		}
		curve := &Curve{Shared: n, Alike: kinds, first: f.first + place, step: f.step, line: blank(base), moves: make([]line, 0, n+2+owns)}
		for g := range f.grid {
			curve.at[g] = point{base + gain*sh.height[g], gain * sh.slope[g]}
			a, b := max(g-1, 0), min(g+1, f.grid-1)
			bend[g] = gain * (sh.slope[b] - sh.slope[a]) / (float64(b-a) * f.step)
		}
		// add has the direction along which the base, the place, the logarithm of the gain
		// and that of the slope, on the grid, move by so much.
		add := func(dBase, dPlace, dGain float64, h []float64) {
			m := blank(dBase)
			height, before := 0.0, 0.0 // of the shape
			for g, s := range sh.slope {
				slope := h[g] * s
				if g == 0 {
					height = tail * slope
				} else {
					height += (slope + before) * f.step / 2
				}
				before = slope
				m.at[g] = point{dBase + gain*(dGain*sh.height[g]+height-s*dPlace), gain*(dGain*s+slope) - bend[g]*dPlace}
			}
			curve.moves = append(curve.moves, m)
		}
		for k := range n {
			shared := along.RawRowView(k)
			var own [owns]float64
			for a := range owns {
				own[a] = vec.Dot(f.solved.follow[j][a], shared)
			}
			z := 1.0
			for i := range f.nb {
				own[2] += z * shared[i]
				z *= f.l[j]
			}
			own[1] += f.l[j] * shared[f.iDrift]
			copy(h, all.RawRowView(k))
			for i, e := range grows {
				vec.AddScaled(h, f.with[j][i], e.RawRowView(k))
			}
			add(own[2], own[1], own[0], h)
		}
		if scale > 0 {
			curve.moves = append(curve.moves, curve.line.times(scale))
			curve.Shared++
		}
		if offset > 0 {
			m := line{at: slices.Repeat([]point{{y: offset}}, f.grid), base: offset}
			curve.moves = append(curve.moves, m)
			curve.Shared++
		}
		clear(h)
		for _, own := range roots(f.solved.own[j]) {
			add(wider*own[2], wider*own[1], wider*own[0], h)
		}
		out = append(out, curve)
	}
	return out, nil
}

// roots returns the columns of a matrix L with L L' = cov.
func roots(cov [owns][owns]float64) (out [owns][owns]float64) {
	for k := range owns {
		for i := k; i < owns; i++ {
			v := cov[i][k]
			for a := range k {
				v -= out[a][i] * out[a][k]
			}
			if i == k {
				out[k][k] = math.Sqrt(math.Max(v, 0))
			} else if out[k][k] > 0 {
				out[k][i] = v / out[k][k]
			}
		}
	}
	return out
}

// negligible is the part of the variance of the curves that directions of the error
// may leave out.
const negligible = 1e-4

// directions returns independent directions of the error of the shared parameters,
// a column each, less those that hardly move any curve within the readings or a
// little beyond. The last come of what readings have alike, so many of each kind.
func (f *Fit) directions() (out *mat.Dense, kinds []int, err error) {
	sampled := *f.design
	sampled.strips = nil
	var all used
	const below, above, apart = 0.3, 0.6, 0.2
	for _, s := range f.strips {
		var at Strip
		for x := s.X[0] - below; x < s.X[len(s.X)-1]+above; x += apart {
			at.X, at.Y = append(at.X, x), append(at.Y, 0)
		}
		sampled.strips, all = append(sampled.strips, at), append(all, slices.Repeat([]bool{true}, len(at.X)))
	}
	// How the curves move by the shared parameters, which the own ones follow, as squares.
	nm := sampled.normal(sampled.about(f.p, all), all)
	gram := nm.shared
	var with, follow []float64
	for j, cross := range nm.cross {
		for k, by := range f.solved.follow[j] {
			half := slices.Clone(cross[k])
			for a, other := range f.solved.follow[j] {
				vec.AddScaled(half, nm.own[j][k][a]/2, other)
			}
			with, follow = append(with, half...), append(follow, by...)
		}
	}
	of := func(rows []float64) blas64.General {
		return blas64.General{Rows: owns * len(f.strips), Cols: f.ns, Stride: f.ns, Data: rows}
	}
	blas64.Syr2k(blas.Trans, 1, of(with), of(follow), 1, gram.RawSymmetric())
	if f.iA == f.ns {
		out, err = turned(mat.DenseCopyOf(&f.lower), gram)
		return out, nil, err
	}
	root, err := f.parted()
	if err != nil {
		return nil, nil, err
	}
	from := 0
	for i, n := range append([]int{f.iA}, f.alike...) {
		if n == 0 {
			kinds = append(kinds, 0)
			continue
		}
		part, err := turned(mat.DenseCopyOf(root.Slice(0, f.ns, from, from+n)), gram)
		if err != nil {
			return nil, nil, err
		}
		if from += n; i == 0 {
			out = part
			continue
		}
		var more mat.Dense
		more.Augment(out, part)
		_, n := part.Dims()
		out, kinds = &more, append(kinds, n)
	}
	return out, kinds, nil
}

// parted returns a square root of the covariance of the shared parameters whose last
// columns are what comes of the errors that readings have alike, as far as the readings
// leave those open, and whose first are what is open when those are known.
func (f *Fit) parted() (*mat.Dense, error) {
	n, na := f.iA, f.ns-f.iA
	part := func(i, k, j, l int) *mat.Dense { return mat.DenseCopyOf(mat.DenseCopyOf(f.cov).Slice(i, k, j, l)) }
	symmetric := func(d *mat.Dense) *mat.SymDense {
		r, _ := d.Dims()
		s := mat.NewSymDense(r, nil)
		for i := range r {
			for j := i; j < r; j++ {
				s.SetSym(i, j, d.At(i, j))
			}
		}
		return s
	}
	var chol mat.Cholesky
	if !chol.Factorize(symmetric(part(n, f.ns, n, f.ns))) {
		return nil, ErrNotFitted
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	var back, follow, left mat.Dense // how the other parameters follow those errors: B L'^-1
	if err := back.Solve(&lower, part(0, n, n, f.ns).T()); err != nil {
		return nil, ErrNotFitted
	}
	follow.CloneFrom(back.T())
	left.Mul(&follow, follow.T())
	left.Sub(part(0, n, 0, n), &left)
	var rest mat.Cholesky
	if !rest.Factorize(symmetric(&left)) {
		return nil, ErrNotFitted
	}
	var own mat.TriDense
	rest.LTo(&own)
	out := mat.NewDense(f.ns, f.ns, nil)
	out.Slice(0, n, 0, n).(*mat.Dense).Copy(&own)
	out.Slice(0, n, n, f.ns).(*mat.Dense).Copy(&follow)
	out.Slice(n, f.ns, n, n+na).(*mat.Dense).Copy(&lower)
	return out, nil
}

// turned returns directions that span those of a square root of a covariance, a column
// each, less those that hardly move any curve; gram has how the curves move.
func turned(root *mat.Dense, gram *mat.SymDense) (*mat.Dense, error) {
	_, n := root.Dims()
	var half, square mat.Dense
	half.Mul(gram, root)
	square.Mul(root.T(), &half)
	moves := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			moves.SetSym(i, j, square.At(i, j))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(moves, true) {
		return nil, ErrNotFitted
	}
	values := eigen.Values(nil) // rising
	least, from := negligible*vec.Sum(values), 0
	for sum := 0.0; from < len(values)-1; from++ {
		if sum += values[from]; sum > least {
			break
		}
	}
	var vectors, out mat.Dense
	eigen.VectorsTo(&vectors)
	out.Mul(root, vectors.Slice(0, n, from, n))
	return &out, nil
}
