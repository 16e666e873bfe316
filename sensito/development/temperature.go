package development

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// TemperatureLaw is how the rate of development follows the temperature, as the
// strips of a trial show it: the law of Arrhenius, fitted together with the
// growth of the contrast.
type TemperatureLaw struct {
	Q10              sensito.Estimate[float64] // rate at 30 over that at 20 degrees Celsius
	ActivationEnergy sensito.Estimate[float64] // kJ/mol
	Temperatures     []float64                 // degrees Celsius, rising
}

// The coefficient where neither strips nor photographer give one. Of nine
// developers with published times at several temperatures the geometric mean is
// 2.07 and the standard deviation of the logarithm 0.19 (32 pairs of a data
// sheet, median 2.14; the rotary tables of data sheet F-32, five developers; US
// Air Force T.O. 33B-1-1, table 6-16, 1.92; H. E. Ives, Airplane Photography,
// 1920, 1.62 and 2.69).
const (
	DefaultQ10       = 2.1
	defaultQ10SD     = 0.2 // of the logarithm
	defaultQ10Source = "mean of nine published developers, which differ from 1.6 to 2.7"
)

// unstatedQ10SD is the standard deviation of a coefficient that is given without
// one: two times printed to half a minute, 4 degrees apart, tell it to 0.3 either
// way at best.
const unstatedQ10SD = 0.15

// Coefficient is how much faster development goes in a warmer bath.
type Coefficient struct {
	Q10      sensito.Estimate[float64] // rate at 30 over that at 20 degrees Celsius
	Measured bool                      // by strips of the trial
	Source   string                    // in words
}

func stated(q10, sd float64, source string) Coefficient {
	if sd == 0 {
		sd = unstatedQ10SD
		source += fmt.Sprintf(", taken to ±%.2f", sd)
	}
	return Coefficient{Q10: sensito.Estimate[float64]{Value: q10, StdErr: sd, DoF: math.Inf(1), Log: true}, Source: source}
}

// Coefficient returns what is known of how the rate of development follows the
// temperature: measured by strips, or stated in the notebook, or usual.
func (f *Family) Coefficient() Coefficient { return f.CoefficientFor(Conditions{}) }

// CoefficientFor is Coefficient, or the photographer's own where the conditions
// give one.
func (f *Family) CoefficientFor(c Conditions) Coefficient {
	if c.Q10 != nil || f.Temperature == nil {
		return UnmeasuredCoefficient(f.Trial, c)
	}
	var at []string
	for _, c := range f.Temperature.Temperatures {
		at = append(at, strconv.FormatFloat(c, 'g', 4, 64))
	}
	return Coefficient{Q10: f.Temperature.Q10, Measured: true, Source: "measured by strips at " + strings.Join(at, ", ") + " °C"}
}

// UnmeasuredCoefficient returns the coefficient without what strips measured: the
// photographer's own where the conditions give one, or stated in the notebook, or
// usual.
func UnmeasuredCoefficient(t *sensito.Trial, c Conditions) Coefficient {
	if c.Q10 != nil {
		sd := 0.0
		if c.Q10SD != nil {
			sd = *c.Q10SD
		}
		return stated(*c.Q10, sd, "your own")
	}
	if q10, sd := t.Q10(); q10 != 0 {
		return stated(q10, sd, "stated in the notebook")
	}
	return Coefficient{Q10: sensito.Estimate[float64]{Value: DefaultQ10, StdErr: DefaultQ10 * defaultQ10SD, DoF: math.Inf(1), Log: true}, Source: defaultQ10Source}
}

// LnQ10 returns the logarithm of the coefficient and its standard deviation.
func (c Coefficient) LnQ10() (ln, sd float64) {
	return math.Log(c.Q10.Value), c.Q10.StdErr / c.Q10.Value
}

// join takes strips into the family that were developed at other temperatures,
// at the times that do the same at the temperature of the trial. Both laws, of
// the growth and of the temperature, are fitted at once. Where the strips do
// not tell them apart the error says why, and the family stays as it was.
func (f *Family) join(others []*curve.Measured) error {
	own := f.Strips
	for _, m := range others {
		m.Warp = fit.TensOfDegrees(f.Trial.Process().TemperatureC, m.Strip.Process().TemperatureC)
	}
	all := slices.Concat(own, others)
	undo := func(err error) error {
		for _, m := range others {
			m.Warp, m.LnLonger = 0, 0
		}
		f.Strips, f.table = own, nil
		return err
	}
	lnQ10 := math.Log(DefaultQ10)
	starts := []float64{0, -0.4, 0.4}
	// The second round begins where the first ended, so that the times of the
	// table are those of the fitted law.
	for range 2 {
		for _, m := range others {
			m.LnLonger = m.Warp * lnQ10
		}
		f.Strips = slices.Clone(all)
		f.sort()
		f.tabulate()
		col := f.contrastColumn()
		if err := f.tellApart(col); err != nil {
			return undo(err)
		}
		t, y, sd := f.table.Column(col, f.table.Rows)
		var u []float64
		for j, w := range f.table.Warp {
			if f.table.Gives(j, col) {
				u = append(u, w)
			}
		}
		g, err := fitWarpedGrowth(t, y, sd, u, Growth{}, starts...)
		if err != nil {
			return undo(err)
		}
		lnQ10 += g.warp
		starts = []float64{0}
	}
	if lnQ10 <= 0 {
		return undo(&sensito.Unanswerable{Reason: "their contrast is no higher in the warmer bath"})
	}
	for _, m := range others {
		m.LnLonger = m.Warp * lnQ10
	}
	f.sort()
	f.tabulate()
	f.lnQ10 = lnQ10
	return nil
}

// tellApart returns an error where the strips that give a contrast cannot tell
// the growth with time from that with temperature.
func (f *Family) tellApart(col int) error {
	times := map[float64]map[sensito.Minutes]bool{} // by temperature
	most := 0
	j := 0
	for _, m := range f.Strips {
		if m.Derived.Values == nil || math.IsNaN(m.Derived.Values[col]) {
			continue
		}
		j++
		c := m.Strip.Process().TemperatureC
		if times[c] == nil {
			times[c] = map[sensito.Minutes]bool{}
		}
		times[c][m.Strip.Minutes()] = true
		most = max(most, len(times[c]))
	}
	switch {
	case len(times) < 2:
		return &sensito.Unanswerable{Reason: "only those at one temperature have a contrast"}
	case most < 2:
		return &sensito.Unanswerable{Reason: "no temperature has strips of two times"}
	case j < 3:
		return &sensito.Unanswerable{Reason: "three strips with a contrast are the least"}
	}
	return nil
}

// temperatureLaw returns the law of the temperature with its error, after the
// contrast has been fitted: d holds the propagated logarithm of the coefficient,
// less that of the times, as value i.
func (f *Family) temperatureLaw(d fit.Derived, i int, dof float64) *TemperatureLaw {
	ln, sd := f.lnQ10+d.Values[i], d.SD(i)
	q10 := math.Exp(ln)
	perLn := fit.ActivationEnergy(math.E) / 1000
	l := &TemperatureLaw{
		Q10:              sensito.Estimate[float64]{Value: q10, StdErr: q10 * sd, DoF: dof, Log: true},
		ActivationEnergy: sensito.Estimate[float64]{Value: ln * perLn, StdErr: sd * perLn, DoF: dof},
	}
	for _, m := range f.Strips {
		l.Temperatures = append(l.Temperatures, m.Strip.Process().TemperatureC)
	}
	l.Temperatures = fit.Distinct(l.Temperatures)
	return l
}

// joinTemperatures takes the strips into the family that differ in temperature
// alone, or says why they are left out. The error is Unanswerable where nothing
// is left.
func (f *Family) joinTemperatures(others []*curve.Measured) error {
	if len(others) == 0 {
		return nil
	}
	err := f.join(others)
	switch {
	case err == nil:
		return nil
	case len(f.Strips) > 0:
		f.leaveOut(others, err)
		return nil
	}
	return &sensito.Unanswerable{
		Reason: fmt.Sprintf("no strip was developed at the %g °C of the trial, and those at other temperatures cannot stand for it: %v", f.Trial.Process().TemperatureC, err),
		Hint:   "state in [process] the temperature of most strips, or develop two at one temperature for different times",
	}
}

// warnVagueQ10 warns of a measured coefficient that is known less well than that
// of developers at large.
func (f *Family) warnVagueQ10() {
	q := f.Temperature.Q10
	if sd := q.StdErr / q.Value; sd > defaultQ10SD {
		f.Warnings.Add("vague_q10", 100*sd, 100*defaultQ10SD)
	}
}

// leaveOut notes strips at other temperatures that the family does without.
func (f *Family) leaveOut(others []*curve.Measured, err error) {
	var numbers []int
	for _, m := range others {
		numbers = append(numbers, m.Strip.Number())
	}
	f.Warnings.Add("other_temperature", sensito.StripList(numbers), err)
}

// sort puts the strips in the order of their times.
func (f *Family) sort() {
	slices.SortStableFunc(f.Strips, func(a, b *curve.Measured) int { return cmp.Compare(a.Minutes(), b.Minutes()) })
}
