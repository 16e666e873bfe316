package fit

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// KineticsFit is first-order growth fitted to values at several times.
// Params of the solution are Slope, Rate and Induction, in which a family
// close to a straight line is well conditioned; Cov belongs to them.
type KineticsFit struct {
	Kinetics
	Solution
	Noise Noise // NoiseGiven when standard deviations were given

	data growthData
}

// growthData is what a growth is fitted to, with the range of its parameters.
type growthData struct {
	t, g, weight     []float64
	earliest, latest float64 // Induction
	fastest          float64 // Rate

	before Beforehand
	near   *Kinetics
}

// Beforehand is what is known of a growth before it is measured; a standard deviation
// of 0 stands for nothing known.
type Beforehand struct {
	Induction, InductionSD float64
	LnRate, LnRateSD       float64 // of the logarithm of Rate

	EitherSide bool // of time 0 may Induction lie: it stands for what another law would have
}

// count returns of how many parameters something is known.
func (b Beforehand) count() int {
	n := 0
	for _, sd := range []float64{b.InductionSD, b.LnRateSD} {
		if sd > 0 {
			n++
		}
	}
	return n
}

// rows returns how many residuals there are, those of what is known beforehand behind
// those of the values.
func (d *growthData) rows() int { return len(d.t) + d.before.count() }

// known adds the residuals of what is known beforehand: of Induction, which is parameter
// j of n, and of the rate, which is rateBy times parameter k.
func (d *growthData) known(p, r, jac []float64, n, j, k int, rateBy float64) {
	i, b := len(d.t), d.before
	clear(jac[n*i : n*d.rows()])
	if b.InductionSD > 0 {
		r[i] = (p[j] - b.Induction) / b.InductionSD
		jac[n*i+j] = 1 / b.InductionSD
		i++
	}
	if b.LnRateSD > 0 {
		r[i] = (math.Log(rateBy*p[k]) - b.LnRate) / b.LnRateSD
		jac[n*i+k] = 1 / (b.LnRateSD * p[k])
	}
}

// FitKinetics fits first-order growth to the values g at times t by least
// squares with weights 1/sd^2; a nil sd means equal weights of unknown size.
// Slope and Rate are not negative; Induction is between zero and the first
// time above zero, or zero when induction is false. A Rate of zero is a straight line.
//
// The error names times, values or standard deviations that are not finite or
// not positive, fewer distinct times than parameters, and is ErrRateUnknown
// when the values do not grow or have reached their limit by the first time.
// It panics when lengths differ.
func FitKinetics(t, g, sd []float64, induction bool) (KineticsFit, error) {
	if !induction {
		return fitKinetics(t, g, sd, growthData{})
	}
	return fitKinetics(t, g, sd, growthData{latest: firstAboveZero(t)})
}

// FitKineticsBegun is FitKinetics with what is known beforehand of the parameters, of
// Induction at least: each counts as one more value, and sd may not be nil. Induction may
// be below zero where before says so.
// The search begins at near, where that is not nil.
func FitKineticsBegun(t, g, sd []float64, before Beforehand, near *Kinetics) (KineticsFit, error) {
	if sd == nil || !(before.InductionSD > 0) {
		panic("fit: a prior needs standard deviations beside it")
	}
	d := growthData{latest: firstAboveZero(t), before: before, near: near}
	if before.EitherSide {
		d.earliest = math.Inf(-1)
	}
	return fitKinetics(t, g, sd, d)
}

// firstAboveZero returns the smallest positive time, or +Inf.
func firstAboveZero(t []float64) float64 {
	first := math.Inf(1)
	for _, v := range t {
		if v > 0 && v < first {
			first = v
		}
	}
	return first
}

// fitKinetics is FitKinetics with what d says of Induction.
func fitKinetics(t, g, sd []float64, d growthData) (KineticsFit, error) {
	if len(g) != len(t) || sd != nil && len(sd) != len(t) {
		panic("fit: lengths of times, values and standard deviations differ")
	}
	need := 2 - min(1, d.before.count()/2)
	if d.latest > d.earliest && d.before.count() == 0 {
		need = 3
	}
	if err := checkGrowth(t, g, sd, need); err != nil {
		return KineticsFit{}, err
	}
	first := firstAboveZero(t)
	d.t, d.g, d.weight = slices.Clone(t), slices.Clone(g), make([]float64, len(t))
	d.fastest = 20 / first // short of the limit by 2e-9 of it at the first time
	for i := range t {
		d.weight[i] = 1
		if sd != nil {
			d.weight[i] = 1 / sd[i]
		}
	}
	s := Minimize(d.problem(), d.start(), Options{})
	f := KineticsFit{Kinetics: Growing(s.Params), Solution: s, Noise: NoiseFromResiduals, data: d}
	if sd != nil {
		f.Noise = NoiseGiven
	}
	switch {
	case f.Slope <= 0:
		return f, fmt.Errorf("values do not grow: %w", ErrRateUnknown)
	case f.Rate >= d.fastest:
		return f, fmt.Errorf("values do not grow after time %g: %w", first, ErrRateUnknown)
	}
	return f, nil
}

// problem is the fit in Slope, Rate and Induction.
func (d *growthData) problem() Problem {
	return Problem{
		M: d.rows(), N: 3,
		Lower: []float64{0, 0, d.earliest},
		Upper: []float64{math.Inf(1), d.fastest, d.latest},
		Eval: func(p, r, jac []float64) {
			for i, t := range d.t {
				v, dv := growth(p[0], p[1], t-p[2])
				r[i] = (v - d.g[i]) * d.weight[i]
				for j := range dv {
					jac[3*i+j] = dv[j] * d.weight[i]
				}
			}
			d.known(p, r, jac, 3, 2, 1, 1)
		},
	}
}

func (d *growthData) longest() float64 { return slices.Max(d.t) }

func checkGrowth(t, g, sd []float64, need int) error {
	var distinct []float64
	for i := range t {
		switch {
		case !(t[i] >= 0) || math.IsInf(t[i], 0):
			return fmt.Errorf("time %d: %g is negative or not finite", i+1, t[i])
		case math.IsNaN(g[i]) || math.IsInf(g[i], 0):
			return fmt.Errorf("value %d: %g is not finite", i+1, g[i])
		case sd != nil && (!(sd[i] > 0) || math.IsInf(sd[i], 0)):
			return fmt.Errorf("standard deviation %d: %g is not positive and finite", i+1, sd[i])
		}
		if t[i] > 0 && !slices.Contains(distinct, t[i]) {
			distinct = append(distinct, t[i])
		}
	}
	if len(distinct) < need {
		return fmt.Errorf("%d distinct times above zero, %d needed", len(distinct), need)
	}
	return nil
}

// growth returns s (1 - exp(-k u)) / k and its derivatives with respect to s,
// k and the induction time, where u is the time since; s u where k is 0, and
// zero where u is negative.
func growth(s, k, u float64) (v float64, d [3]float64) {
	if u < 0 {
		return 0, d
	}
	x := k * u
	e := math.Exp(-x)
	if math.Abs(x) < 1e-3 { // the closed form of d[1] cancels
		f := u * (1 - x/2*(1-x/3*(1-x/4*(1-x/5))))
		d = [3]float64{f, -s * u * u * (1.0/2 - x*(1.0/3-x*(1.0/8-x/30))), -s * e}
		return s * f, d
	}
	f := -math.Expm1(-x) / k
	return s * f, [3]float64{f, s * (u*e - f) / k, -s * e}
}

// start searches a grid of rates and induction times, with the best
// slope for each, so that the fit starts in the right valley.
func (d *growthData) start() []float64 {
	if d.near != nil {
		return []float64{d.near.Slope, d.near.Rate, d.near.Induction}
	}
	earliest, latest := d.earliest, d.latest
	start := []float64{1, 0, math.Max(earliest, 0)}
	least := math.Inf(1)
	longest := d.longest()
	inductions := []float64{math.Max(earliest, 0)}
	switch {
	case d.before.InductionSD > 0:
		inductions = append(inductions, math.Min(math.Max(d.before.Induction, earliest), 0.7*latest))
	case latest > earliest:
		inductions = append(inductions, 0.3*latest, 0.7*latest)
	}
	for _, t0 := range inductions {
		for k := 0.01 / longest; k < 100/longest; k *= 2 {
			var ff, fg, gg float64
			for i, t := range d.t {
				f := -math.Expm1(-k*math.Max(t-t0, 0)) / k
				f, g := f*d.weight[i], d.g[i]*d.weight[i]
				ff, fg, gg = ff+f*f, fg+f*g, gg+g*g
			}
			if b := d.before; b.InductionSD > 0 {
				gg += math.Pow((t0-b.Induction)/b.InductionSD, 2)
			}
			if b := d.before; b.LnRateSD > 0 {
				gg += math.Pow((math.Log(k)-b.LnRate)/b.LnRateSD, 2)
			}
			if s := math.Max(fg/ff, 0); gg-s*fg < least {
				least = gg - s*fg
				start = []float64{s, k, t0}
			}
		}
	}
	return start
}

// Influence returns how Slope, Rate and Induction move with each value, and with each
// that is known beforehand, in its standard deviations; nil where unknown.
func (f KineticsFit) Influence() (byValue, byBefore [][]float64) {
	return f.data.influence(f.data.problem(), f.Solution)
}

// influence is Influence for a problem with such data, which may have more parameters.
func (d *growthData) influence(p Problem, s Solution) (byValue, byBefore [][]float64) {
	by := p.Influence(s)
	if by == nil {
		return nil, nil
	}
	for i, w := range d.weight {
		for j := range by[i] {
			by[i][j] *= w
		}
	}
	return by[:len(d.t)], by[len(d.t):]
}

// AtSD returns the standard deviation of the value at time t, by the origin in
// Noise; NaN where unknown, zero before Induction.
func (f KineticsFit) AtSD(t float64) float64 {
	c := f.Covariance(f.Noise)
	if c == nil {
		return math.NaN()
	}
	if t <= f.Induction {
		return 0
	}
	_, d := growth(f.Slope, f.Rate, t-f.Induction)
	v := mat.NewVecDense(3, d[:])
	return math.Sqrt(mat.Inner(v, c, v))
}

// Holding returns the fit with the errors that it has where Induction is held, or is not,
// whether or not the search has come to a bound of it. Held, it counts as known; what is
// compared with the errors of another fit must hold it as that does.
func (f KineticsFit) Holding(induction bool) KineticsFit {
	if f.Cov == nil || f.AtBound[2] == induction {
		return f
	}
	p := f.data.problem()
	r, jac := make([]float64, p.M), mat.NewDense(p.M, p.N, nil)
	p.Eval(f.Params, r, jac.RawMatrix().Data)
	held := slices.Clone(f.AtBound)
	held[2] = induction
	var square, cov mat.SymDense
	square.SymOuterK(1, jac.T())
	hold := func(m *mat.SymDense, variance float64) {
		for k, h := range held {
			for l := range held {
				if h {
					m.SetSym(k, l, 0)
				}
			}
			if h {
				m.SetSym(k, k, variance)
			}
		}
	}
	hold(&square, 1)
	var chol mat.Cholesky
	if !chol.Factorize(&square) || chol.InverseTo(&cov) != nil {
		return f
	}
	hold(&cov, 0)
	f.AtBound, f.Cov = held, &cov
	return f
}

// TimeSD returns the standard deviation of Time(g): that of the value over the
// slope of growth there. It is NaN where there is no such time or the
// covariance is unknown.
func (f KineticsFit) TimeSD(g float64) float64 {
	t, err := f.Time(g)
	if err != nil || t <= f.Induction {
		return math.NaN()
	}
	return f.AtSD(t) * math.Exp(f.Rate*(t-f.Induction)) / f.Slope
}
