package development

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// The usual factors where no strip measured one.
const (
	// Continuous agitation takes 0.80 to 0.90 of the time of intermittent
	// (common practice, no source).
	usualContinuous   = 0.85
	usualContinuousSD = 0.03 // of the logarithm

	// Time grows as this power of the volume that one part of concentrate is
	// made into. Of one liquid concentrate and one replenished developer, at 1+4
	// to 1+15, it is 0.26 to 1.27 from one dilution to the next and 0.75 over all
	// (data sheet F-32, rotary tubes; one source).
	dilutionPower   = 0.75
	dilutionPowerSD = 0.3
	mostDilution    = 3.2 // of the volumes compared there
)

// agitationFactor returns how many times longer development takes with another
// agitation than the trial's.
func (f *Family) agitationFactor(to sensito.Agitation) (*TimeFactor, error) {
	from := f.Trial.Process().Agitation
	if from == sensito.AgitationUnstated {
		return nil, &sensito.Unanswerable{
			Reason: "the trial does not say how its strips were agitated",
			Hint:   `state agitation in [process]: "continuous", "intermittent" or "none"`,
		}
	}
	t := &TimeFactor{Condition: to.Named(), Was: from.Named(), condition: otherAgitation(to)}
	if ok, err := f.measureFactor(t); ok || err != nil {
		return t, err
	}
	ln := math.Log(usualContinuous)
	switch {
	case from == sensito.AgitationContinuous && to == sensito.AgitationIntermittent:
		ln = -ln
	case from == sensito.AgitationIntermittent && to == sensito.AgitationContinuous:
	default:
		return nil, &sensito.Unanswerable{
			Reason: fmt.Sprintf("nothing is known of the time with %s in place of %s", t.Condition, t.Was),
			Hint:   fmt.Sprintf("develop a strip with %s, its time among those of the others, and add it to the trial with agitation = %q", t.Condition, to),
		}
	}
	value := math.Exp(ln)
	t.Factor = sensito.Estimate[float64]{Value: value, StdErr: value * usualContinuousSD, DoF: math.Inf(1), Log: true}
	t.Source = "continuous agitation is taken to need 0.80 to 0.90 of the time of intermittent (common practice, no source)"
	return t, nil
}

// DilutionParts returns the volume that one part of concentrate is made into; 0 for a
// dilution that does not say.
func DilutionParts(dilution string) float64 {
	a, b, ok := strings.Cut(dilution, "+")
	if !ok {
		return 0
	}
	concentrate, errA := strconv.ParseFloat(a, 64)
	water, errB := strconv.ParseFloat(b, 64)
	if errA != nil || errB != nil || !(concentrate > 0) {
		return 0
	}
	return (concentrate + water) / concentrate
}

// dilutionFactor returns how many times longer development takes at another
// dilution than the trial's.
func (f *Family) dilutionFactor(to string) (*TimeFactor, error) {
	from := f.Trial.Process().Dilution
	if from == "" {
		return nil, &sensito.Unanswerable{Reason: "the trial does not say how its developer was diluted", Hint: `state dilution in [process], like "1+19"`}
	}
	t := &TimeFactor{Condition: to, Was: from, condition: otherDilution(to)}
	if ok, err := f.measureFactor(t); ok || err != nil {
		return t, err
	}
	a, b := DilutionParts(from), DilutionParts(to)
	if ratio := b / a; a == 0 || b == 0 || ratio > mostDilution+1e-9 || ratio < 1/mostDilution-1e-9 {
		return nil, &sensito.Unanswerable{
			Reason: fmt.Sprintf("nothing is known of the time at %s from that at %s", to, from),
			Hint:   fmt.Sprintf("develop a strip at %s, its contrast among those of the others, and add it to the trial with dilution = %q", to, to),
		}
	}
	ln := math.Log(b / a)
	value := math.Exp(dilutionPower * ln)
	t.Factor = sensito.Estimate[float64]{Value: value, StdErr: value * dilutionPowerSD * math.Abs(ln), DoF: math.Inf(1), Log: true}
	t.Source = fmt.Sprintf("the time is taken to grow as the power %.2f ±%.1f of the volume (two developers of one data sheet)", dilutionPower, dilutionPowerSD)
	return t, nil
}

func otherDilution(d string) sensito.Condition {
	return sensito.ConditionDilution + " " + sensito.Condition(d)
}
func otherAgitation(a sensito.Agitation) sensito.Condition {
	return sensito.ConditionAgitation + " " + sensito.Condition(a)
}

// developedOtherwise returns the strips, of those measured, that differ from the trial in
// agitation alone or in dilution alone.
func developedOtherwise(ms []*curve.Measured) []*curve.Measured {
	var out []*curve.Measured
	for _, m := range ms {
		if m == nil || m.Fit.Root == nil {
			continue
		}
		s := m.Strip
		var apart sensito.Condition
		switch {
		case s.ExposedApart() || s.CopyOf() > 0:
			continue
		case s.OnlyIn(sensito.ConditionAgitation):
			apart = otherAgitation(s.Process().Agitation)
		case s.OnlyIn(sensito.ConditionDilution):
			apart = otherDilution(s.Process().Dilution)
		default:
			continue
		}
		m.Apart = apart
		out = append(out, m)
	}
	return out
}

// measureFactor fills in a factor that strips of the trial measure; ok is false
// where there are none.
func (f *Family) measureFactor(t *TimeFactor) (ok bool, err error) {
	var names []string
	for _, m := range f.others {
		if m.Apart == t.condition {
			names = append(names, strconv.Itoa(m.Strip.Number()))
		}
	}
	if len(names) == 0 {
		return false, nil
	}
	t.Measured = true
	t.Source = "measured by strip " + strings.Join(names, ", ")
	d, dof, err := f.atContrast([]sensito.Condition{t.condition})
	if err != nil {
		return false, &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %s with %s does not compare with the others: %v", strings.Join(names, ", "), t.Condition, err),
			Hint:   "develop one whose contrast lies among those of the others",
		}
	}
	const factor = 2 // of parts
	value := math.Exp(d.Values[factor])
	t.Factor = sensito.Estimate[float64]{Value: value, StdErr: value * d.SD(factor), DoF: dof, Log: true}
	return true, nil
}

// With returns the strips of the family and those that measure what other
// conditions do.
func (f *Family) With(conditions ...sensito.Condition) []*curve.Measured {
	out := append([]*curve.Measured(nil), f.Strips...)
	for _, m := range f.others {
		for _, c := range conditions {
			if m.Apart == c {
				out = append(out, m)
			}
		}
	}
	return out
}

// lnFactor returns how many times longer the strips of a condition took than the
// law g of column i has it, as a logarithm: the mean over the strips, each
// weighted as its own error deserves. The error is for strips that the law does
// not reach.
func (tb *Table) lnFactor(c sensito.Condition, rows [][]float64, i int, g Growth) (float64, error) {
	var sum, weights float64
	var last error
	for j, row := range rows[:len(tb.Rows)] {
		if tb.apart[j] != c || math.IsNaN(tb.Rows[j][i]) || math.IsNaN(tb.SD[j][i]) {
			continue
		}
		if tb.Rows[j][i] > LimitShare*g.Limit { // where time does little
			last = fmt.Errorf("its contrast is too near the end of development")
			continue
		}
		t, err := g.Time(row[i])
		if err != nil || !(t > 0) {
			last = err
			continue
		}
		w := 1 / math.Pow(tb.SD[j][i]*g.PerAim(tb.Rows[j][i]), 2)
		sum += w * math.Log(tb.Minutes[j]/t)
		weights += w
	}
	if weights == 0 {
		if last == nil {
			last = fmt.Errorf("it has no contrast")
		}
		return 0, last
	}
	return sum / weights, nil
}

// Factors returns what the strips that differ from the trial in agitation alone,
// or in dilution alone, measure: how many times longer development takes. Those
// that do not compare with the others are left out.
func (f *Family) Factors() []*TimeFactor {
	var out []*TimeFactor
	seen := map[sensito.Process]bool{}
	for _, s := range f.Trial.Strips() {
		p := sensito.Process{Agitation: s.Process().Agitation, Dilution: s.Process().Dilution}
		if seen[p] {
			continue
		}
		var t *TimeFactor
		var err error
		switch {
		case s.OnlyIn(sensito.ConditionAgitation):
			t, err = f.agitationFactor(p.Agitation)
		case s.OnlyIn(sensito.ConditionDilution):
			t, err = f.dilutionFactor(p.Dilution)
		default:
			continue
		}
		seen[p] = true
		if err == nil && t.Measured {
			out = append(out, t)
		}
	}
	return out
}

// Parts returns what a change is made of that strips measured, as a law g of
// column i has it: the logarithm of a time by the law, the logarithm of the
// temperature coefficient beyond that of the times, and those of the factors of
// the conditions. Rows are of a table that holds the strips of those too.
// The error says which do not compare with the law.
func (tb *Table) Parts(rows [][]float64, i int, g Growth, lnTime float64, conditions []sensito.Condition) ([]float64, error) {
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

// atContrast returns the parts of a change at the contrast that the family
// describes, with a time of 1, and the degrees of freedom behind them.
func (f *Family) atContrast(conditions []sensito.Condition) (fit.Derived, float64, error) {
	if f.NoContrast != nil {
		return fit.Derived{}, 0, f.NoContrast
	}
	return f.parts.Of(conditions, func() (fit.Derived, float64, error) {
		tb := tableOf(f.With(conditions...))
		law, err := tb.Grow(f.contrast, tb.Rows, f.Growth)
		if err != nil {
			return fit.Derived{}, 0, err
		}
		d, err := tb.Propagate(map[int]float64{f.contrast: law.Scatter}, func(rows [][]float64) ([]float64, error) {
			g, err := tb.Grow(f.contrast, rows, law)
			if err != nil {
				return nil, err
			}
			return tb.Parts(rows, f.contrast, g, 0, conditions)
		})
		return d, f.Growth.Behind(tb.DoF), err
	})
}
