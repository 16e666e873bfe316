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
	Alike  []int // how many of these, the last but those of Curves, come of each kind of error that readings have alike

	first, step float64
	at          []point // on the grid
	base        float64
	moves       []point   // of each place of the grid, by direction
	baseMoves   []float64 // by direction
}

type point struct{ y, slope float64 }

// of returns the value of a curve and its slope between two places of the grid.
func (w hermite) of(a, b point) (y, slope float64) {
	return w.y0*a.y + w.y1*b.y + w.d0*a.slope + w.d1*b.slope, w.s0*a.y + w.s1*b.y + w.t0*a.slope + w.t1*b.slope
}

// Directions returns how many directions of the error there are.
func (c *Curve) Directions() int { return len(c.baseMoves) }

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
	y, slope = w.of(c.at[w.at], c.at[w.at+1])
	here, next := c.movesAt(w)
	for _, p := range along {
		more, steeper := w.of(here[p.Direction], next[p.Direction])
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
// exposure, NaN at none.
func (c *Curve) Moves(x float64, give func(direction int, y, slope float64)) {
	if math.IsNaN(x) {
		for k := range c.baseMoves {
			give(k, x, x)
		}
		return
	}
	w, beyond := c.between(x)
	here, next := c.movesAt(w)
	for k := range here {
		y, slope := w.of(here[k], next[k])
		give(k, y+beyond*slope, slope)
	}
}

// movesAt returns how the places of the grid move that weights are for, by direction.
func (c *Curve) movesAt(w hermite) (here, next []point) {
	n := len(c.baseMoves)
	return c.moves[w.at*n : (w.at+1)*n], c.moves[(w.at+1)*n : (w.at+2)*n]
}

// Base returns the density of the base, as AtSlope.
func (c *Curve) Base(along []Part) float64 {
	b := c.base
	for _, p := range along {
		b += p.By * c.baseMoves[p.Direction]
	}
	return b
}

// BaseMove returns how the density of the base moves along a direction of the error.
func (c *Curve) BaseMove(direction int) float64 { return c.baseMoves[direction] }

// Off is an error that all values have alike: by a standard deviation of it a value y is
// off by o + s y + c y², for the three in their order.
type Off [3]float64

// Of returns by how much a value is off.
func (o Off) Of(y float64) float64 { return o[0] + o[1]*y + o[2]*y*y }

// at returns by how much a value and the slope there are off.
func (o Off) at(p point) point { return point{o.Of(p.y), (o[1] + 2*o[2]*p.y) * p.slope} }

// Curves returns the curve of each strip; the errors are multiplied by wider. Each error
// that all values have alike is one more direction that all strips share.
func (f *Fit) Curves(wider float64, off []Off) ([]*Curve, error) {
	root, kinds, err := f.directions()
	if err != nil {
		return nil, err
	}
	root.Scale(wider, root)
	_, n := root.Dims()
	c := f.common(f.p)
	// How the logarithm of the slope moves on the grid along each shared direction, a
	// column each: in what all strips share, and in each departure that grows.
	moved := func(basis []float64, width, from int) *mat.Dense {
		var out mat.Dense
		out.Mul(mat.NewDense(f.grid, width, basis), root.Slice(from, from+width, 0, n))
		return &out
	}
	all := moved(f.d, f.nd, f.iD)
	all.Add(all, moved(c.dh, shapes, f.iShape))
	var grows []*mat.Dense
	for k := range f.nt {
		grows = append(grows, moved(f.e, f.ne, f.iE+k*f.ne))
	}
	along := mat.DenseCopyOf(root.T()) // the shared parameters, a row each direction

	alike := len(off)
	count := n + alike + owns
	tail := f.tail(f.p)
	// What moves along each direction: the base, the place, the logarithms of the gain and
	// of the slope of the shape at a place of the grid, and its height up to there.
	dBase, dPlace, dGain, h := make([]float64, count), make([]float64, count), make([]float64, count), make([]float64, count)
	height, before := make([]float64, count), make([]float64, count)
	sh := shape{slope: make([]float64, f.grid), height: make([]float64, f.grid)}
	var out []*Curve
	for j := range f.strips {
		f.shapeTo(sh, c, f.p, j)
		gain, place, base := f.gain(f.p, j), f.place(f.p, j), f.base(f.p, j)+f.p.own[j][2]
		for k := range n {
			shared := along.RawRowView(k)
			own := [owns]float64{}
			for a := range owns {
				own[a] = vec.Dot(f.solved.follow[j][a], shared)
			}
			z := 1.0
			for i := range f.nb {
				own[2] += z * shared[i]
				z *= f.l[j]
			}
			dGain[k], dPlace[k], dBase[k] = own[0], own[1]+f.l[j]*shared[f.iDrift], own[2]
		}
		for k, own := range roots(f.solved.own[j]) {
			k += n + alike
			dGain[k], dPlace[k], dBase[k] = wider*own[0], wider*own[1], wider*own[2]
		}
		curve := &Curve{Shared: n + alike, Alike: kinds, first: f.first + place, step: f.step, at: make([]point, f.grid), base: base,
			moves: make([]point, f.grid*count), baseMoves: slices.Clone(dBase)}
		for g, s := range sh.slope {
			curve.at[g] = point{base + gain*sh.height[g], gain * s}
			a, b := max(g-1, 0), min(g+1, f.grid-1)
			bend := gain * (sh.slope[b] - sh.slope[a]) / (float64(b-a) * f.step)
			copy(h, all.RawRowView(g))
			for i, e := range grows {
				vec.AddScaled(h[:n], f.with[j][i], e.RawRowView(g))
			}
			to := curve.moves[g*count : (g+1)*count]
			for k := range to {
				slope := h[k] * s
				if g == 0 {
					height[k] = tail * slope
				} else {
					height[k] += (slope + before[k]) * f.step / 2
				}
				before[k] = slope
				to[k] = point{dBase[k] + gain*(dGain[k]*sh.height[g]+height[k]-s*dPlace[k]), gain*(dGain[k]*s+slope) - bend*dPlace[k]}
			}
		}
		for i, o := range off {
			for g, p := range curve.at {
				curve.moves[g*count+n+i] = o.at(p)
			}
			curve.baseMoves[n+i] = o.Of(base)
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
	of := f.some()
	sampled, p := f.part(of), params{shared: f.p.shared}
	var all used
	const below, above, apart = 0.3, 0.6, 0.2
	for k, j := range of {
		s := f.strips[j]
		var at Strip
		for x := s.X[0] - below; x < s.X[len(s.X)-1]+above; x += apart {
			at.X, at.Y = append(at.X, x), append(at.Y, 0)
		}
		sampled.strips[k], p.own, all = at, append(p.own, f.p.own[j]), append(all, slices.Repeat([]bool{true}, len(at.X)))
	}
	// How the curves move by the shared parameters, which the own ones follow, as squares.
	nm := sampled.normal(sampled.about(p, all), all)
	gram := nm.shared
	with, follow, half := sampled.columns(), sampled.columns(), make([]float64, f.ns)
	for k, cross := range nm.cross {
		followed := f.solved.follow[of[k]]
		for a, by := range followed {
			copy(half, cross[a])
			for b, other := range followed {
				vec.AddScaled(half, nm.own[k][a][b]/2, other)
			}
			column(with, k, a, half, 1)
			column(follow, k, a, by, 1)
		}
	}
	blas64.Syr2k(blas.NoTrans, 1, with, follow, 1, gram.RawSymmetric())
	if f.iA == f.ns {
		out, err = turned(&f.lower, gram)
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
		part, err := turned(root.Slice(0, f.ns, from, from+n), gram)
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
func turned(root mat.Matrix, gram *mat.SymDense) (*mat.Dense, error) {
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
