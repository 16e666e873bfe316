package fit

import (
	"errors"
	"fmt"
	"math"
)

// ErrBeyondLimit reports a value that growth never reaches.
var ErrBeyondLimit = errors.New("not below the limit of growth")

// ErrRateUnknown reports times and values that no finite positive growth rate
// describes.
var ErrRateUnknown = errors.New("rate cannot be determined")

// Kinetics is first-order growth towards a limit after an induction time:
// Limit (1 - exp(-Rate (t - Induction))), zero before Induction (F. Hurter and
// V. C. Driffield, Journal of the Society of Chemical Industry, 1890). The
// unit of time is the caller's.
type Kinetics struct {
	Limit     float64 // +Inf for a straight line, where Rate is 0
	Rate      float64 // per unit of time, natural logarithm
	Induction float64 // time at which growth begins
	Slope     float64 // growth per unit of time at Induction; used only where Rate is 0
}

// Growing returns the growth of Slope, Rate and Induction, the first three parameters of
// those that are fitted.
func Growing(params []float64) Kinetics {
	k := Kinetics{Slope: params[0], Rate: math.Max(params[1], 0), Induction: params[2], Limit: math.Inf(1)}
	if k.Rate > 0 {
		k.Limit = k.Slope / k.Rate
	}
	return k
}

// At returns the value at time t.
func (k Kinetics) At(t float64) float64 {
	u := t - k.Induction
	switch {
	case u <= 0:
		return 0
	case k.Rate == 0:
		return k.Slope * u
	}
	return -k.Limit * math.Expm1(-k.Rate*u)
}

// Time returns the time at which the value is g. The error is ErrBeyondLimit
// when g is not below Limit; a negative g is an error too.
func (k Kinetics) Time(g float64) (float64, error) {
	switch {
	case !(g >= 0):
		return math.NaN(), fmt.Errorf("value %g is negative", g)
	case g == 0:
		return k.Induction, nil
	case k.Rate == 0 && k.Slope > 0:
		return k.Induction + g/k.Slope, nil
	case k.Rate == 0 || g >= k.Limit:
		return math.NaN(), fmt.Errorf("value %g, limit %g: %w", g, k.Limit, ErrBeyondLimit)
	}
	return k.Induction - math.Log1p(-g/k.Limit)/k.Rate, nil
}

// TwoTimes returns the growth without induction that passes through value g1
// at time t1 and g2 at t2: the two-times method, in closed form where t2 is
// twice t1. It needs 0 < t1 < t2 and 1 < g2/g1 < t2/t1; the error is
// ErrRateUnknown when the ratio of the values is outside.
func TwoTimes(t1, g1, t2, g2 float64) (Kinetics, error) {
	if !(0 < t1 && t1 < t2) || math.IsInf(t2, 0) {
		return Kinetics{}, fmt.Errorf("times %g and %g are not positive and rising", t1, t2)
	}
	if !(g1 > 0) || math.IsNaN(g2) || math.IsInf(g1, 0) || math.IsInf(g2, 0) {
		return Kinetics{}, fmt.Errorf("values %g and %g are not positive and finite", g1, g2)
	}
	ratio, most := g2/g1, t2/t1
	switch {
	case g2 <= g1:
		return Kinetics{}, fmt.Errorf("%.4g at %g is not above %.4g at %g: %w", g2, t2, g1, t1, ErrRateUnknown)
	case ratio >= most:
		return Kinetics{}, fmt.Errorf("a growth by a factor of %.4g from %g to %g, as fast as the time or faster (%.4g), shows no limit: %w",
			ratio, t1, t2, most, ErrRateUnknown)
	}
	if most == 2 { // g2/g1 = 1 + exp(-k t1)
		rate := -math.Log(ratio-1) / t1
		limit := g1 * g1 / (2*g1 - g2)
		return Kinetics{Limit: limit, Rate: rate, Slope: limit * rate}, nil
	}
	excess := func(x float64) float64 { // x = rate t1
		if x == 0 {
			return most - ratio
		}
		return math.Expm1(-x*most)/math.Expm1(-x) - ratio
	}
	hi := 1.0
	for excess(hi) > 0 {
		hi *= 2
	}
	x, err := Root(excess, 0, hi, 0)
	if err != nil || x == 0 {
		return Kinetics{}, fmt.Errorf("values %g and %g at times %g and %g: %w", g1, g2, t1, t2, ErrRateUnknown)
	}
	limit := -g1 / math.Expm1(-x)
	return Kinetics{Limit: limit, Rate: x / t1, Slope: limit * x / t1}, nil
}
