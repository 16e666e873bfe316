package sensito

import (
	"errors"
	"fmt"
	"math"
)

// MeasureOptions say how a strip is evaluated. The zero value is the
// recommended run.
type MeasureOptions struct {
	Fit      FitOptions
	Gradient Gradient
}

// Measured holds what a strip's curve says. A nil quantity could not be had;
// Warnings say why.
type Measured struct {
	Strip *Strip
	Fit   *CurveFit // nil when no curve could be had; see MeasureTrial

	BaseFog    *Estimate[Density]
	SpeedPoint *Estimate[LogExposure] // relative when the exposures are
	Speed      *Estimate[Speed]       // nil when the exposures are relative
	ISOMet     *bool                  // the contrast condition of ISO 6:1993

	ContrastIndex   *Estimate[float64]
	AverageGradient *Estimate[float64] // by Gradient
	Gamma           *Estimate[float64]
	ISODifference   *Estimate[float64]

	FractionalGradientSpeed *Estimate[Speed] // on the footing of ISO 6
	DeltaXSpeed             *Speed           // the cross-check on it
	MaxDensity              *Estimate[Density]

	Gradient Gradient // the definition used, defaults filled in
	Warnings []Warning
}

// Measure fits a curve to the strip and derives its quantities. The error is
// Unanswerable when no curve can be had.
func Measure(strip *Strip, o MeasureOptions) (*Measured, error) {
	f, err := FitStrip(strip, o.Fit)
	if err != nil {
		return nil, err
	}
	m := &Measured{Strip: strip, Fit: f, Gradient: o.Gradient.withDefaults(), Warnings: []Warning{}}
	m.Warnings = append(m.Warnings, f.Warnings...)
	m.measure()
	return m, nil
}

// MeasureTrial measures every strip of a trial, in the order of the notebook.
// A strip without a curve has a nil Fit and a warning that says why; when no
// strip has one the error of the first is returned.
func MeasureTrial(t *Trial, o MeasureOptions) ([]*Measured, error) {
	var first error
	fitted := false
	ms := make([]*Measured, len(t.strips))
	for i, s := range t.strips {
		m, err := Measure(s, o)
		if err != nil {
			m = &Measured{Strip: s, Gradient: o.Gradient.withDefaults(), Warnings: []Warning{{Code: "no_curve", Message: err.Error()}}}
			if first == nil {
				first = err
			}
		}
		fitted = fitted || m.Fit != nil
		ms[i] = m
	}
	if !fitted {
		return nil, first
	}
	return ms, nil
}

func (m *Measured) measure() {
	f, c := m.Fit, m.Fit.Curve
	lo, hi := c.Domain()

	m.BaseFog = take(m, "base plus fog", func(c Curve) (Density, error) { return BaseFog(c), nil })
	m.MaxDensity = take(m, "maximum density", func(c Curve) (Density, error) { return c.Density(hi), nil })
	m.Gamma = take(m, "gamma", Gamma)
	m.SpeedPoint = take(m, "the speed point", SpeedPoint)
	m.ContrastIndex = take(m, "the contrast index", ContrastIndex)
	m.AverageGradient = take(m, "the average gradient", func(c Curve) (float64, error) { return AverageGradient(c, m.Gradient) })
	m.ISODifference = take(m, "the ISO density difference", ISODifference)
	fractional := take(m, "the fractional-gradient speed", FractionalGradientPoint)

	// Which of them lean on the curve beyond the readings.
	if m.SpeedPoint != nil {
		m.leans("the speed point", m.SpeedPoint.Value, lo, hi)
		if m.ISODifference != nil {
			m.leans("the ISO density difference", m.SpeedPoint.Value.Add(ISORange), lo, hi)
		}
	}
	if m.ContrastIndex != nil {
		if ray, err := IndexRay(c); err == nil {
			m.leans("the contrast index", ray.Far, lo, hi)
		}
	}
	if m.AverageGradient != nil {
		if from, to, err := m.Gradient.Points(c); err == nil {
			m.leans("the average gradient", from, lo, hi)
			m.leans("the average gradient", to, lo, hi)
		}
	}

	if m.ISODifference != nil {
		met := math.Abs(m.ISODifference.Value-ISODifferenceAim) <= ISODifferenceSlack
		m.ISOMet = &met
	}
	exposures := m.Strip.trial.exposures
	if m.SpeedPoint != nil {
		m.SpeedPoint.addCommon(exposures.commonSD)
	}
	if !exposures.absolute {
		m.warn("relative_exposure", "%v; give reference_speed_point_log_h to tie them down", ErrRelativeExposure)
	}
	if exposures.absolute && m.SpeedPoint != nil {
		m.Speed = speedEstimate(*m.SpeedPoint, SpeedAt)
		if m.ISODifference != nil {
			if s, ok := DeltaXSpeed(m.SpeedPoint.Value, m.ISODifference.Value); ok {
				m.DeltaXSpeed = &s
			}
		}
	}
	if exposures.absolute && fractional != nil {
		fractional.addCommon(exposures.commonSD)
		m.FractionalGradientSpeed = speedEstimate(*fractional, FractionalGradientSpeed)
	}
	if m.Strip.trial.reading.Zero == ZeroBase {
		m.warn("zero_on_base", "the densitometer was zeroed on the base: densities are above it, and base plus fog is what the fog adds")
	}
	if f.root == nil {
		m.warn("no_uncertainty", "the readings do not determine every part of the curve, so no uncertainty can be given")
	}
}

// take derives one quantity, or notes why it cannot be had.
func take[Q ~float64](m *Measured, name string, g func(Curve) (Q, error)) *Estimate[Q] {
	e, err := Derive(m.Fit, g)
	switch {
	case err == nil:
		return &e
	case errors.Is(err, ErrOutOfRange):
		m.warn("wedge_too_short", "the exposures do not reach far enough for %s (%v)", name, err)
	case !errors.Is(err, ErrNoUncertainty): // that is said once for all
		m.warn("not_found", "%s could not be found: %v", name, err)
	}
	return nil
}

// leans warns when a quantity uses the curve at h outside the readings.
func (m *Measured) leans(name string, h, lo, hi LogExposure) {
	const slack = 0.005 // log H, below the accuracy of any wedge
	switch {
	case h < lo.Add(-slack):
		m.warn("extrapolated", "%s lies %.2f log H below the faintest step read", name, float64(lo.Sub(h)))
	case h > hi.Add(slack):
		m.warn("extrapolated", "%s needs the curve %.2f log H beyond the last step read", name, float64(h.Sub(hi)))
	}
}

func (m *Measured) warn(code, format string, args ...any) {
	m.Warnings = append(m.Warnings, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}

// addCommon adds the error that all exposures share. The degrees of freedom
// follow Welch and Satterthwaite (JCGM 100:2008, G.4.1), the common part being
// known.
func (e *Estimate[Q]) addCommon(sd LogRange) {
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

// speedEstimate turns a place on the exposure axis into a speed.
func speedEstimate(h Estimate[LogExposure], speed func(LogExposure) Speed) *Estimate[Speed] {
	v := speed(h.Value)
	return &Estimate[Speed]{Value: v, StdErr: v * Speed(math.Ln10*float64(h.StdErr)), DoF: h.DoF, Log: true}
}
