package joint

import (
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Curve is the curve of one strip, and how it moves along independent directions
// of the error, one standard deviation each: first those that all strips share,
// in the same order for each, then those of the strip.
type Curve struct {
	Shared int // directions that all strips share

	first, step float64
	line
	moves []line
}

// line is a curve or a change of one on the grid.
type line struct {
	y, slope []float64
	base     float64
}

// times returns the line with every value multiplied.
func (l line) times(by float64) line {
	out := line{y: slices.Clone(l.y), slope: slices.Clone(l.slope), base: by * l.base}
	vec.Scale(by, out.y)
	vec.Scale(by, out.slope)
	return out
}

// Directions returns how many directions of the error there are.
func (c *Curve) Directions() int { return len(c.moves) }

// AtSlope returns density and slope at a log exposure, so many standard
// deviations along each direction; nil for along none.
func (c *Curve) AtSlope(x float64, along []float64) (y, slope float64) {
	if math.IsNaN(x) {
		return x, x
	}
	n := len(c.y)
	w := between(x, c.first, c.step, n)
	beyond := x - c.first
	if beyond > 0 {
		beyond = math.Max(0, beyond-float64(n-1)*c.step)
	}
	y, slope = w.value(c.y, c.slope), w.slope(c.y, c.slope)
	for k, by := range along {
		if by != 0 {
			m := c.moves[k]
			y += by * w.value(m.y, m.slope)
			slope += by * w.slope(m.y, m.slope)
		}
	}
	return y + beyond*slope, slope
}

// Base returns the density of the base, as AtSlope.
func (c *Curve) Base(along []float64) float64 {
	b := c.base
	for k, by := range along {
		b += by * c.moves[k].base
	}
	return b
}

// Curves returns the curve of each strip; the errors are multiplied by wider. All
// values may be off alike, by a share of each of standard deviation scale, and by one
// value of standard deviation offset: each of them, unless it is 0, is one more
// direction that all strips share.
func (f *Fit) Curves(wider, scale, offset float64) ([]*Curve, error) {
	root, err := f.directions()
	if err != nil {
		return nil, err
	}
	root.Scale(wider, root)
	_, n := root.Dims()
	c := f.common(f.p)
	// How the logarithm of the slope moves on the grid along each shared direction:
	// in what all strips share, and in each departure that grows.
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

	var out []*Curve
	tail := f.tail(f.p)
	for j := range f.strips {
		sh := f.shape(c, f.p, j)
		gain, place, base := f.gain(f.p, j), f.place(f.p, j), f.base(f.p, j)+f.p.own[j][2]
		curve := &Curve{Shared: n, first: f.first + place, step: f.step, line: f.blank(base)}
		bend := make([]float64, f.grid)
		for g := range f.grid {
			curve.y[g], curve.slope[g] = base+gain*sh.height[g], gain*sh.slope[g]
			a, b := max(g-1, 0), min(g+1, f.grid-1)
			bend[g] = gain * (sh.slope[b] - sh.slope[a]) / (float64(b-a) * f.step)
		}
		add := func(own [owns]float64, shared int) {
			dBase, dPlace := own[2], own[1]
			if shared >= 0 {
				z := 1.0
				for i := range f.nb {
					dBase += z * root.At(i, shared)
					z *= f.l[j]
				}
				dPlace += f.l[j] * root.At(f.iDrift, shared)
			}
			m := f.blank(dBase)
			height, before := 0.0, 0.0
			for g := range f.grid {
				slope := 0.0 // of the shape
				if shared >= 0 {
					h := all.At(g, shared)
					for k, e := range grows {
						h += f.with[j][k] * e.At(g, shared)
					}
					slope = h * sh.slope[g]
					if g == 0 {
						height = tail * slope
					} else {
						height += (slope + before) * f.step / 2
					}
					before = slope
				}
				m.y[g] = dBase + gain*(own[0]*sh.height[g]+height-sh.slope[g]*dPlace)
				m.slope[g] = gain*(own[0]*sh.slope[g]+slope) - bend[g]*dPlace
			}
			curve.moves = append(curve.moves, m)
		}
		for k := range n {
			var own [owns]float64
			for a := range owns {
				for i := range f.ns {
					own[a] += f.solved.follow[j][a][i] * root.At(i, k)
				}
			}
			add(own, k)
		}
		if scale > 0 {
			curve.moves = append(curve.moves, curve.line.times(scale))
			curve.Shared++
		}
		if offset > 0 {
			m := f.blank(offset)
			for g := range m.y {
				m.y[g] = offset
			}
			curve.moves = append(curve.moves, m)
			curve.Shared++
		}
		for _, own := range roots(f.solved.own[j]) {
			for a := range own {
				own[a] *= wider
			}
			add(own, -1)
		}
		out = append(out, curve)
	}
	return out, nil
}

func (m *design) blank(base float64) line {
	return line{y: make([]float64, m.grid), slope: make([]float64, m.grid), base: base}
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
// little beyond.
func (f *Fit) directions() (*mat.Dense, error) {
	var chol mat.Cholesky
	if !chol.Factorize(f.cov) {
		return nil, ErrNotFitted
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	sampled := *f.design
	sampled.strips = nil
	const below, above, apart = 0.3, 0.6, 0.2
	for _, s := range f.strips {
		var at Strip
		for x := s.X[0] - below; x < s.X[len(s.X)-1]+above; x += apart {
			at.X, at.Y = append(at.X, x), append(at.Y, 0)
		}
		sampled.strips = append(sampled.strips, at)
	}
	var moves []float64 // of the curves, by the shared parameters
	count := 0
	for j, rows := range sampled.about(f.p, nil).rows {
		for _, r := range rows {
			moves = append(moves, f.following(j, r)...)
			count++
		}
	}
	var by mat.Dense
	by.Mul(mat.NewDense(count, f.ns, moves), &lower)
	var gram mat.SymDense
	gram.SymOuterK(1, by.T())
	var eigen mat.EigenSym
	if !eigen.Factorize(&gram, true) {
		return nil, ErrNotFitted
	}
	values := eigen.Values(nil) // rising
	least, from := negligible*vec.Sum(values), 0
	for sum := 0.0; from < len(values)-1; from++ {
		if sum += values[from]; sum > least {
			break
		}
	}
	var turned, out mat.Dense
	eigen.VectorsTo(&turned)
	out.Mul(&lower, turned.Slice(0, f.ns, from, f.ns))
	return &out, nil
}
