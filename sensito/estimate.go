package sensito

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
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
	low, high = e.closed(level)
	if e.AtLeast {
		high = Q(math.Inf(1))
	}
	if e.AtMost {
		low = Q(math.Inf(-1))
	}
	return low, high
}

func (e Estimate[Q]) closed(level float64) (low, high Q) {
	if !(level > 0 && level < 1) {
		panic("sensito: confidence level outside (0, 1)")
	}
	if e.Limits != nil {
		return e.Limits(level)
	}
	t := studentT(level, e.DoF)
	if e.Log {
		f := math.Exp(t * float64(e.StdErr/e.Value))
		return e.Value / Q(f), e.Value * Q(f)
	}
	return e.Value - Q(t)*e.StdErr, e.Value + Q(t)*e.StdErr
}

// quantiles remembers values of studentT, which are costly and asked for again
// and again.
var quantiles sync.Map // [2]float64 -> float64

// studentT returns the two-sided quantile of Student's t. Degrees of freedom
// that are not whole are taken down to the next that is (JCGM 100:2008, G.4.1).
func studentT(level, dof float64) float64 {
	dof = math.Max(1, math.Floor(dof))
	key := [2]float64{level, dof}
	if t, ok := quantiles.Load(key); ok {
		return t.(float64)
	}
	p := 0.5 + level/2
	var t float64
	if dof > 1e6 {
		t = distuv.UnitNormal.Quantile(p)
	} else {
		t = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(p)
	}
	quantiles.Store(key, t)
	return t
}

// A Warning is a finding about a result that its reader must know. Code is
// stable and meant for programs, Message for people.
type Warning struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}
