package curve

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve/internal/aside"
)

// The ISO 6:1993 criterion: the speed point lies 0.10 above base plus fog, and
// ISO conditions hold when the density 1.30 further along is 0.80 higher
// within 0.05 (the tolerance is from memory).
const (
	SpeedPointDensity  sensito.NetDensity = 0.10
	ISORange           sensito.LogRange   = 1.30
	ISODifferenceAim                      = 0.80
	ISODifferenceSlack                    = 0.05
)

// The fractional-gradient criterion and its relation to the speed point.
const (
	fractionalGradient                    = 0.3
	fractionalRange      sensito.LogRange = 1.50
	deltaXAtStandard     sensito.LogRange = 0.2956 // DeltaX(0.80)
	deltaXLow, deltaXTop                  = 0.5, 1.2
)

// SpeedPoint returns the exposure whose density is 0.10 above base plus fog. The
// error wraps ErrOutOfRange where the curve does not show it.
func SpeedPoint(c Curve) (sensito.LogExposure, error) {
	return c.LogExposure(SpeedPointDensity.Over(BaseFog(c)))
}

// speedPointExcess returns how far the density at x exceeds that of the speed
// point.
func speedPointExcess(c Curve, x float64) float64 {
	return float64(c.Density(sensito.LogExposure(x)) - SpeedPointDensity.Over(BaseFog(c)))
}

// ISODifference returns the density gained over the 1.30 log H above the
// speed point; 0.80 +- 0.05 is the contrast condition of ISO 6:1993. The error
// wraps ErrOutOfRange where the curve does not reach so far.
func ISODifference(c Curve) (float64, error) {
	m, err := SpeedPoint(c)
	if err != nil {
		return 0, err
	}
	return Rise(c, m, ISORange)
}

// Rise returns the density gained over the distance r above h. The error wraps
// ErrOutOfRange where that ends further than Reach beyond the exposures.
func Rise(c Curve, h sensito.LogExposure, r sensito.LogRange) (float64, error) {
	end := h.Add(r)
	if _, hi := c.Domain(); end > hi.Add(Reach) {
		return 0, fmt.Errorf("log H %.2f: %w", float64(end), sensito.ErrOutOfRange)
	}
	return float64(c.Density(end) - c.Density(h)), nil
}

// FractionalGradientPoint returns the exposure where the local slope is 0.3 of
// the average slope over the 1.50 log H to its right (the criterion of L. A.
// Jones, in the American and British standards until 1959; Nelson and Simonds,
// J. Opt. Soc. Am. 46, 324, 1956). The error wraps ErrOutOfRange where the toe lies
// below the exposures or the curve does not reach 1.50 beyond the point.
func FractionalGradientPoint(c Curve) (sensito.LogExposure, error) {
	_, top := Steepest(c)
	return fractionalGradientPoint(c, top)
}

// fractionalGradientPoint looks below the steepest place.
func fractionalGradientPoint(c Curve, top sensito.LogExposure) (sensito.LogExposure, error) {
	none := func() error { return fmt.Errorf("fractional gradient: %w", sensito.ErrOutOfRange) }
	lo, hi := c.Domain()
	from, to := float64(lo.Add(-Reach)), float64(top)
	excess := func(x float64) float64 { return fractionalExcess(c, x) }
	// The lowest crossing: walk up until the slope first exceeds its share.
	const steps = 32
	step := (to - from) / steps
	for i := 1; i <= steps; i++ {
		x := from + float64(i)*step
		if excess(x) < 0 {
			continue
		}
		if i == 1 {
			break // above its share all along: the toe lies below the exposures
		}
		x, err := fit.Root(excess, x-step, x, RootTolerance)
		h := sensito.LogExposure(x)
		if err != nil || h.Add(fractionalRange) > hi.Add(Reach) {
			return 0, none()
		}
		return h, nil
	}
	return 0, none()
}

// fractionalExcess returns how far the slope at x exceeds its share of the average.
func fractionalExcess(c Curve, x float64) float64 {
	h := sensito.LogExposure(x)
	return c.Slope(h) - fractionalGradient*chord(c, h, h.Add(fractionalRange))
}

// asFilms moves a fractional-gradient point of the curve, which lies at a mark, to where
// films have theirs, with the error of that and the one that all exposures share. A smooth
// curve of one strip follows a toe by itself.
func (m *Measured) asFilms(h *sensito.Estimate[sensito.LogExposure], at mark) {
	common := m.Strip.Trial().Exposures().CommonSD()
	switch c := m.Fit.Curve.(type) {
	case *bendCurve:
		*h = aside.Corner(*h, c.Slope(sensito.LogExposure(at.x))/at.slope, common)
	case sharedCurve:
		*h = aside.Shared(*h, m.ownSD(ColumnFractional), common)
	default:
		h.AddCommon(common)
	}
}

// FractionalGradientSpeed returns the speed of a fractional-gradient point on
// the footing of ISO 6: equal to SpeedAt of the speed point for a curve of
// standard contrast, whose fractional-gradient point lies 0.296 log H below it.
func FractionalGradientSpeed(h sensito.LogExposure) sensito.Speed {
	return sensito.SpeedAt(h.Add(deltaXAtStandard))
}

// DeltaX returns the log exposure between the fractional-gradient point and
// the speed point as the density difference dd over 1.30 log H predicts it:
// 0.83 - 0.86 dd + 0.24 dd^2 (Nelson and Simonds 1956; the coefficients are
// from memory, the value 0.296 at 0.80 is published). ok is false outside
// about 0.5 to 1.2, where the relation should not be used.
func DeltaX(dd float64) (x sensito.LogRange, ok bool) {
	return sensito.LogRange(0.83 - 0.86*dd + 0.24*dd*dd), dd >= deltaXLow && dd <= deltaXTop
}

// DeltaXPoint returns where a film of standard contrast and the same
// fractional-gradient speed would have its speed point, as the Delta-X relation
// predicts from the speed point m and the density difference dd; ok is as for
// DeltaX.
func DeltaXPoint(m sensito.LogExposure, dd float64) (h sensito.LogExposure, ok bool) {
	x, ok := DeltaX(dd)
	return m.Add(deltaXAtStandard - x), ok
}

// SpeedEstimate turns a place on the exposure axis into a speed.
func SpeedEstimate(h sensito.Estimate[sensito.LogExposure], speed func(sensito.LogExposure) sensito.Speed) *sensito.Estimate[sensito.Speed] {
	e := speedOf(h, speed)
	return &e
}

func speedOf(h sensito.Estimate[sensito.LogExposure], speed func(sensito.LogExposure) sensito.Speed) sensito.Estimate[sensito.Speed] {
	v := speed(h.Value)
	out := sensito.Estimate[sensito.Speed]{Value: v, StdErr: v * sensito.Speed(math.Ln10*float64(h.StdErr)), DoF: h.DoF, Log: true, AtLeast: h.AtMost, AtMost: h.AtLeast}
	if h.Limits != nil {
		out.Limits = func(level float64) (low, high sensito.Speed) {
			first, last := h.Limits(level)
			return speed(last), speed(first)
		}
	}
	return out
}
