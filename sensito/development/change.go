package development

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"sensito/fit"
	"sensito/sensito"
)

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
	Factor sensito.Estimate[float64]

	Warnings sensito.Warnings
}

// Under returns how development under other conditions differs from the trial's.
// The error is Unanswerable where the trial or nature does not tell.
func (f *Family) Under(c Conditions) (*Change, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	ch := &Change{Family: f, Conditions: c, Warnings: sensito.Warnings{}}
	if err := ch.temperature(); err != nil {
		return nil, err
	}
	p := f.Trial.Process()
	var err error
	if a := c.Agitation; a != sensito.AgitationUnstated && a != p.Agitation {
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
	ln, sd, dof := ch.Known()
	if ch.Measured() {
		d, degrees, err := f.atContrast(ch.MeasuredConditions())
		if err != nil {
			return nil, err
		}
		more, own := ch.Moved(d)
		sd, dof = fit.Joined(own, degrees, sd, dof)
		ln += more
	}
	value := math.Exp(ln)
	ch.Factor = sensito.Estimate[float64]{Value: value, StdErr: value * sd, DoF: dof, Log: true}
	return ch, nil
}

// guessed warns of a factor that no strip measured.
func (ch *Change) guessed(t *TimeFactor, code string) {
	if !t.Measured {
		ch.Warnings.Add(code, t.Condition, t.Was, t.Source)
	}
}

// temperature settles the part of the temperature.
func (ch *Change) temperature() error {
	f, c := ch.Family, ch.Conditions
	at := f.Trial.Process().TemperatureC
	if c.TemperatureC == nil {
		return nil
	}
	if at == 0 {
		return &sensito.Unanswerable{
			Reason: "the trial does not say at which temperature its strips were developed",
			Hint:   "state temperature_c in [process]",
		}
	}
	from, to := *c.TemperatureC, *cmp.Or(c.EndC, c.TemperatureC)
	lo, hi := math.Min(from, to), math.Max(from, to)
	if lo == at && hi == at {
		return nil
	}
	k := f.CoefficientFor(c)
	ch.Coefficient = &k
	ln, _ := k.LnQ10()
	ch.SteadyC = steadyAt(at, ch.lnTime(ln)/-ln)
	if lo < Coolest-1e-9 || hi > Warmest+1e-9 {
		ch.Warnings.Add("temperature_unusual", outside(lo, hi), Coolest, Warmest)
	}
	if l := f.Temperature; k.Measured {
		const slack = 1
		coldest, hottest := l.Temperatures[0], l.Temperatures[len(l.Temperatures)-1]
		if lo < coldest-slack || hi > hottest+slack {
			ch.Warnings.Add("temperature_beyond", outside(lo, hi), coldest, hottest)
		}
	}
	return nil
}

// outside names the temperature that is further from the usual.
func outside(lo, hi float64) string {
	if Coolest-lo > hi-Warmest {
		return sensito.Celsius(lo)
	}
	return sensito.Celsius(hi)
}

// steadyAt returns the temperature so many tens of degrees from another.
func steadyAt(refC, tens float64) float64 {
	c := refC + 10*tens
	for range 50 { // contracts: the scale is all but even
		c += 10 * (tens - fit.TensOfDegrees(refC, c))
	}
	return c
}

// MeanRate returns the mean over time of the rate of development in a bath whose temperature
// goes evenly from one value to another, in degrees Celsius, over the rate at refC.
// LnQ10 is the logarithm of the rate at 30 over that at 20.
func MeanRate(lnQ10, refC, fromC, toC float64) float64 {
	rate := func(c float64) float64 { return math.Exp(lnQ10 * fit.TensOfDegrees(refC, c)) }
	if fromC == toC {
		return rate(fromC)
	}
	const n = 32 // intervals of Simpson's rule: exact to 1e-8 over 17 degrees
	sum := rate(fromC) + rate(toC)
	for i := 1; i < n; i++ {
		weight := 2.0
		if i%2 == 1 {
			weight = 4
		}
		sum += weight * rate(fromC+(toC-fromC)*float64(i)/n)
	}
	return sum / (3 * n)
}

// lnTime returns by how much the logarithm of the time changes with the
// temperature, for the logarithm of a coefficient. The rate is averaged over the
// temperatures that a linear drift passes in equal times, so that the integrated
// rate is the trial's.
func (ch *Change) lnTime(lnQ10 float64) float64 {
	from, to := *ch.Conditions.TemperatureC, *cmp.Or(ch.Conditions.EndC, ch.Conditions.TemperatureC)
	return -math.Log(MeanRate(lnQ10, ch.Family.Trial.Process().TemperatureC, from, to))
}

// perLnQ10 returns the slope of lnTime.
func (ch *Change) perLnQ10(lnQ10 float64) float64 {
	const by = 1e-4
	return (ch.lnTime(lnQ10+by) - ch.lnTime(lnQ10-by)) / (2 * by)
}

// Known returns what is known from elsewhere than the strips: how many times
// longer, as a logarithm, with its standard deviation and degrees of freedom.
func (ch *Change) Known() (ln, sd, dof float64) {
	dof = math.Inf(1)
	add := func(v, s, d float64) {
		ln += v
		sd, dof = fit.Joined(sd, dof, s, d)
	}
	if k := ch.Coefficient; k != nil && !k.Measured {
		q, s := k.LnQ10()
		add(ch.lnTime(q), s*math.Abs(ch.perLnQ10(q)), k.Q10.DoF)
	}
	for _, t := range []*TimeFactor{ch.Agitation, ch.Dilution} {
		if t != nil && !t.Measured {
			v, s := t.ln()
			add(v, s, t.Factor.DoF)
		}
	}
	return ln, sd, dof
}

// Measured says whether strips of the trial measured any part of the change.
func (ch *Change) Measured() bool {
	return ch.Coefficient != nil && ch.Coefficient.Measured || len(ch.MeasuredConditions()) > 0
}

// MeasuredConditions returns those whose factor strips measured.
func (ch *Change) MeasuredConditions() []sensito.Condition {
	var out []sensito.Condition
	for _, t := range []*TimeFactor{ch.Agitation, ch.Dilution} {
		if t != nil && t.Measured {
			out = append(out, t.condition)
		}
	}
	return out
}

// Moved returns what strips measured of the change, as the logarithm of a time
// added to value 0 of d, with its standard deviation; the other values are those
// of parts.
func (ch *Change) Moved(d fit.Derived) (ln, sd float64) {
	slope := 0.0
	ln = d.Values[0]
	if k := ch.Coefficient; k != nil && k.Measured {
		q := ch.Family.lnQ10 + d.Values[1]
		ln += ch.lnTime(q)
		slope = ch.perLnQ10(q)
	}
	for _, v := range d.Values[2:] {
		ln += v
	}
	for _, move := range d.Moves {
		total := move[0] + slope*move[1]
		for _, v := range move[2:] {
			total += v
		}
		sd += total * total
	}
	return ln, math.Sqrt(sd)
}

// Minutes returns a development time of the trial under the conditions, the error
// of the change added as though it were independent. Nil stays nil.
func (ch *Change) Minutes(e *sensito.Estimate[sensito.Minutes]) *sensito.Estimate[sensito.Minutes] {
	if e == nil {
		return nil
	}
	return e.Scaled(math.Log(ch.Factor.Value), ch.Factor.StdErr/ch.Factor.Value, ch.Factor.DoF)
}

// Process returns the development under the conditions: the trial's, with what
// the conditions say otherwise, the temperature to a tenth of a degree.
func (ch *Change) Process() sensito.Process {
	p := ch.Conditions.Process(sensito.Process{})
	p.TemperatureC = math.Round(10*p.TemperatureC) / 10
	return p.Or(ch.Family.Trial.Process())
}

// Parts returns what of the change is a factor of its own.
func (ch *Change) Parts() []*TimeFactor {
	return slices.DeleteFunc([]*TimeFactor{ch.Agitation, ch.Dilution}, func(t *TimeFactor) bool { return t == nil })
}

// Shared returns what two changes that no strip measured do to the logarithms of
// both times by one error, a pair of standard deviations for each cause: the
// trials are of one developer, whose temperature coefficient, and whose factor
// for the same other agitation or dilution, are the same whatever they are. None
// of different developers, and of a nil change.
func (ch *Change) Shared(o *Change) [][2]float64 {
	if ch == nil || o == nil {
		return nil
	}
	developer := strings.TrimSpace(ch.Family.Trial.Process().Developer)
	if developer == "" || !strings.EqualFold(developer, strings.TrimSpace(o.Family.Trial.Process().Developer)) {
		return nil
	}
	var out [][2]float64
	if a, b := ch.Coefficient, o.Coefficient; a != nil && b != nil && !a.Measured && !b.Measured &&
		a.Q10.Value == b.Q10.Value && a.Q10.StdErr == b.Q10.StdErr && a.Source == b.Source {
		ln, sd := a.LnQ10()
		out = append(out, [2]float64{sd * ch.perLnQ10(ln), sd * o.perLnQ10(ln)})
	}
	for _, pair := range [][2]*TimeFactor{{ch.Agitation, o.Agitation}, {ch.Dilution, o.Dilution}} {
		a, b := pair[0], pair[1]
		if a != nil && b != nil && !a.Measured && !b.Measured && a.Condition == b.Condition && a.Was == b.Was {
			_, sd := a.ln()
			out = append(out, [2]float64{sd, sd})
		}
	}
	return out
}
