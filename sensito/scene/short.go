package scene

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/development"
)

// short returns the warnings of a time that is short: what is the matter, and
// what would take longer as far as it is known.
func (p *Answer) short() sensito.Warnings {
	out := ShortTime(p.Minutes.Value)
	if out == nil {
		return nil
	}
	if longer := p.longer(); longer != "" {
		out = append(out, sensito.Warn("longer_time", longer))
	}
	return out
}

// longer names a lower temperature and the higher dilutions that the trial knows,
// with the times there; "" when none is known.
func (p *Answer) longer() string {
	var says []string
	told := float64(p.Minutes.Value)
	var c development.Conditions
	ch := p.Today.Under()
	if ch != nil {
		c = ch.Conditions
	}
	if now := p.steadyC(); now > development.Coolest {
		// The warmest whole degree that is long enough, or else the coolest usual.
		for t := math.Ceil(now) - 1; t >= development.Coolest; t-- {
			minutes := told * timesLonger(p.Family, c, now, t)
			if short := isShort(sensito.Minutes(minutes)); !short || t == development.Coolest {
				even := ""
				if short {
					even = "even "
				}
				says = append(says, fmt.Sprintf("%sat %g °C it would take about %s", even, t, sensito.Minutes(minutes).Clock(5)))
				break
			}
		}
	}
	for _, d := range higherDilutions(p.Family, c.Dilution) {
		other, err := p.Family.Under(development.Conditions{Dilution: d})
		if err != nil {
			continue
		}
		by := other.Factor.Value
		if ch != nil && ch.Dilution != nil {
			by /= ch.Dilution.Factor.Value
		}
		if by > 1 {
			says = append(says, fmt.Sprintf("at %s about %s (%s)", d, sensito.Minutes(by*told).Clock(5), other.Dilution.Source))
		}
	}
	return strings.Join(says, "; ")
}

// steadyC returns the temperature that the time of the answer is for, 0 when it is
// not known.
func (p *Answer) steadyC() float64 {
	if ch := p.Today.Under(); ch != nil && ch.SteadyC != 0 {
		return ch.SteadyC
	}
	return p.Family.Trial.Process().TemperatureC
}

// timesLonger returns how many times longer development takes at another
// temperature, by the coefficient that goes with the conditions.
func timesLonger(f *development.Family, c development.Conditions, from, to float64) float64 {
	ln, _ := f.CoefficientFor(c).LnQ10()
	return math.Exp(-ln * fit.TensOfDegrees(from, to))
}

// higherDilutions returns the dilutions of strips of the trial that differ in
// that alone and are higher than the one given, "" for the trial's, the lowest
// first.
func higherDilutions(f *development.Family, than string) []string {
	if than == "" {
		than = f.Trial.Process().Dilution
	}
	var out []string
	for _, s := range f.Trial.Strips() {
		if d := s.Process().Dilution; s.OnlyIn(sensito.ConditionDilution) && development.DilutionParts(than) > 0 && development.DilutionParts(d) > development.DilutionParts(than) && !slices.Contains(out, d) {
			out = append(out, d)
		}
	}
	slices.SortFunc(out, func(a, b string) int {
		return cmp.Compare(development.DilutionParts(a), development.DilutionParts(b))
	})
	return out
}

// stillShort returns warnings with those of a short time as they hold for the
// answer.
func (p *Answer) stillShort(all sensito.Warnings) sensito.Warnings {
	return append(withoutShort(all), p.short()...)
}

// stillShort returns the warnings with that of a short time as it holds for t.
func stillShort(all sensito.Warnings, t sensito.Minutes) sensito.Warnings {
	return append(withoutShort(all), ShortTime(t)...)
}

func withoutShort(all sensito.Warnings) sensito.Warnings {
	return slices.DeleteFunc(slices.Clone(all), func(w sensito.Warning) bool { return w.Code == "short_time" || w.Code == "longer_time" })
}

// Under this many minutes a time carries a warning.
const shortTime = 5

// isShort says whether a time is short, as it is told: to 5 seconds.
func isShort(t sensito.Minutes) bool { return math.Round(12*float64(t)) < 12*shortTime }

// ShortTime returns the warning of a time in which development is easily uneven,
// none for one that is long enough.
func ShortTime(t sensito.Minutes) sensito.Warnings {
	if isShort(t) {
		return sensito.Warnings{sensito.Warn("short_time")}
	}
	return nil
}
