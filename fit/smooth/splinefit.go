package smooth

import (
	"errors"
	"math"

	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"sensito/fit"
)

// SplineFit is a fitted spline. Params are the value far to the left and the
// rises from one coefficient to the next, from the third on; Cov is their
// posterior covariance for residuals of variance 1 (Wahba, J. R. Stat. Soc. B
// 45, 133, 1983), with zero rows for rises that the constraint holds at zero.
type SplineFit struct {
	Spline
	Params  []float64
	Cov     *mat.SymDense
	Penalty float64 // on the squared second differences of the coefficients
	RSS     float64 // of the readings, in units of fit.BendData.Sigma
	EDF     float64 // effective number of parameters
}

// SplineOf returns the spline with the given parameters on the knots of s.
func (s Spline) SplineOf(params []float64) Spline {
	out := Spline{First: s.First, Step: s.Step, Coef: make([]float64, len(params)+2)}
	v := params[0]
	for j := range out.Coef {
		if j > 2 {
			v += params[j-2]
		}
		out.Coef[j] = v
	}
	return out
}

// ErrSpline says that the readings do not determine a spline.
var ErrSpline = errors.New("the readings do not determine a smooth curve")

// FitSpline fits a rising spline to the readings by least squares with a
// penalty on the squared second differences of its coefficients (Eilers and
// Marx, Statistical Science 11, 89, 1996). The size of the penalty maximises
// the restricted likelihood; the rise is a constraint, met by an active set.
// The priors of the data are not used. The error is ErrSpline. It panics like
// FitBend.
func FitSpline(d fit.BendData, worth, variance float64) (SplineFit, error) {
	if len(d.X) != len(d.Y) || len(d.X) < 2 || !(d.Sigma > 0) {
		panic("fit: spline data of unequal or too short lengths, or without sigma")
	}
	p := newSplineProblem(d)
	penalty, err := p.restrictedLikelihood(worth, variance)
	if err != nil {
		return SplineFit{}, err
	}
	return p.solve(penalty)
}

const (
	levelRises   = 2  // zero rises between coefficients that make a start level
	splineLead   = 3  // intervals to the left of the readings, for the way down to the base
	minIntervals = 12 // over the readings
	maxIntervals = 30
)

// splineProblem is the linear least-squares problem of a SplineFit in the level of
// the start and the heights of the later coefficients above it, which stay accurate
// where a large penalty makes them small. A reading touches four coefficients and a
// second difference three, so that all but the row of the level is banded, and a
// penalty costs as much as there are readings and coefficients.
type splineProblem struct {
	knots    Spline
	sloping  bool // the first rise has no second difference, as a level start gives it
	k        int  // parameters
	readings []splineReading
	weight   float64   // of a reading, 1/sigma
	mean     float64   // of the readings, which stand less it
	ata, pen band      // of the heights: of the readings, and of the squared second differences
	shared   []float64 // of the level and the heights, of the readings

	solvedSpline
}

// splineReading is one reading and how it follows four coefficients from one on.
type splineReading struct {
	from int
	by   [4]float64
	y    float64
}

// solvedSpline is what solve and solveFor leave for a penalty. Heights between which rises
// are held at zero are one; those of group g stand in place n-1-g, which puts the
// pivots of a large penalty in order, and group 0 is level with the start.
type solvedSpline struct {
	start  float64   // the level, less the mean
	height []float64 // of each coefficient
	group  []int     // of each coefficient
	n      int       // groups
	m      band      // factor of the normal equations of the heights
	pulled []float64 // how the heights follow the level there
	pivot  float64   // of the level, the last

	slope      []float64 // see gradient
	slopeLevel float64
	work       []float64
}

func newSplineProblem(d fit.BendData) *splineProblem {
	intervals := min(max(len(d.X)-1, minIntervals), maxIntervals)
	x0, x1 := d.X[0], d.X[len(d.X)-1]
	step := (x1 - x0) / float64(intervals)
	knots := Spline{First: x0 - splineLead*step, Step: step, Coef: make([]float64, intervals+splineLead+3)}
	return newSplineProblemOn(knots, d, levelRises)
}

// newSplineProblemOn sets up the problem on the given knots, with the first
// level rises between coefficients zero instead of parameters: levelRises for
// a level start, 0 for a free one.
func newSplineProblemOn(knots Spline, d fit.BendData, level int) *splineProblem {
	k := len(knots.Coef) - level
	p := &splineProblem{knots: knots, sloping: level == 0, k: k, weight: 1 / d.Sigma, readings: make([]splineReading, 0, len(d.X)+len(d.Base))}
	rows := make(band, 3*(k+3))
	p.ata, p.pen, p.m = rows[:k+3], rows[k+3:2*(k+3)], rows[2*(k+3):]
	numbers := make([]float64, 5*(k+3))
	p.shared, p.slope, p.height = numbers[:k], numbers[k+3:][:k+3], numbers[2*(k+3):][:k+3]
	p.pulled, p.work = numbers[3*(k+3):][:k+3], numbers[4*(k+3):]
	p.group = make([]int, k)
	for r, x := range d.X {
		i, b, _ := p.knots.basis(x)
		reading := splineReading{from: max(i-level, 0), y: d.Y[r]}
		for c, v := range b {
			reading.by[max(i+c-level, 0)-reading.from] += v * p.weight
		}
		p.readings = append(p.readings, reading)
	}
	for _, y := range d.Base {
		p.readings = append(p.readings, splineReading{by: [4]float64{p.weight}, y: y})
	}
	for _, r := range p.readings {
		p.mean += r.y / float64(len(p.readings))
	}
	for i := range p.readings {
		r := &p.readings[i]
		r.y = (r.y - p.mean) * p.weight
		for c, v := range r.by {
			p.shared[r.from+c] += v * p.weight
			for l, w := range r.by[c:] {
				p.ata[r.from+c][l] += v * w
			}
		}
	}
	if !p.sloping {
		p.pen.addSquare(0, -1, 1)
	}
	for j := range k - 2 {
		p.pen.addSquare(j, 1, -2, 1)
	}
	return p
}

// solveFor solves for a penalty with the held rises at zero. It returns the logarithm
// of the determinant of the normal equations.
func (p *splineProblem) solveFor(penalty float64, held []bool) (logDet float64, err error) {
	p.n = 0
	for i := range p.k {
		if held == nil || !held[i] {
			p.n++
		}
		p.group[i] = p.n - 1
	}
	clear(p.m)
	clear(p.pulled)
	heights := p.n - 1
	level := float64(len(p.readings)) * p.weight * p.weight
	for i := 1; i < p.k; i++ {
		place := heights - p.group[i]
		if place == heights { // level with the start
			continue
		}
		p.pulled[place] += p.shared[i]
		for j := range min(4, p.k-i) {
			v, at := p.ata[i][j]+penalty*p.pen[i][j], heights-p.group[i+j]
			if j > 0 && at == place {
				v *= 2 // both halves meet on the diagonal
			}
			p.m[at][place-at] += v
		}
	}
	shared := p.work[:heights]
	copy(shared, p.pulled)
	logDet, ok := p.m.factor(heights)
	if !ok {
		return 0, ErrSpline
	}
	p.m.solve(p.pulled, heights, 0)
	p.pivot = level - vec.Dot(shared, p.pulled[:heights])
	if !(p.pivot > 0) {
		return 0, ErrSpline
	}
	p.start = 0
	clear(p.height)
	p.move(penalty)
	return logDet + math.Log(p.pivot), nil
}

// move goes to the solution from any place: from zero to within what the normal
// equations lose in rounding, and from there to within that of residuals.
func (p *splineProblem) move(penalty float64) {
	p.gradient(penalty)
	heights, x := p.n-1, p.work
	clear(x)
	for i, g := range p.slope[:p.k] {
		x[heights-p.group[i]] += g
	}
	level := p.slopeLevel
	for place, follows := range p.pulled[:heights] {
		level -= follows * x[place]
	}
	level /= p.pivot
	p.m.solve(x, heights, 0)
	p.start += level
	for i, g := range p.group {
		place := heights - g
		p.height[i] += x[place] - level*p.pulled[place]
	}
}

// gradient stores how half the penalised sum of squares falls with each coefficient
// and with all of them.
func (p *splineProblem) gradient(penalty float64) {
	clear(p.slope)
	p.slopeLevel = 0
	for i := range p.readings {
		r := &p.readings[i]
		e := p.residual(r)
		p.slopeLevel += p.weight * e
		for c, v := range r.by {
			p.slope[r.from+c] += v * e
		}
	}
	for i := 1; i < p.k; i++ {
		s := penalty * p.bend(i)
		p.slope[i] -= s
		p.slope[i-1] += 2 * s
		if i > 1 {
			p.slope[i-2] -= s
		} else {
			p.slope[0] -= s // the one before is as high
		}
	}
}

// residual returns the residual of a reading.
func (p *splineProblem) residual(r *splineReading) float64 {
	at := p.height[r.from : r.from+4]
	return r.y - p.start*p.weight - r.by[0]*at[0] - r.by[1]*at[1] - r.by[2]*at[2] - r.by[3]*at[3]
}

// rise returns the rise to coefficient i from the one before.
func (p *splineProblem) rise(i int) float64 { return p.height[i] - p.height[i-1] }

// bend returns the second difference of the coefficients up to i.
func (p *splineProblem) bend(i int) float64 {
	switch {
	case i > 1:
		return p.rise(i) - p.rise(i-1)
	case p.sloping:
		return 0
	}
	return p.rise(i)
}

// squares returns the residual sum of squares and that of the second differences.
func (p *splineProblem) squares() (rss, rough float64) {
	for i := range p.readings {
		e := p.residual(&p.readings[i])
		rss += e * e
	}
	for i := 1; i < p.k; i++ {
		rough += p.bend(i) * p.bend(i)
	}
	return rss, rough
}

// restrictedLikelihood returns the penalty that maximises the restricted
// likelihood of the mixed model in which the penalised directions are random
// (Ruppert, Wand and Carroll, Semiparametric Regression, 2003, section 4.9):
// with one free direction, the level, and p.k-1 penalised ones,
//
//	-2 l = (n-1) ln(RSS + lambda rough) + ln det(A'A + lambda P) - (k-1) ln lambda
//
// worth residuals of known variance join the first term.
func (p *splineProblem) restrictedLikelihood(worth, variance float64) (float64, error) {
	minus2l := func(ln float64) float64 {
		penalty := math.Exp(ln)
		logDet, err := p.solveFor(penalty, nil)
		if err != nil {
			return math.Inf(1)
		}
		rss, rough := p.squares()
		return (float64(len(p.readings)-1)+worth)*math.Log(rss+penalty*rough+worth*variance) + logDet - float64(p.k-1)*ln
	}
	const from, to, by = -6.0, 18.0, 1.5
	best, at := math.Inf(1), math.NaN()
	for ln := from; ln <= to; ln += by {
		if v := minus2l(ln); v < best {
			best, at = v, ln
		}
	}
	if math.IsNaN(at) {
		return 0, ErrSpline
	}
	lo, hi := at-by, at+by
	const ratio = 0.6180339887498949
	l, r := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
	atL, atR := minus2l(l), minus2l(r)
	for hi-lo > 0.01 {
		if atL < atR {
			hi, r, atR = r, l, atL
			l = hi - ratio*(hi-lo)
			atL = minus2l(l)
		} else {
			lo, l, atL = l, r, atR
			r = lo + ratio*(hi-lo)
			atR = minus2l(r)
		}
	}
	return math.Exp((lo + hi) / 2), nil
}

// rounding is the share of the readings, or of their span, that is none.
const rounding = 1e-12

// solve fits with the given penalty under the constraint that no rise is
// negative: rises that would be are held at zero, and freed again when the fit
// would rather have them positive (Lawson and Hanson, Solving Least Squares
// Problems, 1974, chapter 23). Where that goes round and round, the last rise that is
// wrong is put right first, which comes to an end (Murty, Math. Program. 7, 138, 1974,
// from memory).
func (p *splineProblem) solve(penalty float64) (SplineFit, error) {
	held, pulled := make([]bool, p.k), make([]bool, p.k)
	const rounds, quick = 1000, 100
	for round := range rounds {
		if _, err := p.solveFor(penalty, held); err != nil {
			return SplineFit{}, err
		}
		p.move(penalty)
		// A rise of no more than rounding is none, unless the readings pulled it up: at a
		// start that no reading shows, it would decide how uncertain the level is.
		none := rounding * math.Abs(p.height[p.k-1])
		last := round >= quick // those that go round and round end with the last first (TestSplineGoesRound)
		worst, at := math.Inf(1), -1
		for i := 1; i < p.k; i++ {
			if rise := p.rise(i); (last || rise < worst) && !held[i] && (rise < 0 || rise < none && !pulled[i]) {
				worst, at = rise, i
			}
		}
		if at < 0 || last {
			if up := p.pull(penalty, held, last); up > at {
				held[up], pulled[up] = false, true
				continue
			}
		}
		if at >= 0 {
			held[at] = true
			continue
		}
		return p.finish(penalty, held), nil
	}
	return SplineFit{}, ErrSpline
}

// pull returns the held rise that the fit would most like to be positive, or the last of
// those, by more than rounding, or -1 when there is none.
func (p *splineProblem) pull(penalty float64, held []bool, last bool) int {
	p.gradient(penalty)
	var terms float64
	for _, r := range p.readings {
		terms += math.Abs(r.y+p.mean*p.weight) * p.weight
	}
	strongest, at, g := 0.0, -1, 0.0 // a rise lifts all that follow
	for i := p.k - 1; i > 0; i-- {
		if g += p.slope[i]; held[i] && g >= strongest {
			strongest, at = g, i
		}
		if last && strongest > rounding*terms {
			break
		}
	}
	if strongest <= rounding*terms {
		return -1
	}
	return at
}

// finish returns the fit that solveFor has left.
func (p *splineProblem) finish(penalty float64, held []bool) SplineFit {
	f := SplineFit{Params: make([]float64, p.k), Penalty: penalty, Cov: mat.NewSymDense(p.k, nil)}
	f.Params[0] = p.mean + p.start
	free := make([]int, 0, p.n) // parameter of each group
	for i := range p.k {
		if !held[i] {
			free = append(free, i)
		}
		if i > 0 && !held[i] {
			f.Params[i] = p.rise(i)
		}
	}
	f.Spline = p.knots.SplineOf(f.Params)
	f.RSS, _ = p.squares()
	p.covariance(f.Cov, free)
	// The trace of the influence matrix is what the penalty leaves of all.
	f.EDF = float64(p.n)
	for i := 1; i < p.k; i++ {
		switch {
		case i > 1:
			f.EDF -= penalty * (f.Cov.At(i, i) + f.Cov.At(i-1, i-1) - 2*f.Cov.At(i-1, i))
		case !p.sloping:
			f.EDF -= penalty * f.Cov.At(i, i)
		}
	}
	return f
}

// covariance stores the inverse of the normal equations in the level and the free
// rises.
func (p *splineProblem) covariance(cov *mat.SymDense, free []int) {
	heights := p.n - 1
	// A rise moves by this times as much as the level does, the other way.
	follows := func(g int) float64 { return p.pulled[heights-g] - p.pulled[heights-g+1] }
	cov.SetSym(0, 0, 1/p.pivot)
	x := p.work
	for a := 1; a < p.n; a++ {
		clear(x)
		at := heights - a
		if x[at] = 1; a > 1 {
			x[at+1] = -1
		}
		p.m.solve(x, heights, at)
		level := follows(a) / p.pivot
		cov.SetSym(0, free[a], -level)
		for b := 1; b <= a; b++ {
			cov.SetSym(free[b], free[a], x[heights-b]-x[heights-b+1]+follows(b)*level)
		}
	}
}
