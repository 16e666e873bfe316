package development

import (
	"fmt"
	"math"
	"slices"

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
	LeastCelsius, MostCelsius = 13, 30
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
		case c.Forced || t >= LeastCelsius-1e-9 && t <= MostCelsius+1e-9:
		case t < LeastCelsius:
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("%s is below %d °C, where developing agents cease to act and no time can be told", sensito.Celsius(t), LeastCelsius),
				Hint:   fmt.Sprintf("warm the bath to between %d and %d °C", Coolest, Warmest),
				Way:    sensito.AnyTemperature,
			}
		default:
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("%s is above %d °C, where gelatin softens and development is too fast to be even", sensito.Celsius(t), MostCelsius),
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
	if c.Agitation != sensito.AgitationUnstated && !slices.Contains(sensito.Agitations, c.Agitation) {
		return fmt.Errorf("agitation %q is not continuous, intermittent or none", c.Agitation)
	}
	if c.Dilution != "" {
		if err := sensito.CheckDilution(c.Dilution); err != nil {
			return fmt.Errorf("dilution %w", err)
		}
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
