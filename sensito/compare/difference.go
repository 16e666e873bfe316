package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"sensito/sensito"
	"sensito/sensito/development"
)

// The quantities in which trials are compared.
const (
	DiffSpeedStops     = "speed_stops"
	DiffBaseFog        = "base_fog"
	DiffMinutes        = "minutes"
	DiffToe            = "toe_log_range"
	DiffShadowGradient = "shadow_gradient"
	DiffStraightness   = "straightness"
	DiffShoulder       = "shoulder_log_range"
	DiffUsable         = "usable_log_range"
	DiffMaxDensity     = "max_net_density"
	DiffTone           = "net_density" // of one tone
)

// Difference is that of one quantity between two trials: B less A.
type Difference struct {
	A, B     int                        // places in Comparison.Trials
	Quantity string                     // DiffMinutes and so on
	Stops    *float64                   // of the tone, where Quantity is DiffTone
	Value    *sensito.Estimate[float64] // nil where one of the two does not have the quantity
	P        float64                    // chance of as large a difference between equal trials; NaN when Value is nil
	Real     bool                       // at the level of the comparison, all pairs taken together
}

// between returns the differences of two trials. No more than one pair of equal
// trials in 1/(1 - Level) has any of them called real (holm).
func (c *Comparison) between(i, j int) []Difference {
	a, b := c.Trials[i], c.Trials[j]
	var out []Difference
	var weights []float64
	add := func(quantity string, stops *float64, weight float64, value *sensito.Estimate[float64], score float64) {
		d := Difference{A: i, B: j, Quantity: quantity, Stops: stops, Value: value, P: math.NaN()}
		if value != nil {
			d.P = tailOf(score, value.DoF)
		} else {
			weight = 0
		}
		out, weights = append(out, d), append(weights, weight)
	}
	plain := func(quantity string, value *sensito.Estimate[float64]) {
		score := 0.0
		if value != nil {
			score = scoreOf(value.Value, value.StdErr)
		}
		add(quantity, nil, 1, value, score)
	}

	plain(DiffSpeedStops, c.speedStops(a, b))
	var fog *sensito.Estimate[float64]
	if a.onBase() == b.onBase() {
		fog = less(a.BaseFog, b.BaseFog, 1)
	}
	plain(DiffBaseFog, a.lessPictured(b, fog, ofBaseFog, 1))
	minutes, ratio := timeDifference(a, b)
	add(DiffMinutes, nil, 1, minutes, scoreOf(ratio.Value, ratio.StdErr))
	plain(DiffToe, a.lessPictured(b, less(a.ToeLength, b.ToeLength, 1), ofForm+shapeToe, 1))
	plain(DiffShadowGradient, a.lessPictured(b, less(a.ShadowGradient, b.ShadowGradient, 1), ofForm+shapeShadow, 1))
	plain(DiffStraightness, a.lessPictured(b, less(a.Straightness, b.Straightness, 1), ofForm+shapeStraight, 1))
	plain(DiffShoulder, a.lessPictured(b, less(a.ShoulderStart, b.ShoulderStart, 1), ofForm+shapeShoulder, 1))
	plain(DiffUsable, a.lessPictured(b, less(a.UsableRange, b.UsableRange, 1), ofForm+shapeUsable, 1))
	plain(DiffMaxDensity, a.lessPictured(b, less(a.MaxDensity, b.MaxDensity, 1), ofForm+shapeMax, 1))
	// The tones are places of one curve: together they weigh as one quantity.
	for k, t := range a.Tones {
		d := a.lessPictured(b, less(t.NetDensity, b.Tones[k].NetDensity, 1), ofForm+shapeTones+k, 1)
		weight := 1 / float64(len(a.Tones))
		score := 0.0
		if d != nil {
			if d.StdErr < development.LeastSD { // the speed point's, the same by definition
				weight = 0
			} else {
				score = scoreOf(d.Value, d.StdErr)
			}
		}
		add(DiffTone, &t.Stops, weight, d, score)
	}
	p := make([]float64, len(out))
	for k, d := range out {
		p[k] = d.P
	}
	for k, real := range holm(p, weights, 1-c.Level) {
		out[k].Real = real
	}
	return out
}

// timeDifference returns the difference of the times, and the logarithm of their
// ratio, by which it is judged since times err by factors. What today's
// conditions do to the times of one developer, where no strip measured it, is one
// error that both have: it is in their difference only as far as it does not do
// the same to both.
func timeDifference(a, b *Compared) (minutes, ratio *sensito.Estimate[float64]) {
	minutes = less(a.Minutes, b.Minutes, 1)
	ratio = less(lnTime(a.Minutes), lnTime(b.Minutes), 1)
	var shared float64 // covariance of the logarithms
	for _, sd := range a.under().Shared(b.under()) {
		shared += sd[0] * sd[1]
	}
	shared += a.pictured(b, ofLnTime)
	if shared != 0 {
		withShared(minutes, shared*float64(a.Minutes.Value*b.Minutes.Value))
		withShared(ratio, shared)
	}
	return minutes, ratio
}

// under returns how today's conditions differ from the trial's, nil where they do
// not.
func (t *Compared) under() *development.Change { return t.Answer.Today.Under() }

func lnTime(m *sensito.Estimate[sensito.Minutes]) *sensito.Estimate[float64] {
	return &sensito.Estimate[float64]{Value: math.Log(float64(m.Value)), StdErr: float64(m.StdErr / m.Value), DoF: m.DoF}
}

// withShared takes the covariance of the two sides, which is known from no
// readings, out of a difference of less.
func withShared(e *sensito.Estimate[float64], covariance float64) {
	was := e.StdErr * e.StdErr
	left := math.Max(was-2*covariance, 0)
	e.StdErr = math.Sqrt(left)
	e.DoF *= math.Pow(left/was, 2)
}

// onBase says whether the densitometer was zeroed on the film base, so that base
// plus fog is the fog alone.
func (t *Compared) onBase() bool { return t.Family.Trial.Reading().Zero == sensito.ZeroBase }

// speedStops returns the difference of speed in stops, nil when one of the two
// has none.
func (c *Comparison) speedStops(a, b *Compared) *sensito.Estimate[float64] {
	if a.Speed == nil || b.Speed == nil {
		return nil
	}
	pa, pb := a.SpeedPoint, b.SpeedPoint
	if c.share && a.sameLamp(b) {
		pa, pb = a.speedPoint, b.speedPoint
	}
	return a.lessPictured(b, less(&pa, &pb, -1/float64(sensito.Stop)), ofSpeedPoint, 1/float64(sensito.Stop))
}

// sameLamp says whether the exposures of two trials are written alike, error
// included.
func (t *Compared) sameLamp(o *Compared) bool {
	a, b := t.Family.Trial.Exposures(), o.Family.Trial.Exposures()
	return a.Absolute() && b.Absolute() && a.CommonSD() > 0 && a.CommonSD() == b.CommonSD() && a.Kind() == b.Kind() && slices.Equal(a.LogH(), b.LogH())
}

// tellPairs says what was assumed of pairs of trials, and what cannot be
// compared between some.
func (c *Comparison) tellPairs() {
	c.tellChannels()
	var air, base []string
	told, toldChange := make([]bool, len(c.Trials)), make([]bool, len(c.Trials))
	for i, t := range c.Trials {
		if t.Reason != nil {
			continue
		}
		if t.onBase() {
			base = append(base, t.Name)
		} else {
			air = append(air, t.Name)
		}
		alike, changed := []string{t.Name}, []string{t.Name}
		for j, o := range c.Trials[i+1:] {
			if !toldChange[i] && o.Reason == nil && len(t.under().Shared(o.under())) > 0 {
				changed, toldChange[i+1+j] = append(changed, o.Name), true
			}
			if c.share && !told[i] && o.Reason == nil && t.sameLamp(o) {
				alike, told[i+1+j] = append(alike, o.Name), true
			}
		}
		if len(alike) > 1 {
			c.Warnings.Add("shared_exposure", strings.Join(alike, "; "), float64(t.Family.Trial.Exposures().CommonSD()))
		}
		if len(changed) > 1 {
			c.Warnings.Add("shared_change", strings.Join(changed, "; "))
		}
	}
	if len(air) > 0 && len(base) > 0 {
		c.Warnings.Add("zeros_differ", strings.Join(air, "; "), strings.Join(base, "; "))
	}
}

// tellChannels says where trials were read in different channels.
func (c *Comparison) tellChannels() {
	var channels, words []string
	for _, t := range c.Trials {
		if t.Reason != nil {
			continue
		}
		channel := cmp.Or(t.Family.Trial.Reading().Channel, "not stated")
		channels, words = append(channels, channel), append(words, fmt.Sprintf("%s (%s)", channel, t.Name))
	}
	if len(slices.Compact(slices.Sorted(slices.Values(channels)))) > 1 {
		c.Warnings.Add("channels_differ", strings.Join(words, ", "))
	}
}

// less returns b - a times a factor, nil when one of them is. The two are
// independent; their degrees of freedom join as of Welch and Satterthwaite
// (JCGM 100:2008, G.4.1).
func less[Q ~float64](a, b *sensito.Estimate[Q], factor float64) *sensito.Estimate[float64] {
	if a == nil || b == nil {
		return nil
	}
	va, vb := math.Pow(float64(a.StdErr), 2), math.Pow(float64(b.StdErr), 2)
	e := &sensito.Estimate[float64]{Value: factor * float64(b.Value-a.Value), StdErr: math.Abs(factor) * math.Sqrt(va+vb), DoF: math.Inf(1)}
	if below := va*va/a.DoF + vb*vb/b.DoF; below > 0 {
		e.DoF = math.Pow(va+vb, 2) / below
	}
	return e
}

// scoreOf returns a difference in standard deviations.
func scoreOf(value, sd float64) float64 {
	if value == 0 {
		return 0
	}
	return math.Abs(value) / sd
}

// tailOf returns the chance of a score as large or larger on either side, by
// Student's t with the degrees of freedom of fit.StudentT.
func tailOf(score, dof float64) float64 {
	dof = math.Max(1, math.Floor(dof))
	if dof > 1e6 {
		return 2 * distuv.UnitNormal.Survival(score)
	}
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Survival(score)
}

// holm returns which of several hypotheses are rejected so that the chance of
// rejecting any that is true is no more than alpha, however they depend on each
// other: step by step from the least p over weight, each time against its share
// of those left (S. Holm, Scand. J. Statist. 6, 65, 1979; with weights as there,
// from memory). A weight of 0 takes no part.
func holm(p, weights []float64, alpha float64) []bool {
	var order []int
	left := 0.0
	for i, w := range weights {
		if w > 0 {
			order = append(order, i)
			left += w
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(p[i]/weights[i], p[j]/weights[j]) })
	out := make([]bool, len(p))
	for _, i := range order {
		if p[i] > alpha*weights[i]/left {
			break
		}
		out[i] = true
		left -= weights[i]
	}
	return out
}
