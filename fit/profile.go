package fit

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Profile returns the profile-likelihood limits of parameter j of p, whose
// solution is s: the interval around it within which the sum of squares,
// minimised over the other parameters, exceeds its minimum by no more than
// RSS/dof F(level; 1, dof), or chi squared (level; 1) where the noise is given
// (D. M. Bates and D. G. Watts, Nonlinear Regression Analysis and Its
// Applications, Wiley 1988, section 6.1). A side that does not close is the
// bound of the parameter, or infinite without one.
//
// A function of the parameters has limits in the same way, once p is written
// with it as a parameter. The limits are NaN when the run has not converged or
// the noise should come from residuals and no degree of freedom is left.
// It panics unless 0 < level < 1.
func Profile(p Problem, s Solution, j int, n Noise, level float64) (lo, hi float64) {
	c := profile{
		hold: func(v float64) Problem {
			held := p
			held.Lower, held.Upper = make([]float64, p.N), make([]float64, p.N)
			for i := range p.N {
				held.Lower[i], held.Upper[i] = p.lower(i), p.upper(i)
			}
			held.Lower[j], held.Upper[j] = v, v
			return held
		},
		least: s.RSS,
		rise:  s.rise(n, level),
	}
	if math.IsNaN(c.rise) {
		return math.NaN(), math.NaN()
	}
	v := s.Params[j]
	step := 0.1 * math.Abs(v)
	if s.Cov != nil && s.Cov.At(j, j) > 0 {
		step = math.Sqrt(s.Cov.At(j, j) * c.rise) // the end, were the sum of squares a parabola
	}
	if step == 0 {
		step = 0.1
	}
	c.begin(s.Params)
	lo = c.edge(v, -step, p.lower(j))
	c.begin(s.Params)
	hi = c.edge(v, step, p.upper(j))
	return lo, hi
}

// rise returns by how much the sum of squares may exceed its minimum at the
// ends of an interval for one quantity, NaN where that is unknown.
func (s Solution) rise(n Noise, level float64) float64 {
	checkLevel(level)
	dof := float64(s.DoF())
	switch {
	case s.Status != Converged:
		return math.NaN()
	case n == NoiseGiven:
		z := distuv.UnitNormal.Quantile(0.5 + level/2)
		return z * z
	case dof <= 0:
		return math.NaN()
	}
	t := distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(0.5 + level/2)
	return t * t * s.RSS / dof
}

// profile is the sum of squares as a function of one quantity that is held
// while the parameters of a problem are free.
type profile struct {
	hold        func(v float64) Problem
	least, rise float64

	solver Solver
	at     Solution
	start  []float64 // the solution for a value nearby
}

func (c *profile) begin(start []float64) { c.start = append(c.start[:0], start...) }

// excess is negative within the limits and positive outside: the signed root
// of the rise, nearly linear in v, less that of the one allowed.
func (c *profile) excess(v float64) float64 {
	c.solver.SolveTo(&c.at, c.hold(v), c.start, Options{})
	if math.IsNaN(c.at.RSS) {
		return math.Inf(1)
	}
	return math.Sqrt(math.Max(c.at.RSS-c.least, 0)) - math.Sqrt(c.rise)
}

// edge returns where excess changes sign between from and bound, searched with
// growing steps. Where it does not, it returns the bound.
func (c *profile) edge(from, step, bound float64) float64 {
	tol := 1e-12 * math.Abs(step)
	inside, within := from, -math.Sqrt(c.rise)
	for range 100 {
		v := inside + step
		if step > 0 == (v >= bound) {
			v = bound
		}
		if math.IsInf(v, 0) {
			return v
		}
		e := c.excess(v)
		if e > 0 {
			end, err := Root(func(x float64) float64 {
				switch x {
				case inside:
					return within
				case v:
					return e
				}
				return c.excess(x)
			}, inside, v, tol)
			if err != nil {
				return math.NaN()
			}
			return end
		}
		if v == bound {
			return bound
		}
		inside, within = v, e
		c.begin(c.at.Params)
		step *= 2
	}
	return math.Inf(int(math.Copysign(1, step)))
}

// InductionInterval returns the profile limits of Induction at the level (see Profile).
func (f KineticsFit) InductionInterval(level float64) (lo, hi float64) {
	return Profile(f.data.problem(), f.Solution, 2, f.Noise, level)
}

// LimitInterval returns the profile limits of Limit at the level (see Profile);
// hi is +Inf where a straight line lies within them.
func (f KineticsFit) LimitInterval(level float64) (lo, hi float64) {
	c := profile{hold: f.data.limitHeld, least: f.RSS, rise: f.rise(f.Noise, level)}
	if math.IsNaN(c.rise) {
		return math.NaN(), math.NaN()
	}
	start := []float64{f.Slope, f.Induction}
	q := 1 / f.Limit
	step := 0.1 / (f.Slope * f.data.longest())
	c.begin(start)
	hi = 1 / c.edge(q, -step, 0)
	c.begin(start)
	lo = 1 / c.edge(q, step, math.Inf(1))
	return lo, hi
}

// TimeInterval returns the profile limits of the time at which growth reaches
// g, at the level (see Profile). hi is +Inf where growth that never reaches g
// lies within them, and lo too where all growth within them stays below g. A g
// of zero asks for Induction. They are NaN for a negative g.
func (f KineticsFit) TimeInterval(g, level float64) (lo, hi float64) {
	switch {
	case !(g >= 0):
		return math.NaN(), math.NaN()
	case g == 0:
		return f.InductionInterval(level)
	}
	// The inverse of time is held: zero is a time of infinity, where Limit is g.
	c := profile{
		hold:  func(v float64) Problem { return f.data.timeHeld(g, 1/v) },
		least: f.RSS,
		rise:  f.rise(f.Noise, level),
	}
	if math.IsNaN(c.rise) {
		return math.NaN(), math.NaN()
	}
	start := []float64{f.Rate, f.Induction}
	c.begin(start)
	t, err := f.Time(g)
	if err != nil {
		if c.excess(0) > 0 {
			return math.Inf(1), math.Inf(1)
		}
		c.begin(c.at.Params)
		return 1 / c.edge(0, 0.1/f.data.longest(), math.Inf(1)), math.Inf(1)
	}
	step := 0.1 / t
	if sd := f.TimeSD(g); sd > 0 {
		step = math.Min(2*sd/t, 1) / t
	}
	hi = 1 / c.edge(1/t, -step, 0)
	c.begin(start)
	lo = 1 / c.edge(1/t, step, math.Inf(1))
	return lo, hi
}

// limitHeld is the fit in Slope and Induction with 1/Limit held at q.
func (d *growthData) limitHeld(q float64) Problem {
	return Problem{
		M: d.rows(), N: 2,
		Lower: []float64{0, d.earliest},
		Upper: []float64{math.Inf(1), d.latest},
		Eval: func(p, r, jac []float64) {
			for i, t := range d.t {
				v, dv := growth(p[0], p[0]*q, t-p[1])
				r[i] = (v - d.g[i]) * d.weight[i]
				jac[2*i] = (dv[0] + q*dv[1]) * d.weight[i]
				jac[2*i+1] = dv[2] * d.weight[i]
			}
			d.known(p, r, jac, 2, 1, 0, q)
		},
	}
}

// timeHeld is the fit in Rate and Induction with the value at time held at g;
// at a time of infinity, with Limit held there.
func (d *growthData) timeHeld(g, time float64) Problem {
	latest := d.latest
	if time <= latest { // growth begins before it has reached g
		latest = math.Max(0.999*time, d.earliest)
	}
	return Problem{
		M: d.rows(), N: 2,
		Lower: []float64{0, d.earliest},
		Upper: []float64{d.fastest, latest},
		Eval: func(p, r, jac []float64) {
			// slope = g / f, f the growth of unit slope at the time held
			slope, byRate, byInduction := g*p[0], g, 0.0
			if !math.IsInf(time, 1) {
				f, df := growth(1, p[0], time-p[1])
				slope = g / f
				byRate, byInduction = -slope*df[1]/f, -slope*df[2]/f
			}
			for i, t := range d.t {
				f, df := growth(1, p[0], t-p[1])
				r[i] = (slope*f - d.g[i]) * d.weight[i]
				jac[2*i] = (slope*df[1] + byRate*f) * d.weight[i]
				jac[2*i+1] = (slope*df[2] + byInduction*f) * d.weight[i]
			}
			d.known(p, r, jac, 2, 1, 0, 1)
		},
	}
}

func checkLevel(level float64) {
	if !(level > 0 && level < 1) {
		panic("fit: level outside (0, 1)")
	}
}
