package joint

import (
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"sensito/fit"
)

// Strip is the readings of one strip of a film, with what a first curve through
// them alone says.
type Strip struct {
	X, Y []float64 // log exposures, rising, and densities
	Base []float64 // readings of the base

	Level float64 // of the base
	Slope float64 // the steepest
	Foot  float64 // where the tangent there leaves the base

	// Otherwise says that the strip was exposed or developed in another way than the
	// rest: it has the shape of the others, but place and base of its own.
	Otherwise bool

	// Sigma is the standard deviation of a reading of the strip where it differs from that
	// of the problem; 0 for that.
	Sigma float64

	// Alike is what the readings have of errors that are the same for all strips, those of
	// the base counted after the steps; nil for nothing.
	Alike [][]Alike
}

// Alike is what a reading has of an error that many have: by a standard deviation of it
// the reading is of an exposure so much greater than stated, and so much denser.
type Alike struct {
	Error     int // from 0, through all kinds
	Along, Up float64
}

// Problem is the strips of one film, two or more.
type Problem struct {
	Strips []Strip
	Sigma  float64 // standard deviation of a reading, as stated
	Worth  float64 // readings whose scatter the stated one counts as
	Known  bool    // Sigma is not judged by the scatter at all
	Alike  []int   // how many errors of each kind readings of all strips have alike
}

// Prior knowledge, as mean and standard deviation where it is a pair: see the
// documentation of the package for reasons.
const (
	anywhere = 2 // standard deviation of what the readings decide

	baseTurn, baseBend = 0.15, 0.05  // of the base along the measure of development
	drift, driftSD     = -0.06, 0.12 // of the foot
	ownPlace           = 0.015       // of one strip beside that

	otherBase, otherPlace = 0.05, 0.5 // of one that was exposed or developed otherwise

	perGrowth = 1.5 // the measure of development, by the logarithm of the slope
	bent      = 0.6 // how its square counts

	knots      = 1.4  // places of a departure, to its length
	misfit     = 0.17 // the length of the shared departure, by the span of the curve
	evolving   = 1.6  // that of one that grows with development, by the shared one
	leastLen   = 0.08
	mostLen    = 0.35
	stepAtMost = 0.04 // of the grid
)

// The parameters of the shape, after those of the base and the drift.
const (
	toe = iota
	lnToeWidth
	lnPower
	shoulder
	lnShoulderWidth
	shapes
)

const owns = 3 // parameters of a strip: ln of its slope, its place, its base

// design is what is fixed of a fit: the readings, the grid, the priors.
type design struct {
	strips []Strip
	l      []float64   // the measure of development of each strip
	with   [][]float64 // how much of each departure that grows each strip has
	weight []float64   // of the readings of each strip, as a factor of them
	sigma0 float64
	worth  float64
	known  bool

	ownBase float64 // standard deviation of that of one strip, one of ownBases

	first, step float64
	grid        int
	length      float64   // of the shared departure
	d, e        []float64 // bases of the departures, row by row of the grid
	nd, ne, nt  int       // places of each, and how many grow

	nb, iDrift, iShape, iD, iE, iA, ns int // where the shared parameters begin
	alike                              []int

	mean, sd []float64 // of the shared parameters but the departures
	growth   []float64 // where the slopes begin
}

func newDesign(p Problem) *design {
	m := &design{alike: p.Alike, strips: p.Strips, sigma0: p.Sigma, worth: p.Worth, known: p.Known, ownBase: ownBases[0]}
	n := len(p.Strips)
	lo, hi, gap := math.Inf(1), math.Inf(-1), math.Inf(1)
	for _, s := range p.Strips {
		last := len(s.X) - 1
		lo, hi = math.Min(lo, s.X[0]), math.Max(hi, s.X[last])
		gap = math.Min(gap, (s.X[last]-s.X[0])/float64(last))
		m.growth = append(m.growth, math.Log(s.Slope))
		weight := 1.0
		if s.Sigma > 0 {
			weight = p.Sigma / s.Sigma
		}
		m.weight = append(m.weight, weight)
	}
	mean := stat.Mean(m.growth, nil)
	for _, g := range m.growth {
		m.l = append(m.l, perGrowth*(g-mean))
	}
	span, width, end, sharp := m.outline(gap)

	length := math.Min(math.Max(misfit*span, math.Max(leastLen, gap/2)), mostLen)
	m.length = length
	m.step = math.Min(stepAtMost, length/5)
	foot := math.Min(math.Max(m.foot(), lo-span), hi) // which readings of no film may put anywhere
	low, high := foot-1.2*span, foot+2.4*span
	const below, above = 1, 0.8 // of the readings, on the grid
	m.first = lo - below
	m.grid = int(math.Ceil((hi+above-m.first)/m.step)) + 1
	low, high = math.Max(lo-0.2, low), math.Max(math.Min(hi+0.2, high), lo)
	m.d, m.nd = m.departures(low, high, length, matern)
	m.e, m.ne = m.departures(low, high, evolving*length, squaredExponential)
	m.nt = 1
	if n > 3 {
		m.nt = 2
	}
	squares := 0.0
	for _, l := range m.l {
		squares += l * l / float64(n)
	}
	half := math.Max((slices.Max(m.l)-slices.Min(m.l))/2, 0.1)
	for _, l := range m.l {
		m.with = append(m.with, []float64{l, bent * (l*l - squares) / half}[:m.nt])
	}

	m.nb = min(n, 3)
	m.iDrift = m.nb
	m.iShape = m.iDrift + 1
	m.iD = m.iShape + shapes
	m.iE = m.iD + m.nd
	m.iA = m.iE + m.ne*m.nt
	m.ns = m.iA
	for _, n := range p.Alike {
		m.ns += n
	}
	var levels []float64
	for _, s := range p.Strips {
		levels = append(levels, s.Level)
	}
	m.mean, m.sd = make([]float64, m.iD), make([]float64, m.iD)
	set := func(i int, mean, sd float64) { m.mean[i], m.sd[i] = mean, sd }
	set(0, stat.Mean(levels, nil), 1)
	for i, sd := range []float64{baseTurn, baseBend}[:m.nb-1] {
		set(1+i, 0, sd)
	}
	set(m.iDrift, drift, driftSD)
	place, placeSD := hi+0.8, 0.3*span+0.1
	if sharp {
		place = end
	}
	set(m.iShape+toe, foot, anywhere)
	set(m.iShape+lnToeWidth, math.Log(width), 0.7)
	set(m.iShape+lnPower, 0, 0.5)
	set(m.iShape+shoulder, place, placeSD)
	set(m.iShape+lnShoulderWidth, math.Log(0.8*width+0.1*span), 0.6)
	return m
}

// foot returns the median foot of the strips.
func (m *design) foot() float64 {
	var feet []float64
	for _, s := range m.strips {
		if !s.Otherwise {
			feet = append(feet, s.Foot)
		}
	}
	return fit.Median(feet)
}

// byGrowth returns the numbers of the strips by rising growth.
func (m *design) byGrowth() []int {
	order := make([]int, len(m.strips))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		if m.growth[a] < m.growth[b] {
			return -1
		}
		return 1
	})
	return order
}

// Of many strips some tell nearly what all do. TestManyStrips holds that the fit is that of
// all.
const many, some = 40, 20

// some returns the numbers of strips by rising growth: of many, so many evenly spread.
func (m *design) some() []int {
	order := m.byGrowth()
	if len(order) < many {
		return order
	}
	of := make([]int, some)
	for k := range of {
		of[k] = order[k*(len(order)-1)/(some-1)]
	}
	return of
}

// part returns the design with only some of the strips, whose parameters mean the same.
func (m *design) part(of []int) *design {
	out := *m
	out.strips, out.l, out.with, out.growth, out.weight = nil, nil, nil, nil, nil
	for _, j := range of {
		out.strips, out.l = append(out.strips, m.strips[j]), append(out.l, m.l[j])
		out.with, out.growth = append(out.with, m.with[j]), append(out.growth, m.growth[j])
		out.weight = append(out.weight, m.weight[j])
	}
	return &out
}

// outline returns how long the curve of the strip of middle growth rises, how wide
// its toe is likely to be, and where it ends in a shoulder, if that is seen.
func (m *design) outline(gap float64) (span, width, end float64, shouldered bool) {
	order := m.byGrowth()
	s := m.strips[order[len(order)/2]]
	top := slices.Max(s.Y) - s.Level
	place := func(share float64) float64 {
		for i, y := range s.Y {
			if y-s.Level >= share*top {
				return s.X[i]
			}
		}
		return s.X[len(s.X)-1]
	}
	span = math.Max(place(0.92)-place(0.08), 0.3)
	width = math.Min(math.Max(0.08*span, 0.3*gap), 0.25)
	var ends []float64 // slopes there, by the steepest
	for _, s := range m.strips {
		last := len(s.X) - 1
		k := last
		for k > 0 && s.X[last]-s.X[k] < 0.2*span {
			k--
		}
		ends = append(ends, (s.Y[last]-s.Y[k])/(s.X[last]-s.X[k])/s.Slope)
	}
	return span, width, m.foot() + top/s.Slope, fit.Median(ends) < 0.7
}

func matern(d float64) float64 {
	d *= math.Sqrt(5)
	return (1 + d + d*d/3) * math.Exp(-d)
}

func squaredExponential(d float64) float64 { return math.Exp(-d * d / 2) }

// departures returns smooth functions on the grid, row by row, whose sum with
// independent standard normal weights is a departure of standard deviation 1 and
// of the given length between two places; it dies out beyond. They are the
// covariance with evenly spaced places times the inverse of the Cholesky factor
// of that among them.
func (m *design) departures(from, to, length float64, covariance func(distance float64) float64) (basis []float64, n int) {
	gap := length / knots
	n = int(math.Ceil((to-from)/gap)) + 1
	among := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			among.SetSym(i, j, covariance(float64(j-i)*gap/length))
		}
		among.SetSym(i, i, 1+1e-4)
	}
	var chol mat.Cholesky
	chol.Factorize(among) // positive definite by construction
	var lower mat.TriDense
	chol.LTo(&lower)
	basis = make([]float64, m.grid*n)
	for g := range m.grid {
		row := basis[g*n : (g+1)*n]
		x := m.first + float64(g)*m.step
		for i := range row {
			row[i] = covariance(math.Abs(x-from-float64(i)*gap) / length)
		}
		for i := range row { // forward substitution
			for j := range i {
				row[i] -= lower.At(i, j) * row[j]
			}
			row[i] /= lower.At(i, i)
		}
	}
	return basis, n
}

// precision returns the prior precision of the shared parameters for departures
// of the given standard deviations.
func (m *design) precision(shared, growing float64) []float64 {
	q := make([]float64, m.ns)
	for i, sd := range m.sd {
		q[i] = 1 / (sd * sd)
	}
	for i := m.iD; i < m.iE; i++ {
		q[i] = 1 / (shared * shared)
	}
	for i := m.iE; i < m.iA; i++ {
		q[i] = 1 / (growing * growing)
	}
	for i := m.iA; i < m.ns; i++ {
		q[i] = 1
	}
	return q
}

// ownPrecision returns the prior precision of the parameters of a strip.
func (m *design) ownPrecision(j int) [owns]float64 {
	place, base := ownPlace, m.ownBase
	if m.strips[j].Otherwise {
		place, base = otherPlace, otherBase
	}
	return [owns]float64{1 / float64(anywhere*anywhere), 1 / (place * place), 1 / (base * base)}
}

// meanOf returns the prior mean of a shared parameter.
func (m *design) meanOf(i int) float64 {
	if i < len(m.mean) {
		return m.mean[i]
	}
	return 0
}

// params are the parameters of a fit: those of all strips, and those of each
// beside its start.
type params struct {
	shared []float64
	own    [][owns]float64 // ln slope less that of the start, place, base
}

func (m *design) start() params {
	p := params{shared: make([]float64, m.ns), own: make([][owns]float64, len(m.strips))}
	copy(p.shared, m.mean)
	for j, s := range m.strips {
		if s.Otherwise {
			p.own[j][1] = s.Foot - m.foot()
		}
	}
	return p
}

func (p params) moved(by params, share float64) params {
	out := params{shared: slices.Clone(p.shared), own: slices.Clone(p.own)}
	vec.AddScaled(out.shared, share, by.shared)
	for j := range out.own {
		for k := range owns {
			out.own[j][k] += share * by.own[j][k]
		}
	}
	return out
}
