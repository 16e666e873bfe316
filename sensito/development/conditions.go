package development

import (
	"fmt"
	"math"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/check"
)

// Conditions are those under which film is to be developed, as far as they
// differ from the trial's. Fields that are nil or empty stand for the trial's.
type Conditions struct {
	TemperatureC *float64 // degrees Celsius, when development begins
	EndC         *float64 // when it ends, reached evenly; nil means that it stays
	Agitation    sensito.Agitation
	Dilution     string // "1+19" or "stock"; "" for the trial's

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
	Coolest, Warmest          = 18, 24
	leastCelsius, mostCelsius = 13, 30
)

// Changed says whether any condition is given.
func (c Conditions) Changed() bool {
	return c.TemperatureC != nil || c.Agitation != sensito.AgitationUnstated || c.Dilution != ""
}

// Process returns how film is developed under the conditions, where usual says
// how without them.
func (c Conditions) Process(usual sensito.Process) sensito.Process {
	p := sensito.Process{Agitation: c.Agitation, Dilution: c.Dilution}
	if c.TemperatureC != nil {
		p.TemperatureC = *c.TemperatureC
	}
	return p.Or(usual)
}

// Check returns an error for conditions outside their limits, Unanswerable for
// temperatures beyond those of hand processing that are not forced.
func (c Conditions) Check() error {
	for _, given := range []*float64{c.TemperatureC, c.EndC} {
		if given == nil {
			continue
		}
		t := *given
		if err := sensito.CheckTemperature(t); err != nil {
			return err
		}
		switch {
		case c.Forced || t >= leastCelsius-1e-9 && t <= mostCelsius+1e-9:
		case t < leastCelsius:
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("%s is below %d °C, where developing agents cease to act and no time can be told", sensito.Celsius(t), leastCelsius),
				Hint:   fmt.Sprintf("warm the bath to between %d and %d °C", Coolest, Warmest),
				Way:    sensito.AnyTemperature,
			}
		default:
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("%s is above %d °C, where gelatin softens and development is too fast to be even", sensito.Celsius(t), mostCelsius),
				Hint:   fmt.Sprintf("cool the bath to between %d and %d °C", Coolest, Warmest),
				Way:    sensito.AnyTemperature,
			}
		}
	}
	if c.EndC != nil && c.TemperatureC == nil {
		return fmt.Errorf("a temperature at the end goes with one at the start")
	}
	var f check.Faults
	if sensito.CheckQ10(&f, "", c.Q10, c.Q10SD); len(f) > 0 {
		return f.Err()
	}
	switch c.Agitation {
	case sensito.AgitationUnstated, sensito.AgitationContinuous, sensito.AgitationIntermittent, sensito.AgitationNone:
	default:
		return fmt.Errorf("agitation %q is not continuous, intermittent or none", c.Agitation)
	}
	if c.Dilution != "" && !sensito.IsDilution(c.Dilution) {
		return fmt.Errorf("dilution %q is not of the form 1+19 (parts concentrate + parts water) or stock", c.Dilution)
	}
	return nil
}

// TimeFactor is how many times longer development takes under another condition.
type TimeFactor struct {
	Condition string // "intermittent agitation", "1+31"
	Was       string // that of the trial
	Factor    sensito.Estimate[float64]
	Measured  bool   // by strips of the trial
	Source    string // of Factor, in words

	condition sensito.Condition
}

func (t TimeFactor) ln() (ln, sd float64) {
	return math.Log(t.Factor.Value), t.Factor.StdErr / t.Factor.Value
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

// perLnQ10 returns the slope of lnTime.
func (ch *Change) perLnQ10(lnQ10 float64) float64 {
	const by = 1e-4
	return (ch.lnTime(lnQ10+by) - ch.lnTime(lnQ10-by)) / (2 * by)
}
