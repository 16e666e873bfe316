package sensito

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/fit"
)

// short returns the warnings of a time that is short: what is the matter, and
// what would take longer as far as it is known.
func (p *Plan) short() []Warning {
	if !(p.Minutes.Value < shortTime) {
		return nil
	}
	out := []Warning{{Code: "short_time", Message: shortTimeText}}
	if longer := p.longer(); longer != "" {
		out = append(out, Warning{Code: "longer_time", Message: longer})
	}
	return out
}

// longer names a lower temperature and the higher dilutions that the trial knows,
// with the times there; "" when none is known.
func (p *Plan) longer() string {
	var says []string
	told := float64(p.Minutes.Value)
	var c Conditions
	if p.under != nil {
		c = p.under.Conditions
	}
	if now := p.steadyC(); now > coolest {
		// The warmest whole degree that is long enough, or else the coolest usual.
		for t := math.Ceil(now) - 1; t >= coolest; t-- {
			minutes := told * p.Family.timesLonger(c, now, t)
			if minutes >= shortTime || t == coolest {
				even := ""
				if minutes < shortTime {
					even = "even "
				}
				says = append(says, fmt.Sprintf("%sat %g °C it would take about %s", even, t, Minutes(minutes).Clock(5)))
				break
			}
		}
	}
	for _, d := range p.Family.higherDilutions(c.Dilution) {
		ch, err := p.Family.Under(Conditions{Dilution: d})
		if err != nil {
			continue
		}
		by := ch.Factor.Value
		if p.under != nil && p.under.Dilution != nil {
			by /= p.under.Dilution.Factor.Value
		}
		if by > 1 {
			says = append(says, fmt.Sprintf("at %s about %s (%s)", d, Minutes(by*told).Clock(5), ch.Dilution.Source))
		}
	}
	return strings.Join(says, "; ")
}

// steadyC returns the temperature that the time of the plan is for, 0 when it is
// not known.
func (p *Plan) steadyC() float64 {
	if p.under != nil && p.under.SteadyC != 0 {
		return p.under.SteadyC
	}
	return p.Family.Trial.process.TemperatureC
}

// timesLonger returns how many times longer development takes at another
// temperature, by the coefficient that goes with the conditions.
func (f *Family) timesLonger(c Conditions, from, to float64) float64 {
	ln, _ := f.coefficientFor(c).lnQ10()
	return math.Exp(-ln * fit.TensOfDegrees(from, to))
}

// higherDilutions returns the dilutions of strips of the trial that differ in
// that alone and are higher than the one given, "" for the trial's, the lowest
// first.
func (f *Family) higherDilutions(than string) []string {
	if than == "" {
		than = f.Trial.process.Dilution
	}
	var out []string
	for _, s := range f.Trial.strips {
		if d := s.process.Dilution; s.onlyIn(dilution) && parts(than) > 0 && parts(d) > parts(than) && !slices.Contains(out, d) {
			out = append(out, d)
		}
	}
	slices.SortFunc(out, func(a, b string) int { return int(math.Copysign(1, parts(a)-parts(b))) })
	return out
}

// stillShort returns warnings with those of a short time as they hold for the
// plan.
func (p *Plan) stillShort(all []Warning) []Warning {
	return append(withoutShort(all), p.short()...)
}

// stillShort returns the warnings with that of a short time as it holds for t.
func stillShort(all []Warning, t Minutes) []Warning {
	return append(withoutShort(all), ShortTime(t)...)
}

func withoutShort(all []Warning) []Warning {
	return slices.DeleteFunc(slices.Clone(all), func(w Warning) bool { return w.Code == "short_time" || w.Code == "longer_time" })
}
