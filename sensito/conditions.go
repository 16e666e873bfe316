package sensito

import (
	"cmp"
	"fmt"
	"math"
	"sync"

	"sensito/fit"
	"sensito/sensito/internal/check"
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
	coolest, warmest           = 18, 24
	leastCelsius, mostCelsius  = 13, 30
	coldestForced, hottestEver = 1, 60
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
	if c.Dilution != "" && !dilutionForm().MatchString(c.Dilution) {
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
		d, degrees, err := f.atContrast(ch.conditions())
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

// joined adds two independent errors.
func joined(a, dofA, b, dofB float64) (sd, dof float64) {
	return math.Hypot(a, b), joinedDoF(a, dofA, b, dofB)
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
	return ch.Coefficient != nil && ch.Coefficient.Measured || len(ch.conditions()) > 0
}

// conditions returns those whose factor strips measured.
func (ch *Change) conditions() []condition {
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
	derived
	dof float64
}

// of returns the parts for the conditions, by the function the first time.
func (p *measuredParts) of(conditions []condition, parts func() (propagatedParts, error)) (propagatedParts, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	key := fmt.Sprint(conditions)
	if known, ok := p.known[key]; ok {
		return known, nil
	}
	d, err := parts()
	if err == nil {
		if p.known == nil {
			p.known = map[string]propagatedParts{}
		}
		p.known[key] = d
	}
	return d, err
}

// atContrast returns the parts of a change at the contrast that the family
// describes, with a time of 1, and the degrees of freedom behind them.
func (f *Family) atContrast(conditions []condition) (derived, float64, error) {
	if f.NoContrast != nil {
		return derived{}, 0, f.NoContrast
	}
	d, err := f.parts.of(conditions, func() (propagatedParts, error) {
		tb := tableOf(f.with(conditions...))
		d, err := tb.propagate(map[int]float64{f.contrast: f.growth.scatter}, func(rows [][]float64) ([]float64, error) {
			g, err := tb.grow(f.contrast, rows, f.growth.model)
			if err != nil {
				return nil, err
			}
			return tb.parts(rows, f.contrast, g, 0, conditions)
		})
		return propagatedParts{d, fit.ScatterDoF(f.growth.scatter, f.growth.dof, tb.dof)}, err
	})
	return d.derived, d.dof, err
}

// atAim is Family.atContrast for the density rise over the scene, with the time
// of the plan.
func (p *Plan) atAim(conditions []condition) (derived, error) {
	d, err := p.parts.of(conditions, func() (propagatedParts, error) {
		tb := p.tableOf(p.Family.with(conditions...))
		fog := p.Family.fog.degree()
		inflate := map[int]float64{sceneRise: p.growth.scatter, colSpeedPoint: p.Family.speed.scatter}
		d, err := tb.propagate(inflate, func(rows [][]float64) ([]float64, error) {
			g, err := tb.grow(sceneRise, rows, p.growth.model)
			if err != nil {
				return nil, err
			}
			law := tb.trend(colFog, rows, math.Log, fog)
			t, _, err := p.Scene.timeFor(g.Time, func(m float64) float64 { return law.at(math.Log(m)) }, p.aim)
			if err != nil {
				return nil, err
			}
			return tb.parts(rows, sceneRise, g, math.Log(t), conditions)
		})
		return propagatedParts{d, tb.dof}, err
	})
	return d.derived, err
}

// Minutes returns a development time of the trial under the conditions, the error
// of the change added as though it were independent. Nil stays nil.
func (ch *Change) Minutes(e *Estimate[Minutes]) *Estimate[Minutes] {
	if e == nil {
		return nil
	}
	return corrected(e, math.Log(ch.Factor.Value), ch.Factor.StdErr/ch.Factor.Value, ch.Factor.DoF)
}

// Plan returns a plan with the time under the conditions. What strips measured
// of the change is taken together with the law that gives the time, since both
// rest on the same strips. What else the plan holds is as in the trial: the film
// is brought to the same contrast. Extrapolated tells of the time of the trial.
func (ch *Change) Plan(p *Plan) (*Plan, error) {
	lnKnown, sdKnown, dofKnown := ch.known()
	ln, sd := math.Log(p.base.minutes), p.base.total
	if ch.measured() {
		d, err := p.atAim(ch.conditions())
		if err != nil {
			return nil, err
		}
		ln, sd = ch.moved(d)
	}
	out := *p
	out.under = ch
	out.Minutes = p.base.estimate(math.Exp(ln+lnKnown), sd, sdKnown, dofKnown)
	out.know(ch.time())
	out.Warnings = append(ch.ofTrial(out.stillShort(p.Warnings)), ch.Warnings...)
	return &out, nil
}

// time returns how well the time under the conditions is known by the factor.
func (ch *Change) time() todaysTime {
	return todaysTime{ch.Factor.StdErr / ch.Factor.Value, ch.Factor.DoF}
}

// ofTrial marks the warnings that name times of the trial.
func (ch *Change) ofTrial(all []Warning) []Warning {
	for i, w := range all {
		if w.Code == "extrapolated" || w.Code == "other_paper" {
			all[i].Message = "in times of the trial: " + w.Message
		}
	}
	return all
}

// Card returns a card with the times under the conditions. A row whose time
// cannot be had says why.
func (ch *Change) Card(c *Card) (*Card, error) {
	out := *c
	out.Under = ch
	out.Rows = append([]CardRow(nil), c.Rows...)
	for i := range out.Rows {
		row := &out.Rows[i]
		if row.Plan == nil {
			continue
		}
		p, err := ch.Plan(row.Plan)
		if err != nil {
			return nil, err
		}
		row.Plan = p
	}
	return &out, nil
}

// Roll returns a roll with the time under the conditions.
func (ch *Change) Roll(r *Roll) *Roll {
	out := *r
	out.Minutes = *ch.Minutes(&r.Minutes)
	out.Frames = r.givenTime(ch.time())
	out.Warnings = append(ch.ofTrial(stillShort(r.Warnings, out.Minutes.Value)), ch.Warnings...)
	return &out
}

func (ch *Change) warn(code, format string, args ...any) {
	ch.Warnings = append(ch.Warnings, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}
