package joint

import (
	"math"

	vec "gonum.org/v1/gonum/floats"
)

// shape is the shape of the curve at one measure of development, on the grid: its
// logarithmic slope, and its integral.
type shape struct {
	slope, height []float64
}

// base returns the base of strip j, less its own.
func (m *design) base(p params, j int) float64 {
	b := 0.0
	for i := m.nb - 1; i >= 0; i-- {
		b = b*m.l[j] + p.shared[i]
	}
	return b
}

// place returns by how much the curve of strip j lies off the shared one.
func (m *design) place(p params, j int) float64 {
	return p.shared[m.iDrift]*m.l[j] + p.own[j][1]
}

func (m *design) gain(p params, j int) float64 { return math.Exp(m.growth[j] + p.own[j][0]) }

// lnLogistic returns ln of 1/(1+exp(-z)) and its derivative.
func lnLogistic(z float64) (v, slope float64) {
	if z < 0 {
		e := math.Exp(z)
		return z - math.Log1p(e), 1 / (1 + e)
	}
	e := math.Exp(-z)
	return -math.Log1p(e), e / (1 + e)
}

// common is what the shapes of all strips share: the logarithm of the slope on
// the grid without the departures that grow, those, and derivatives by the
// parameters of the shape.
type common struct {
	h  []float64
	e  [][]float64
	dh []float64 // grid rows of as many as shapes
}

func (m *design) common(p params) *common {
	c := &common{h: make([]float64, m.grid), dh: make([]float64, m.grid*shapes)}
	th := p.shared[m.iShape:m.iD]
	w, power, v := math.Exp(th[lnToeWidth]), math.Exp(th[lnPower]), math.Exp(th[lnShoulderWidth])
	departure := p.shared[m.iD:m.iE]
	for g := range m.grid {
		x := m.first + float64(g)*m.step
		u, z := (x-th[toe])/w, (th[shoulder]-x)/v
		lu, su := lnLogistic(u)
		lz, sz := lnLogistic(z)
		c.h[g] = power*lu + lz + vec.Dot(m.d[g*m.nd:(g+1)*m.nd], departure)
		copy(c.dh[g*shapes:], []float64{toe: -power * su / w, lnToeWidth: -power * su * u, lnPower: power * lu, shoulder: sz / v, lnShoulderWidth: -sz * z})
	}
	for k := range m.nt {
		e := make([]float64, m.grid)
		weights := p.shared[m.iE+k*m.ne : m.iE+(k+1)*m.ne]
		for g := range e {
			e[g] = vec.Dot(m.e[g*m.ne:(g+1)*m.ne], weights)
		}
		c.e = append(c.e, e)
	}
	return c
}

// least and most bound the logarithm of the slope.
const least, most = -60, 6

// shapeTo puts the shape that strip j has in the room of another.
func (m *design) shapeTo(s shape, c *common, p params, j int) {
	copy(s.slope, c.h)
	for k, e := range c.e {
		vec.AddScaled(s.slope, m.with[j][k], e)
	}
	for g, h := range s.slope {
		s.slope[g] = math.Exp(min(max(h, least), most))
	}
	s.height[0] = s.slope[0] * m.tail(p)
	for g := 1; g < m.grid; g++ {
		s.height[g] = s.height[g-1] + (s.slope[g]+s.slope[g-1])*m.step/2
	}
}

// tail returns the width over which the shape rises before the grid begins.
func (m *design) tail(p params) float64 {
	return math.Exp(p.shared[m.iShape+lnToeWidth] - p.shared[m.iShape+lnPower])
}

// movesOf returns how the logarithm of the slope moves with each parameter of the shape
// and each departure, grid row by grid row; with those that grow, for a strip that has one
// whole of them.
func (m *design) movesOf(c *common) []float64 {
	out := make([]float64, 0, m.grid*m.width())
	for g := range m.grid {
		out = append(out, c.dh[g*shapes:(g+1)*shapes]...)
		out = append(out, m.d[g*m.nd:(g+1)*m.nd]...)
		out = append(out, m.e[g*m.ne:(g+1)*m.ne]...)
	}
	return out
}

// hermite are the weights of a cubic between two places of the grid: of both
// values, and of both slopes.
type hermite struct {
	at             int
	y0, y1, d0, d1 float64
	s0, s1, t0, t1 float64 // the same for the slope of the cubic
}

// between returns the weights at a place; beyond the grid they are those of its end.
func between(x, first, step float64, n int) hermite {
	q := min(max((x-first)/step, 0), float64(n-1)-1e-9)
	i := int(q)
	f := q - float64(i)
	r := 1 - f
	return hermite{at: i,
		y0: r * r * (1 + 2*f), y1: f * f * (3 - 2*f), d0: f * r * r * step, d1: -f * f * r * step,
		s0: -6 * f * r / step, s1: 6 * f * r / step, t0: r * (r - 2*f), t1: f * (f - 2*r)}
}

func (w hermite) value(y, slope []float64) float64 {
	return w.y0*y[w.at] + w.y1*y[w.at+1] + w.d0*slope[w.at] + w.d1*slope[w.at+1]
}

func (w hermite) slope(y, slope []float64) float64 {
	return w.s0*y[w.at] + w.s1*y[w.at+1] + w.t0*slope[w.at] + w.t1*slope[w.at+1]
}
