package sensito

import (
	"encoding/json"
	"math"

	"sensito/fit"
)

// Estimate is a value with its standard error. It has no arithmetic on
// purpose: two estimates from one fit are correlated, and adding them would
// drop that. Quantities are derived from the fit itself (see Derive).
type Estimate[Q ~float64] struct {
	Value, StdErr Q

	// DoF is the number of degrees of freedom behind StdErr; +Inf when the
	// standard error is known rather than estimated.
	DoF float64

	// Log says that the error is symmetric in the logarithm of the value, as
	// it is for speeds and times, so that the interval is multiplicative.
	Log bool

	// AtLeast and AtMost say that the data bound the quantity on one side only:
	// Value is the bound that they show, and the interval has no upper or no
	// lower end.
	AtLeast, AtMost bool

	// Limits, where it is set, gives the interval in place of StdErr, which is
	// then only its size near the value; an end may be infinite.
	Limits func(level float64) (low, high Q)
}

// Interval returns the two-sided confidence interval at the given level, by
// Limits or else by Student's t with the estimate's degrees of freedom; an end
// that the data do not bound is infinite. It panics unless 0 < level < 1.
func (e Estimate[Q]) Interval(level float64) (low, high Q) {
	low, high = e.Closed(level)
	if e.AtLeast {
		high = Q(math.Inf(1))
	}
	if e.AtMost {
		low = Q(math.Inf(-1))
	}
	return low, high
}

// Closed is Interval as though the data bounded both ends: AtLeast and AtMost are
// left out of account. Limits may still leave an end open.
func (e Estimate[Q]) Closed(level float64) (low, high Q) {
	if !(level > 0 && level < 1) {
		panic("sensito: confidence level outside (0, 1)")
	}
	if e.Limits != nil {
		return e.Limits(level)
	}
	t := fit.StudentT(level, e.DoF)
	if e.Log {
		f := math.Exp(t * float64(e.StdErr/e.Value))
		return e.Value / Q(f), e.Value * Q(f)
	}
	return e.Value - Q(t)*e.StdErr, e.Value + Q(t)*e.StdErr
}

// jsonLevel is the level of the interval that MarshalJSON writes.
const jsonLevel = 0.95

// MarshalJSON writes the value, its standard deviation and the ends of its 95 %
// interval, {"value", "sd", "low", "high"}, in the unit of Q; null stands for an
// end that the data do not bound, and for the whole of an estimate that is not
// Known.
func (e Estimate[Q]) MarshalJSON() ([]byte, error) {
	if !e.Known(jsonLevel) {
		return []byte("null"), nil
	}
	low, high := e.Interval(jsonLevel)
	return json.Marshal(struct {
		Value float64  `json:"value"`
		SD    float64  `json:"sd"`
		Low   *float64 `json:"low"`
		High  *float64 `json:"high"`
	}{float64(e.Value), float64(e.StdErr), finite(low), finite(high)})
}

// finite returns nil for an end of an interval that is not finite.
func finite[Q ~float64](end Q) *float64 {
	v := float64(end)
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	return &v
}

// Known reports whether value, standard error and interval are numbers that can
// be stated: value and standard error are finite, and so is every end of the
// interval at the level, unless the data leave that end open. It panics as
// Interval does.
func (e Estimate[Q]) Known(level float64) bool {
	low, high := e.Interval(level)
	for _, v := range []float64{float64(e.Value), float64(e.StdErr)} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	mayBeOpen := e.Limits != nil || e.AtLeast || e.AtMost
	for _, v := range []float64{float64(low), float64(high)} {
		if math.IsNaN(v) || math.IsInf(v, 0) && !mayBeOpen {
			return false
		}
	}
	return true
}

// AddCommon adds the error that all exposures share. The degrees of freedom
// follow Welch and Satterthwaite (JCGM 100:2008, G.4.1), the common part being
// known.
func (e *Estimate[Q]) AddCommon(sd LogRange) {
	if sd == 0 {
		return
	}
	own := float64(e.StdErr)
	total := math.Hypot(own, float64(sd))
	if own > 0 {
		e.DoF *= math.Pow(total/own, 4)
	} else {
		e.DoF = math.Inf(1)
	}
	e.StdErr = Q(total)
}

// Scaled returns e times exp(ln), with the independent error sd of ln added, which
// rests on dof degrees of freedom: ends by Limits move further out by it.
func (e *Estimate[Q]) Scaled(ln, sd, dof float64) *Estimate[Q] {
	was := float64(e.StdErr / e.Value)
	value := e.Value * Q(math.Exp(ln))
	out := &Estimate[Q]{Value: value, StdErr: value * Q(math.Hypot(was, sd)), DoF: fit.JoinedDoF(was, e.DoF, sd, dof), Log: true, AtLeast: e.AtLeast, AtMost: e.AtMost}
	if e.Limits != nil {
		out.Limits = func(level float64) (Q, Q) {
			low, high := e.Limits(level)
			further := func(end Q) Q {
				apart := math.Log(float64(end / e.Value))
				return value * Q(math.Exp(math.Copysign(math.Hypot(apart, fit.StudentT(level, dof)*sd), apart)))
			}
			return further(low), further(high)
		}
	}
	return out
}
