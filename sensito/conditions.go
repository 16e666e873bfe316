package sensito

import (
	"cmp"
	"fmt"
	"math"
	"sensito/fit"
	"sensito/sensito/internal/check"
	"slices"
	"sync"
)

// Conditions are those under which film is to be developed, as far as they
// differ from the trial's. Fields that are nil or empty stand for the trial's.
type Conditions struct {
	TemperatureC *float64 // degrees Celsius, when development begins
	EndC         *float64 // when it ends, reached evenly; nil means that it stays
	Agitation    Agitation
	Dilution     string

	// Q10 is the photographer's own temperature coefficient with its standard
	// deviation, before any other; nil when none is given.
	Q10, Q10SD *float64

	Forced bool // outside the limits of temperature too
}

// The temperatures of hand processing, in degrees Celsius. Outside the working
// range (common practice: 65 to 75 degrees F, US Army subcourse SS0509, 1988)
// developers change their character; outside the limits nothing is known of
// them: near 13 hydroquinone hardly acts and 13 is where processing is no longer
// advised (US Army TM 11-2323), towards 30 gelatin softens (NAVEDTRA 14209).
const (
	coolest, warmest          = 18, 24
	leastCelsius, mostCelsius = 13, 30
)

// Changed says whether any condition is given.
func (c Conditions) Changed() bool {
	return c.TemperatureC != nil || c.Agitation != AgitationUnstated || c.Dilution != ""
}

// Process returns how film is developed under the conditions, where usual says
// how without them.
func (c Conditions) Process(usual Process) Process {
	p := Process{Agitation: c.Agitation, Dilution: c.Dilution}
	if c.TemperatureC != nil {
		p.TemperatureC = *c.TemperatureC
	}
	return p.or(usual)
}

// Check returns an error for conditions outside their limits, Unanswerable for
// temperatures beyond those of hand processing that are not forced.
func (c Conditions) Check() error {
	for _, given := range []*float64{c.TemperatureC, c.EndC} {
		if given == nil {
			continue
		}
		t := *given
		if err := checkTemperature(t); err != nil {
			return err
		}
		switch {
		case c.Forced || t >= leastCelsius-1e-9 && t <= mostCelsius+1e-9:
		case t < leastCelsius:
			return &Unanswerable{
				Reason: fmt.Sprintf("%s is below %d °C, where developing agents cease to act and no time can be told", Celsius(t), leastCelsius),
				Hint:   fmt.Sprintf("warm the bath to between %d and %d °C; --force-temperature tells a time all the same", coolest, warmest),
			}
		default:
			return &Unanswerable{
				Reason: fmt.Sprintf("%s is above %d °C, where gelatin softens and development is too fast to be even", Celsius(t), mostCelsius),
				Hint:   fmt.Sprintf("cool the bath to between %d and %d °C; --force-temperature tells a time all the same", coolest, warmest),
			}
		}
	}
	if c.EndC != nil && c.TemperatureC == nil {
		return fmt.Errorf("a temperature at the end goes with one at the start")
	}
	var f check.Faults
	if checkQ10(&f, "", c.Q10, c.Q10SD); len(f) > 0 {
		return f.Err()
	}
	switch c.Agitation {
	case AgitationUnstated, AgitationContinuous, AgitationIntermittent, AgitationNone:
	default:
		return fmt.Errorf("agitation %q is not continuous, intermittent or none", c.Agitation)
	}
	if c.Dilution != "" && !IsDilution(c.Dilution) {
		return fmt.Errorf("dilution %q is not of the form 1+19 (parts concentrate + parts water) or stock", c.Dilution)
	}
	return nil
}

// TimeFactor is how many times longer development takes under another condition.
type TimeFactor struct {
	Condition string // "intermittent agitation", "1+31"
	Was       string // that of the trial
	Factor    Estimate[float64]
	Measured  bool // by strips of the trial
	Source    string

	condition condition
}

func (t TimeFactor) ln() (ln, sd float64) {
	return math.Log(t.Factor.Value), t.Factor.StdErr / t.Factor.Value
}

// Change is how development under other conditions differs from the trial's: its
// time becomes another, at which the film has the contrast, and nearly the
// speed, that the trial says.
type Change struct {
	Family     *Family
	Conditions Conditions

	// Of the temperature: nil and 0 where it is the trial's.
	Coefficient *Coefficient
	SteadyC     float64 // the steady temperature that does the same as a drifting one

	Agitation, Dilution *TimeFactor // nil where they are the trial's

	// Factor is how many times longer development takes in all, at the contrast
	// of the trial's strips.
	Factor Estimate[float64]

	Warnings []Warning
}

// Under returns how development under other conditions differs from the trial's.
// The error is Unanswerable where the trial or nature does not tell.
func (f *Family) Under(c Conditions) (*Change, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	ch := &Change{Family: f, Conditions: c, Warnings: []Warning{}}
	if err := ch.temperature(); err != nil {
		return nil, err
	}
	p := f.Trial.process
	var err error
	if a := c.Agitation; a != AgitationUnstated && a != p.Agitation {
		if ch.Agitation, err = f.agitationFactor(a); err != nil {
			return nil, err
		}
		ch.guessed(ch.Agitation, "agitation_guessed")
	}
	if d := c.Dilution; d != "" && d != p.Dilution {
		if ch.Dilution, err = f.dilutionFactor(d); err != nil {
			return nil, err
		}
		ch.guessed(ch.Dilution, "dilution_guessed")
	}
	ln, sd, dof := ch.known()
	if ch.measured() {
		d, degrees, err := f.atContrast(ch.measuredConditions())
		if err != nil {
			return nil, err
		}
		more, own := ch.moved(d)
		sd, dof = joined(own, degrees, sd, dof)
		ln += more
	}
	value := math.Exp(ln)
	ch.Factor = Estimate[float64]{Value: value, StdErr: value * sd, DoF: dof, Log: true}
	return ch, nil
}

// guessed warns of a factor that no strip measured.
func (ch *Change) guessed(t *TimeFactor, code string) {
	if !t.Measured {
		ch.warn(code, "%s in place of %s: %s; a strip developed so in this trial would measure it", t.Condition, t.Was, t.Source)
	}
}

// temperature settles the part of the temperature.
func (ch *Change) temperature() error {
	f, c := ch.Family, ch.Conditions
	at := f.Trial.process.TemperatureC
	if c.TemperatureC == nil {
		return nil
	}
	if at == 0 {
		return &Unanswerable{
			Reason: "the trial does not say at which temperature its strips were developed",
			Hint:   "state temperature_c in [process]",
		}
	}
	from, to := *c.TemperatureC, *cmp.Or(c.EndC, c.TemperatureC)
	lo, hi := math.Min(from, to), math.Max(from, to)
	if lo == at && hi == at {
		return nil
	}
	k := f.coefficientFor(c)
	ch.Coefficient = &k
	ln, _ := k.lnQ10()
	ch.SteadyC = steadyAt(at, ch.lnTime(ln)/-ln)
	if lo < coolest-1e-9 || hi > warmest+1e-9 {
		ch.warn("temperature_unusual", "%s is outside the %d to %d °C of hand processing, where developers keep their character: the time is less sure than its interval says", outside(lo, hi), coolest, warmest)
	}
	if l := f.Temperature; k.Measured {
		const slack = 1
		coldest, hottest := l.Temperatures[0], l.Temperatures[len(l.Temperatures)-1]
		if lo < coldest-slack || hi > hottest+slack {
			ch.warn("temperature_beyond", "%s is beyond the %g to %g °C of the strips: the coefficient measured there is taken to hold on", outside(lo, hi), coldest, hottest)
		}
	}
	return nil
}

// outside names the temperature that is further from the usual.
func outside(lo, hi float64) string {
	if coolest-lo > hi-warmest {
		return Celsius(lo)
	}
	return Celsius(hi)
}

// steadyAt returns the temperature so many tens of degrees from another.
func steadyAt(refC, tens float64) float64 {
	c := refC + 10*tens
	for range 50 { // contracts: the scale is all but even
		c += 10 * (tens - fit.TensOfDegrees(refC, c))
	}
	return c
}

// lnTime returns by how much the logarithm of the time changes with the
// temperature, for the logarithm of a coefficient. The rate is averaged over the
// temperatures that a linear drift passes in equal times, so that the integrated
// rate is the trial's.
func (ch *Change) lnTime(lnQ10 float64) float64 {
	at, from, to := ch.Family.Trial.process.TemperatureC, *ch.Conditions.TemperatureC, *cmp.Or(ch.Conditions.EndC, ch.Conditions.TemperatureC)
	rate := func(c float64) float64 { return math.Exp(lnQ10 * fit.TensOfDegrees(at, c)) }
	if to == from {
		return -math.Log(rate(from))
	}
	const n = 32 // intervals of Simpson's rule: exact to 1e-8 over 17 degrees
	sum := rate(from) + rate(to)
	for i := 1; i < n; i++ {
		weight := 2.0
		if i%2 == 1 {
			weight = 4
		}
		sum += weight * rate(from+(to-from)*float64(i)/n)
	}
	return -math.Log(sum / (3 * n))
}

// known returns what is known from elsewhere than the strips: how many times
// longer, as a logarithm, with its standard deviation and degrees of freedom.
func (ch *Change) known() (ln, sd, dof float64) {
	dof = math.Inf(1)
	add := func(v, s, d float64) {
		ln += v
		sd, dof = joined(sd, dof, s, d)
	}
	if k := ch.Coefficient; k != nil && !k.Measured {
		q, s := k.lnQ10()
		const by = 1e-4
		add(ch.lnTime(q), s*math.Abs(ch.lnTime(q+by)-ch.lnTime(q-by))/(2*by), k.Q10.DoF)
	}
	for _, t := range []*TimeFactor{ch.Agitation, ch.Dilution} {
		if t != nil && !t.Measured {
			v, s := t.ln()
			add(v, s, t.Factor.DoF)
		}
	}
	return ln, sd, dof
}

// measured says whether strips of the trial measured any part of the change.
func (ch *Change) measured() bool {
	return ch.Coefficient != nil && ch.Coefficient.Measured || len(ch.measuredConditions()) > 0
}

// measuredConditions returns those whose factor strips measured.
func (ch *Change) measuredConditions() []condition {
	var out []condition
	for _, t := range []*TimeFactor{ch.Agitation, ch.Dilution} {
		if t != nil && t.Measured {
			out = append(out, t.condition)
		}
	}
	return out
}

// moved returns what strips measured of the change, as the logarithm of a time
// added to value 0 of d, with its standard deviation; the other values are those
// of parts.
func (ch *Change) moved(d derived) (ln, sd float64) {
	slope := 0.0
	ln = d.values[0]
	if k := ch.Coefficient; k != nil && k.Measured {
		q := ch.Family.lnQ10 + d.values[1]
		const by = 1e-4
		ln += ch.lnTime(q)
		slope = (ch.lnTime(q+by) - ch.lnTime(q-by)) / (2 * by)
	}
	for _, v := range d.values[2:] {
		ln += v
	}
	for _, move := range d.moves {
		total := move[0] + slope*move[1]
		for _, v := range move[2:] {
			total += v
		}
		sd += total * total
	}
	return ln, math.Sqrt(sd)
}

// parts returns what a change is made of that strips measured, as a law g of
// column i has it: the logarithm of a time by the law, the logarithm of the
// temperature coefficient beyond that of the times, and those of the factors of
// the conditions. Rows are of a table that holds the strips of those too.
func (tb *table) parts(rows [][]float64, i int, g growth, lnTime float64, conditions []condition) ([]float64, error) {
	out := []float64{lnTime, g.warp}
	for _, c := range conditions {
		v, err := tb.lnFactor(c, rows, i, g)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// measuredParts remembers parts that have been propagated, by their conditions,
// with the degrees of freedom behind them. Many may ask at once.
type measuredParts struct {
	mu    sync.Mutex
	known map[string]propagatedParts
}

type propagatedParts struct {
	parts derived
	dof   float64
}

// of returns the parts for the conditions, by the function the first time.
func (p *measuredParts) of(conditions []condition, parts func() (derived, float64, error)) (derived, float64, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	key := fmt.Sprint(conditions)
	if known, ok := p.known[key]; ok {
		return known.parts, known.dof, nil
	}
	d, dof, err := parts()
	if err == nil {
		if p.known == nil {
			p.known = map[string]propagatedParts{}
		}
		p.known[key] = propagatedParts{d, dof}
	}
	return d, dof, err
}

// atContrast returns the parts of a change at the contrast that the family
// describes, with a time of 1, and the degrees of freedom behind them.
func (f *Family) atContrast(conditions []condition) (derived, float64, error) {
	if f.NoContrast != nil {
		return derived{}, 0, f.NoContrast
	}
	return f.parts.of(conditions, func() (derived, float64, error) {
		tb := tableOf(f.with(conditions...))
		d, err := tb.propagate(map[int]float64{f.contrast: f.growth.scatter}, func(rows [][]float64) ([]float64, error) {
			g, err := tb.grow(f.contrast, rows, f.growth.model)
			if err != nil {
				return nil, err
			}
			return tb.parts(rows, f.contrast, g, 0, conditions)
		})
		return d, fit.ScatterDoF(f.growth.scatter, f.growth.dof, tb.dof), err
	})
}

// Minutes returns a development time of the trial under the conditions, the error
// of the change added as though it were independent. Nil stays nil.
func (ch *Change) Minutes(e *Estimate[Minutes]) *Estimate[Minutes] {
	if e == nil {
		return nil
	}
	return e.Scaled(math.Log(ch.Factor.Value), ch.Factor.StdErr/ch.Factor.Value, ch.Factor.DoF)
}

func (ch *Change) warn(code, format string, args ...any) {
	ch.Warnings = append(ch.Warnings, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}

// Usual returns the temperatures of hand processing, in degrees Celsius.
func Usual() (low, high float64) { return coolest, warmest }

// Process returns the development under the conditions: the trial's, with what
// the conditions say otherwise, the temperature to a tenth of a degree.
func (ch *Change) Process() Process {
	p := ch.Conditions.Process(Process{})
	p.TemperatureC = math.Round(10*p.TemperatureC) / 10
	return p.or(ch.Family.Trial.process)
}

// Parts returns what of the change is a factor of its own.
func (ch *Change) Parts() []*TimeFactor {
	return slices.DeleteFunc([]*TimeFactor{ch.Agitation, ch.Dilution}, func(t *TimeFactor) bool { return t == nil })
}
