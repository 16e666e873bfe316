package fit

import "math"

// Prior is what is known of a positive quantity beforehand: its logarithm is
// about ln Typical, give or take LnSD. The zero Prior is no knowledge.
type Prior struct {
	Typical float64
	LnSD    float64
}

// BendData are the readings that a bend is fitted to: Y at X, in rising order
// of X, and readings of the base itself, all with the standard deviation Sigma.
type BendData struct {
	X, Y, Base []float64
	Sigma      float64

	// What is known of the shape beforehand. It decides where the readings do
	// not reach, and counts for little where they do.
	ToeWidth, Power, ShoulderWidth Prior

	// LeastShoulder is the sharpest shoulder to consider, in x; 0 leaves it to
	// the spacing of the readings.
	LeastShoulder float64
}

// BendFit is a fitted bend with its parameters in the order of BendForm.Names. Its
// residuals are in units of BendData.Sigma: those of Y, of Base, and of the
// priors of the form.
type BendFit struct {
	Bend
	Form BendForm
	Solution
	ReadingRSS float64 // the part of RSS that is not of the priors
}

// priors returns the priors of a form and the parameters they are of.
func (d *BendData) priors(f BendForm) (ps [2]Prior, of [2]int, n int) {
	add := func(p Prior, i int) {
		if p.LnSD > 0 {
			ps[n], of[n] = p, i
			n++
		}
	}
	add(d.ToeWidth, bendToeWidth)
	switch f {
	case ToeCurve:
		add(d.Power, bendLnPower)
	case ToeShoulder:
		add(d.ShoulderWidth, bendShoulderWidth)
	}
	return ps, of, n
}

// residual returns how many LnSD a parameter lies above its typical value, and
// the derivative. The power is fitted by its logarithm, the widths are not.
func (p Prior) residual(f BendForm, of int, value float64) (z, slope float64) {
	if f == ToeCurve && of == bendLnPower {
		return (value - math.Log(p.Typical)) / p.LnSD, 1 / p.LnSD
	}
	value = math.Max(value, leastWidth)
	return math.Log(value/p.Typical) / p.LnSD, 1 / (value * p.LnSD)
}

// residuals stores the residuals at p and, when jac is not nil, their
// derivatives.
func (d *BendData) residuals(f BendForm, p, r, jac []float64) {
	b := f.Bend(p)
	n := len(p)
	inv := 1 / d.Sigma
	g := b.Gradient * inv
	for i, x := range d.X {
		u := x - b.Toe
		s, slope := softplus(u, b.ToeWidth)
		y, dy, lnS := s, 1.0, 0.0 // of the line, and by the height of its softplus
		if f == ToeCurve {
			y, lnS = power(s, b.Power)
			dy = b.Power * y // times slope/s, below
		}
		var v, top, topSlope float64
		if f == ToeShoulder {
			v = x - b.Shoulder
			top, topSlope = softplus(v, b.ShoulderWidth)
		}
		r[i] = (b.Base-d.Y[i])*inv + g*(y-top)
		if jac == nil {
			continue
		}
		row := jac[i*n : (i+1)*n]
		row[bendBase] = inv
		row[bendLnGradient] = g * (y - top)
		switch f {
		case ToeCurve:
			per := perHeight(s, slope, b.ToeWidth)
			row[bendToe] = -g * dy * per
			row[bendToeWidth] = g * dy * (1 - u*per) / b.ToeWidth
			row[bendLnPower] = g * dy * lnS
		default:
			row[bendToe] = -g * (slope - topSlope)
			row[bendToeWidth] = g * (s - u*slope) / b.ToeWidth // d(softplus)/dw
		}
		if f == ToeShoulder {
			row[bendLnSpan] = g * topSlope * (b.Shoulder - b.Toe)
			row[bendShoulderWidth] = -g * (top - v*topSlope) / b.ShoulderWidth
		}
	}
	k := len(d.X)
	for _, y := range d.Base {
		r[k] = (b.Base - y) * inv
		if jac != nil {
			row := jac[k*n : (k+1)*n]
			clear(row)
			row[bendBase] = inv
		}
		k++
	}
	ps, of, m := d.priors(f)
	for i := range m {
		z, slope := ps[i].residual(f, of[i], p[of[i]])
		r[k] = z
		if jac != nil {
			row := jac[k*n : (k+1)*n]
			clear(row)
			row[of[i]] = slope
		}
		k++
	}
}

// FitBend fits a bend of the given form to the readings by least squares. It
// starts from the given parameters, of an earlier fit to nearly the same
// readings, or, when start is nil, from the readings themselves (see Start). It panics
// when X and Y differ in length, when there are fewer than two readings, or
// when Sigma is not positive. With fewer readings than parameters
// Solution.Cov is nil.
func FitBend(s *Solver, d BendData, f BendForm, start []float64) BendFit {
	return FitBendBelow(s, d, f, start, 0)
}

// FitBendBelow is FitBend for a fit that is of use where its RSS is below beat: its
// Status is Beaten where that was seen to be out of reach. A beat of 0 is none.
func FitBendBelow(s *Solver, d BendData, f BendForm, start []float64, beat float64) BendFit {
	if len(d.X) != len(d.Y) || len(d.X) < 2 || !(d.Sigma > 0) {
		panic("fit: bend data of unequal or too short lengths, or without sigma")
	}
	n := f.Params()
	reach := d.X[len(d.X)-1] - d.X[0]
	step := reach / float64(len(d.X)-1)
	// A corner much sharper than the spacing of the readings cannot be told
	// from a sharp one, unless the film is steep, nor one much wider than the strip from a line. Corners
	// closer than the readings make the curve of a logistic whatever their
	// distance.
	narrow, wide := 0.15*step, reach
	if d.LeastShoulder > 0 { // which is less for steep film
		narrow = math.Min(narrow, d.LeastShoulder)
	}
	inf := math.Inf(1)
	w := &s.bend
	w.bounds[0] = [...]float64{-inf, math.Log(1e-3), d.X[0] - 2*reach, narrow, math.Log(0.5 * step), math.Max(narrow, d.LeastShoulder)}
	w.bounds[1] = [...]float64{inf, math.Log(1e3), d.X[len(d.X)-1] + reach, wide, math.Log(4 * reach), wide}
	lower, upper := w.bounds[0][:n], w.bounds[1][:n]
	if f == ToeCurve {
		lower[bendLnPower], upper[bendLnPower] = math.Log(0.4), math.Log(2.5)
	}
	_, _, priors := d.priors(f)
	problem := Problem{M: len(d.X) + len(d.Base) + priors, N: n, Lower: lower, Upper: upper, Eval: w.evalOf(d, f)}
	if start == nil {
		start = d.startIn(w.start[:0], f, 1.5*step)
	}
	best := s.Solve(problem, start, Options{MaxIter: bendIterations, Offset: bendOffset, Beat: beat})
	w.data = BendData{} // do not keep the caller's readings
	out := BendFit{Bend: f.Bend(best.Params), Form: f, Solution: best, ReadingRSS: best.RSS}
	ps, of, m := d.priors(f)
	for i := range m {
		z, _ := ps[i].residual(f, of[i], best.Params[of[i]])
		out.ReadingRSS -= z * z
	}
	out.ReadingRSS = math.Max(out.ReadingRSS, 0)
	return out
}

// bendWork is what a Solver keeps for fits of bends.
type bendWork struct {
	bounds [2][mostBendParams]float64 // lower and upper
	start  [mostBendParams]float64
	data   BendData
	form   BendForm
	eval   func(p, r, jac []float64) // of data and form
}

// evalOf returns Problem.Eval for the readings; it holds until it is asked again.
func (w *bendWork) evalOf(d BendData, f BendForm) func(p, r, jac []float64) {
	if w.eval == nil {
		w.eval = func(p, r, jac []float64) { w.data.residuals(w.form, p, r, jac) }
	}
	w.data, w.form = d, f
	return w.eval
}

// bendIterations is ten times what a fit to film needs. Readings that are not of
// film can send the search along a valley without end.
const bendIterations = 150

// bendOffset leaves less than a thousandth of a standard deviation
// (TestBendOffset), and spares forms that do not fit most of their slow approach.
const bendOffset = 0.003

// Start returns first parameters of a form read off the data: the base from its
// readings or the lowest values, the steepest stretch over four intervals as
// the straight line, the corners where it meets base and top, with the given
// width.
func (d *BendData) Start(f BendForm, width float64) []float64 {
	return d.startIn(make([]float64, 0, mostBendParams), f, width)
}

// startIn appends the parameters of Start.
func (d *BendData) startIn(p []float64, f BendForm, width float64) []float64 {
	base, top := math.Inf(1), math.Inf(-1)
	for _, y := range d.Y {
		base, top = math.Min(base, y), math.Max(top, y)
	}
	if len(d.Base) > 0 {
		base = 0
		for _, y := range d.Base {
			base += y / float64(len(d.Base))
		}
	}
	stretch := min(4, len(d.X)-1)
	gradient, x, y := 1e-2, d.X[len(d.X)/2], (base+top)/2
	for i := range len(d.X) - stretch {
		j := i + stretch
		if g := (d.Y[j] - d.Y[i]) / (d.X[j] - d.X[i]); g > gradient {
			gradient, x, y = g, (d.X[i]+d.X[j])/2, (d.Y[i]+d.Y[j])/2
		}
	}
	p = append(p, base, math.Log(gradient), x-(y-base)/gradient, width)
	switch f {
	case ToeCurve:
		p = append(p, 0)
	case ToeShoulder:
		p = append(p, math.Log(math.Max(top-base, 0.1)/gradient), width)
	}
	return p
}
