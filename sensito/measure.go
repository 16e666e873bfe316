package sensito

import (
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
	DeltaXSpeed             *Estimate[Speed] // the cross-check on it; nil outside its range
	MaxDensity              *Estimate[Density]

	Gradient Gradient // the definition used, defaults filled in
	Warnings []Warning

	derived derived // the quantities in the order of the columns below

	// Within a family: how far the strip's temperature is from the family's, in
	// tens of degrees, how much longer its development would have taken at that,
	// and the one condition in which it differs otherwise.
	warp, lnLonger float64
	apart          condition
}

// Minutes returns the development time that, at the temperature of the trial,
// does what that of the strip did: its own unless the strip belongs to a family
// and was developed at another temperature.
func (m *Measured) Minutes() Minutes {
	if m.lnLonger == 0 {
		return m.Strip.minutes
	}
	return m.Strip.minutes * Minutes(math.Exp(m.lnLonger))
}

// Measure fits a curve to the strip and derives its quantities. The error is
// Unanswerable when no curve can be had, and for a strip of paper.
func Measure(strip *Strip, o MeasureOptions) (*Measured, error) {
	if err := notPaper(strip.trial); err != nil {
		return nil, err
	}
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

	var err error
	var places []marks // of the curve and its rivals
	m.derived, err = deriveAbout(f, func(c Curve) func(Curve) ([]float64, error) {
		at := m.marksOf(c)
		places = append(places, at)
		return func(c Curve) ([]float64, error) { return m.columns(c, at) }
	})
	if err != nil {
		m.warn("no_uncertainty", "the readings do not determine every part of the curve, so no quantity can be given with its uncertainty")
		return
	}
	at := places[0]
	always := func() error { return nil } // what every curve has
	m.BaseFog = column[Density](m, colFog, "base plus fog", always)
	m.MaxDensity = column[Density](m, colMax, "the maximum density", always)
	m.Gamma = column[float64](m, colGamma, "gamma", always)
	m.SpeedPoint = column[LogExposure](m, colSpeedPoint, "the speed point", func() error { _, err := SpeedPoint(c); return err })
	m.ContrastIndex = column[float64](m, colIndex, "the contrast index", func() error { _, err := IndexRay(c); return err })
	m.AverageGradient = column[float64](m, colGradient, "the average gradient", func() error { _, err := AverageGradient(c, m.Gradient); return err })
	m.ISODifference = column[float64](m, colISO, "the ISO density difference", func() error { _, err := ISODifference(c); return err })
	fractional := column[LogExposure](m, colFractional, "the fractional-gradient speed", func() error { _, err := FractionalGradientPoint(c); return err })

	// Which of them lean on the curve beyond the readings.
	if m.SpeedPoint != nil {
		m.leans("the speed point", m.SpeedPoint.Value, lo, hi)
		if m.ISODifference != nil {
			m.leans("the ISO density difference", m.SpeedPoint.Value.Add(ISORange), lo, hi)
		}
	}
	if m.ContrastIndex != nil {
		m.leans("the contrast index", rayThrough(c, LogExposure(at.indexNear.x)).Far, lo, hi)
	}
	if m.AverageGradient != nil {
		from := LogExposure(at.gradientFrom.x)
		m.leans("the average gradient", from, lo, hi)
		if to, err := m.Gradient.end(c, from); err == nil {
			m.leans("the average gradient", to, lo, hi)
		}
	}
	if fractional != nil {
		m.leans("the fractional-gradient speed", fractional.Value, lo, hi)
		m.leans("the fractional-gradient speed", fractional.Value.Add(fractionalRange), lo, hi)
	}
	if !sameProcess(m.Strip.process, m.Strip.trial.process) {
		m.warn("other_conditions", "developed otherwise than the trial: %s", m.Strip.process)
	}

	if m.Strip.exposedApart() {
		m.warn("other_exposure", "exposed for %v, the trial for %v: in dim light film loses speed, so the two do not compare", m.Strip.seconds, m.Strip.trial.exposures.seconds)
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
		if v, sd := m.derived.values[colDeltaX], m.derived.sd(colDeltaX); !math.IsNaN(v) && !math.IsNaN(sd) {
			h := Estimate[LogExposure]{Value: LogExposure(v), StdErr: LogExposure(sd), DoF: f.DoF}
			h.addCommon(exposures.commonSD)
			m.DeltaXSpeed = speedEstimate(h, SpeedAt)
		}
	}
	if exposures.absolute && fractional != nil {
		fractional.addCommon(exposures.commonSD)
		m.FractionalGradientSpeed = speedEstimate(*fractional, FractionalGradientSpeed)
	}
	if m.Strip.trial.reading.Zero == ZeroBase {
		m.warn("zero_on_base", "the densitometer was zeroed on the base: densities are above it, and base plus fog is what the fog adds")
	}
}

// column returns one of the derived quantities, the named one. Where it could
// not be had it returns nil and notes why: why returns what keeps the curve
// itself from it, if anything does.
func column[Q ~float64](m *Measured, i int, name string, why func() error) *Estimate[Q] {
	v, sd := m.derived.values[i], m.derived.sd(i)
	if !math.IsNaN(v) && !math.IsNaN(sd) {
		return &Estimate[Q]{Value: Q(v), StdErr: Q(sd), DoF: m.Fit.DoF}
	}
	if err := why(); err != nil {
		m.warn("wedge_too_short", "the exposures do not reach far enough for %s (%v)", name, err)
	} else {
		m.warn("no_uncertainty", "the readings do not determine %s closely enough for an uncertainty", name)
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

// speedEstimate turns a place on the exposure axis into a speed.
func speedEstimate(h Estimate[LogExposure], speed func(LogExposure) Speed) *Estimate[Speed] {
	v := speed(h.Value)
	return &Estimate[Speed]{Value: v, StdErr: v * Speed(math.Ln10*float64(h.StdErr)), DoF: h.DoF, Log: true, AtLeast: h.AtMost, AtMost: h.AtLeast}
}

// overexposed says whether the strip does not show its speed point because its
// faintest step is denser already.
func (m *Measured) overexposed() bool {
	c := m.Fit.Curve
	lo, _ := c.Domain()
	point, err := SpeedPoint(c)
	return (err != nil || point < lo.Add(-reach)) && c.Density(lo).Above(BaseFog(c)) > SpeedPointDensity
}
