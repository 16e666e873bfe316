package entry

import (
	"cmp"
	"math"
	"slices"

	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// An Expectation is what the reading of a step should be, by what is known
// before it is read.
type Expectation struct {
	// Density is the expected reading in the unit of the trial's readings, never of less
	// than base plus fog; its standard error includes that of the reading itself.
	Density sensito.Estimate[sensito.Density]

	perUnit float64 // by how much the density changes with the reading; 0 for 1
}

// asRead returns the expectation of a density as one of a reading of the trial.
func (e Expectation) asRead(r sensito.Reading) Expectation {
	e.perUnit = r.PerUnit(e.Density.Value)
	e.Density.Value = r.AsRead(e.Density.Value)
	e.Density.StdErr /= sensito.Density(e.perUnit)
	return e
}

// farOff is how many standard deviations from the expectation a reading may lie,
// and farOffLeast how much in density beside them. On films that the prior was
// not made for a good reading is hardly ever questioned, and a slip of 0.30
// nearly always (TestExpectBlind).
const (
	farOff                      = 4.0
	farOffLeast sensito.Density = 0.02
)

// Limit returns how far from the expectation a reading may lie without being
// questioned.
func (e Expectation) Limit() sensito.Density {
	return farOff*e.Density.StdErr + farOffLeast/sensito.Density(cmp.Or(e.perUnit, 1))
}

// FarOff says whether a reading lies so far from the expectation that it should
// be looked at again.
func (e Expectation) FarOff(d sensito.Density) bool {
	return !(math.Abs(float64(d-e.Density.Value)) <= float64(e.Limit()))
}

// useful is the widest standard error of an expectation that tells anything.
const useful sensito.Density = 0.30

// Expect returns the reading to be expected at a step, from 1, of strip s of a
// trial: from the other readings of the strip, from base plus fog, and from the
// other strips of the trial, scaled to the time of this one; where two or more of
// the same exposure and bath are complete, from the shape that they share. number
// is the place in the trial, from 1, of a strip to be left out because s takes its
// place; 0 leaves out none, and then no shape counts. The readings of the step
// itself are not used. ok is false where too little is known to expect anything.
//
// Readings that cannot belong to the same curve as the others of the strip do
// not count.
func Expect(t *sensito.Trial, s sensito.StripSpec, number, step int) (e Expectation, ok bool) {
	return othersOf(t, s, number).expect(t, s, number, step)
}

// Doubts returns the steps about the given one, from 1 and in rising order,
// whose readings on strip s do not belong to the same curve as the others.
// number is as for Expect. It is for programs that use the library; a Keying keeps the others.
func Doubts(t *sensito.Trial, s sensito.StripSpec, number, step int) []int {
	return othersOf(t, s, number).doubts(t, s, number, step)
}

// ExpectAgain returns what another reading of a step should be by the readings
// of it that there are. ok is false where there are none.
func ExpectAgain(t *sensito.Trial, readings []sensito.Density) (e Expectation, ok bool) {
	if len(readings) == 0 {
		return e, false
	}
	one, read := t.ReadingSD(), t.Reading()
	e.Density = sensito.Estimate[sensito.Density]{Value: read.Density(sensito.AverageDensity(readings)), DoF: math.Inf(1),
		StdErr: one * sensito.Density(math.Sqrt(1+1/float64(len(readings))))}
	return e.asRead(read), true
}

// prior is what is known of a characteristic curve before it is read: its slope
// is a smooth random function of log exposure, with values about a mean that
// resemble each other over a length (Rasmussen and Williams 2006, chapter 2).
type prior struct {
	slope, slopeSD float64 // density per log H
	length         float64 // log H
	startSD        float64 // of the density at the faint end
}

// Slopes of films and papers from toe to shoulder (common practice, no source).
var (
	filmPrior  = prior{slope: 0.55, slopeSD: 0.40, length: 0.9, startSD: 0.3}
	paperPrior = prior{slope: 1.2, slopeSD: 1.3, length: 0.5, startSD: 0.3}
)

// What another strip of the trial tells: how much less the curve departs from
// that of the other, scaled, than from a straight line; how well base plus fog is
// known from it; and the factor between the curves, which grows with the time to
// this power, with its standard deviation for equal times and for each unit of
// ln time between (common practice, no source).
const (
	besideAnother  = 0.2
	besideStartSD  = 0.05
	gainPower      = 0.5
	gainSD         = 0.05
	gainSDPerLnMin = 0.3
)

// covariance of the densities at two distances from the faint end. That of the
// slopes is of Matern's form with smoothness 3/2, integrated here over both.
func (p prior) covariance(x, y float64) float64 {
	a := math.Sqrt(3) / p.length
	integral := func(u float64) float64 {
		u = math.Abs(u)
		return 2*u/a - 3/(a*a) + math.Exp(-a*u)*(3/(a*a)+u/a)
	}
	return p.startSD*p.startSD + p.slopeSD*p.slopeSD*(integral(x)+integral(y)-integral(x-y))
}

// course is what the readings of a strip tell of its curve.
type course struct {
	prior
	x      []float64 // of every step, log H from the faint end of the trial
	y, sd  []float64 // of every step; NaN where not read
	start  float64   // the density expected at the faint end
	lowest float64   // base plus fog; -Inf where it was not read
	other  []float64 // net density of another strip, scaled, at every step; nil without one
	one    float64   // standard deviation of one reading

	own     [][]float64 // of every step, by what a strip may differ from other, in standard deviations each
	follows float64     // by how much less the curve departs where it follows the film; 0 where that is not known
}

func courseOf(t *sensito.Trial, s sensito.StripSpec) *course {
	c := &course{prior: filmPrior, start: usualStart, lowest: math.Inf(-1), one: float64(t.ReadingSDBy(s.Calibration))}
	if t.Material() == sensito.PaperMaterial {
		c.prior = paperPrior
	}
	s = t.Reading().InDensity(s)
	// The error of a step of the wedge is one of its reading, by a usual slope.
	c.one = math.Hypot(c.one, c.slope*float64(t.Exposures().WedgeSD()))
	logH := t.Exposures().LogH()
	first := slices.Min(logH)
	more := s.ExposedMore(t.Exposures())
	for i, h := range logH {
		d, n := math.NaN(), 1
		if i < len(s.Density) && !slices.Contains(s.Ignore, i+1) {
			d = float64(s.Density[i])
		}
		if r := s.Repeats[i+1]; len(r) > 0 && !slices.Contains(s.Ignore, i+1) {
			d, n = float64(sensito.AverageDensity(r)), len(r)
		}
		c.x = append(c.x, float64(h.Add(more).Sub(first)))
		c.y, c.sd = append(c.y, d), append(c.sd, c.one/math.Sqrt(float64(n)))
	}
	if len(s.BaseFog) > 0 {
		c.lowest = float64(sensito.AverageDensity(s.BaseFog))
		c.start = c.lowest
	}
	return c
}

// usualStart is base plus fog where it was not read.
const usualStart = 0.2

// beside makes the course lean on the strips of the trial other than number that
// were developed for the next shorter and the next longer time.
func (c *course) beside(t *sensito.Trial, s sensito.StripSpec, number int) {
	var shorter, longer *sensito.Strip
	for _, o := range t.Strips() {
		if o.Number() == number || o.Grade() != s.Grade || !tells(o) {
			continue
		}
		if o.Minutes() <= s.Minutes && (shorter == nil || o.Minutes() > shorter.Minutes()) {
			shorter = o
		}
		if o.Minutes() > s.Minutes && (longer == nil || o.Minutes() < longer.Minutes()) {
			longer = o
		}
	}
	var scaled func(x float64) float64
	var sd float64 // of the factor
	switch {
	case shorter == nil && longer == nil:
		return
	case shorter != nil && longer != nil && shorter.Minutes() > 0:
		a, b := netOf(shorter), netOf(longer)
		share := math.Log(float64(s.Minutes/shorter.Minutes())) / math.Log(float64(longer.Minutes()/shorter.Minutes()))
		scaled = func(x float64) float64 { return (1-share)*a(x) + share*b(x) }
		sd = gainSD
	default:
		near := cmp.Or(shorter, longer)
		net, away := netOf(near), 0.0
		if s.Minutes > 0 && near.Minutes() > 0 {
			away = math.Log(float64(s.Minutes / near.Minutes()))
		}
		gain := math.Exp(gainPower * away)
		scaled = func(x float64) float64 { return gain * net(x) }
		sd = gain * math.Hypot(gainSD, gainSDPerLnMin*away)
	}
	for _, x := range c.x {
		n := scaled(x)
		c.other, c.own = append(c.other, n), append(c.own, []float64{sd * n})
	}
	if math.IsInf(c.lowest, -1) {
		c.start = float64(sensito.AverageDensity(cmp.Or(shorter, longer).BaseFog()))
	}
	c.startSD = besideStartSD
	c.slopeSD *= besideAnother
}

// tells says whether a strip says enough to expect readings of another by it.
func tells(s *sensito.Strip) bool {
	n := 0
	for _, step := range s.Steps() {
		if step.Read() {
			n++
		}
	}
	return n >= curve.MinReadings && len(s.BaseFog()) > 0 && s.NextStep() == 0
}

// netOf returns the net density of a strip against log H from the faint end of
// its trial, smoothed.
func netOf(s *sensito.Strip) func(x float64) float64 {
	c := courseOf(s.Trial(), s.Spec())
	at := c.smooth()
	return func(x float64) float64 { return math.Max(at(x)-c.lowest, 0) }
}

// smooth returns the density of the course at any distance from the faint end, where it
// leans on no other strip.
func (c *course) smooth() func(x float64) float64 {
	var all *known
	if len(c.x) <= nearest {
		all = c.known(0, 0)
	}
	return func(x float64) float64 {
		k := all
		if k == nil {
			k = c.known(x, 0)
		}
		d, _ := k.at(x, 0, nil)
		return d
	}
}

// Smooth returns the densities of a smooth curve through the readings of a strip of a
// trial, at every step and by these readings alone; nil where none is read. Readings that
// cannot belong to the same curve as the others do not count.
func Smooth(t *sensito.Trial, s sensito.StripSpec) []sensito.Density {
	if notRead(s.Density) {
		return nil
	}
	var out []sensito.Density
	c := courseOf(t, s)
	at := c.smooth()
	for _, x := range c.x {
		out = append(out, sensito.Density(at(x)))
	}
	return out
}

// mean returns the density expected before anything is read, at x and where the
// other strip has the net density n.
func (c *course) mean(x, n float64) float64 {
	if c.other == nil {
		return c.start + c.slope*x
	}
	return c.start + n
}

// beyond returns the net density of the other strip at a step, from 0, and by what
// the strip may differ from it; 0 and nil without one.
func (c *course) beyond(step int) (net float64, own []float64) {
	if c.other == nil {
		return 0, nil
	}
	return c.other[step], c.own[step]
}

// expect returns the reading expected at a step, from 1.
func (c *course) expect(step int) sensito.Estimate[sensito.Density] {
	x := c.x[step-1]
	net, own := c.beyond(step - 1)
	d, sd := c.known(x, step).at(x, net, own)
	return sensito.Estimate[sensito.Density]{Value: sensito.Density(math.Max(d, c.lowest)), StdErr: sensito.Density(math.Hypot(sd, c.one)), DoF: math.Inf(1)}
}

// nearest is how many readings about an exposure are looked at.
const nearest = 40

// known is the course as the readings about some exposure tell it.
type known struct {
	c         *course
	steps     []int // that count, from 0
	x         []float64
	own       [][]float64 // as that of the course
	weights   []float64
	belief    float64       // logarithm of the likelihood, less a constant
	inverse   *mat.SymDense // of the covariance of the readings
	doubted   []int         // steps that do not count
	unsettled bool          // one or two readings contradict what was known, or each other
	loose     float64       // error of every reading beside its own; 0 unless two contradict each other
}

// known returns what the readings about x tell, those of a step, from 1, left
// out.
func (c *course) known(x float64, leaveOut int) *known {
	var steps []int // from 0
	for i, y := range c.y {
		if i != leaveOut-1 && !math.IsNaN(y) {
			steps = append(steps, i)
		}
	}
	slices.SortStableFunc(steps, func(a, b int) int { return cmp.Compare(math.Abs(c.x[a]-x), math.Abs(c.x[b]-x)) })
	steps = steps[:min(len(steps), nearest)]
	k := c.by(slices.Clone(steps))
	if c.follows == 0 || k.unsettled {
		return k
	}
	// A strip of another film or bath departs from the shape of the others, and shows it.
	closer := *c
	closer.follows, closer.slopeSD = 0, c.slopeSD*c.follows
	same := &known{c: &closer}
	same.fit(k.steps)
	if same.belief < k.belief {
		return k
	}
	return closer.by(steps)
}

// by returns what readings tell, those of steps, from 0, that belong together.
func (c *course) by(steps []int) *known {
	k := &known{c: c}
	for {
		worst, by := k.fit(steps), 0.0
		at := -1
		for i, z := range worst {
			if math.Abs(z) > by {
				at, by = i, math.Abs(z)
			}
		}
		if by <= farOff || len(k.doubted) >= len(steps) {
			return k
		}
		if len(steps) < 3 { // of two readings none tells which is wrong
			k.unsettled = true
			k.loose = math.Abs(c.y[steps[0]] - c.y[steps[len(steps)-1]])
			k.fit(steps)
			return k
		}
		k.doubted = append(k.doubted, steps[at]+1)
		steps = slices.Delete(steps, at, at+1)
	}
}

// fit makes k rest on these steps, from 0. It returns how far each reading lies
// from what the others lead to expect, less what is always allowed, in standard
// deviations.
func (k *known) fit(steps []int) []float64 {
	c := k.c
	k.steps, k.x, k.own, k.weights, k.belief = steps, nil, nil, nil, 0
	if len(steps) == 0 {
		return nil
	}
	n := len(steps)
	residual := mat.NewVecDense(n, nil)
	for i, s := range steps {
		net, own := c.beyond(s)
		k.x, k.own = append(k.x, c.x[s]), append(k.own, own)
		residual.SetVec(i, c.y[s]-c.mean(c.x[s], net))
	}
	cov := mat.NewSymDense(n, nil)
	for i, s := range steps {
		for j := range i + 1 {
			cov.SetSym(i, j, c.covariance(k.x[i], k.x[j])+vec.Dot(k.own[i], k.own[j]))
		}
		cov.SetSym(i, i, cov.At(i, i)+c.sd[s]*c.sd[s]+k.loose*k.loose)
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		panic("sensito: covariance of readings is not positive definite")
	}
	k.inverse = &mat.SymDense{}
	if err := chol.InverseTo(k.inverse); err != nil {
		panic(err) // far from singular, thanks to the error of the readings
	}
	var w mat.VecDense
	w.MulVec(k.inverse, residual)
	k.weights = w.RawVector().Data
	k.belief = -(mat.Dot(residual, &w) + chol.LogDet()) / 2
	away := make([]float64, n)
	for i := range away { // leave one out: Rasmussen and Williams 2006, (5.12)
		sd := 1 / math.Sqrt(k.inverse.At(i, i))
		off := math.Abs(k.weights[i]) * sd * sd
		away[i] = math.Max(off-float64(farOffLeast), 0) / sd
	}
	return away
}

// at returns the density of the curve at x, where the other strip has the net
// density n and this one may differ by own, and its standard deviation.
func (k *known) at(x, n float64, own []float64) (density, sd float64) {
	c := k.c
	density, variance := c.mean(x, n), c.covariance(x, x)+vec.Dot(own, own)
	if len(k.x) == 0 {
		return density, math.Sqrt(variance)
	}
	to := mat.NewVecDense(len(k.x), nil)
	for i := range k.x {
		to.SetVec(i, c.covariance(x, k.x[i])+vec.Dot(own, k.own[i]))
		density += to.AtVec(i) * k.weights[i]
	}
	return density, math.Sqrt(math.Max(variance-mat.Inner(to, k.inverse, to), 0))
}
