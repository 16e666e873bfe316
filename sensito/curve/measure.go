package curve

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
)

// MeasureOptions say how a strip is evaluated. The zero value is the
// recommended run.
type MeasureOptions struct {
	Fit      FitOptions
	Gradient Gradient
	Apart    bool // strips of one trial share nothing
}

// Measured holds what a strip's curve says. A nil quantity could not be had;
// Warnings say why.
type Measured struct {
	Strip *sensito.Strip
	Fit   *Fit // nil when no curve could be had; see MeasureTrial

	BaseFog    *sensito.Estimate[sensito.Density]
	SpeedPoint *sensito.Estimate[sensito.LogExposure] // relative when the exposures are
	Speed      *sensito.Estimate[sensito.Speed]       // nil when the exposures are relative
	ISOMet     *bool                                  // the contrast condition of ISO 6:1993; nil too where it is not judged (Trial.NotISO)

	ContrastIndex   *sensito.Estimate[float64]
	AverageGradient *sensito.Estimate[float64] // by Gradient
	Gamma           *sensito.Estimate[float64] // the slope of the straight part, density per decade
	ISODifference   *sensito.Estimate[float64] // density gained over 1.30 log H from the speed point

	FractionalGradientSpeed *sensito.Estimate[sensito.Speed] // on the footing of ISO 6
	DeltaXSpeed             *sensito.Estimate[sensito.Speed] // the cross-check on it; nil outside its range
	MaxDensity              *sensito.Estimate[sensito.Density]

	Gradient Gradient // the definition used, defaults filled in
	Warnings sensito.Warnings

	// ByItself is the strip measured without the others of its film, where that
	// disagrees with what they tell of it; nil otherwise, and with MeasureOptions.Apart.
	ByItself *Measured

	Derived fit.Derived // the quantities of the curve in the order of ColumnFog to ColumnFractional; NaN for what could not be had

	// Within a family: how far the strip's temperature is from the family's, in
	// tens of degrees, how much longer its development would have taken at that,
	// and the one condition in which it differs otherwise.
	Warp, LnLonger float64
	Apart          sensito.Condition
}

// Minutes returns the development time that, at the temperature of the trial,
// does what that of the strip did: its own unless the strip belongs to a family
// and was developed at another temperature.
func (m *Measured) Minutes() sensito.Minutes {
	if m.LnLonger == 0 {
		return m.Strip.Minutes()
	}
	return m.Strip.Minutes() * sensito.Minutes(math.Exp(m.LnLonger))
}

// Measure fits a curve to the strip and derives its quantities. The error is
// Unanswerable when no curve can be had, and for a strip of paper.
func Measure(strip *sensito.Strip, o MeasureOptions) (*Measured, error) {
	if err := notPaper(strip.Trial()); err != nil {
		return nil, err
	}
	f, err := FitStrip(strip, o.Fit)
	if err != nil {
		return nil, err
	}
	m := &Measured{Strip: strip, Fit: f, Gradient: o.Gradient.withDefaults(), Warnings: sensito.Warnings{}}
	m.Warnings = append(m.Warnings, f.Warnings...)
	m.measure()
	return m, nil
}

func (m *Measured) measure() {
	f, c := m.Fit, m.Fit.Curve
	lo, hi := c.Domain()

	var err error
	var at *marks // of the curve; its rivals have theirs
	m.Derived, err = deriveAbout(f, func(c Curve) columnsOf {
		of := m.marksOf(c)
		if at == nil {
			at = &of
		}
		return func(out []float64, c Curve) ([]float64, error) { return m.columns(out, c, &of) }
	})
	if err != nil {
		m.Warnings.Add("no_uncertainty")
		return
	}
	q := new(quantities)
	always := func() error { return nil } // what every curve has
	m.BaseFog = column(m, ColumnFog, &q.fog, "base plus fog", always)
	m.MaxDensity = column(m, colMax, &q.top, ofTop, always)
	m.Gamma = column(m, colGamma, &q.gamma, ofGamma, always)
	m.SpeedPoint = column(m, ColumnSpeedPoint, &q.speedPoint, "the speed point", func() error { _, err := SpeedPoint(c); return err })
	m.ContrastIndex = column(m, ColumnIndex, &q.index, "the contrast index", func() error { _, err := IndexRay(c); return err })
	m.AverageGradient = column(m, ColumnGradient, &q.gradient, ofGradient, func() error { _, err := AverageGradient(c, m.Gradient); return err })
	m.ISODifference = column(m, ColumnISO, &q.iso, ofISO, func() error { _, err := ISODifference(c); return err })
	fractional := column(m, ColumnFractional, &q.fractional, ofFractional, func() error { _, err := FractionalGradientPoint(c); return err })

	// Which of them lean on the curve beyond the readings.
	if m.SpeedPoint != nil {
		m.leans("the speed point", m.SpeedPoint.Value, lo, hi)
		if m.ISODifference != nil {
			m.leans(ofISO, m.SpeedPoint.Value.Add(ISORange), lo, hi)
		}
	}
	if m.ContrastIndex != nil {
		m.leans("the contrast index", rayThrough(c, sensito.LogExposure(at.indexNear.x)).Far, lo, hi)
	}
	if m.AverageGradient != nil {
		from := sensito.LogExposure(at.gradientFrom.x)
		m.leans(ofGradient, from, lo, hi)
		if to, err := m.Gradient.end(c, from); err == nil {
			m.leans(ofGradient, to, lo, hi)
		}
	}
	if fractional != nil {
		m.leans(ofFractional, fractional.Value, lo, hi)
		m.leans(ofFractional, fractional.Value.Add(fractionalRange), lo, hi)
	}
	if !sensito.SameProcess(m.Strip.Process(), m.Strip.Trial().Process()) {
		m.Warnings.Add("other_conditions", m.Strip.Process())
	}

	if m.Strip.ExposedApart() {
		m.Warnings.Add("other_exposure", m.Strip.Seconds(), m.Strip.Trial().Exposures().Seconds())
	}

	m.Warnings = append(m.Warnings, m.Strip.Trial().NotISO()...)
	if m.ISODifference != nil && m.Strip.Trial().Pictured() == nil {
		met := math.Abs(m.ISODifference.Value-ISODifferenceAim) <= ISODifferenceSlack
		m.ISOMet = &met
	}
	exposures := m.Strip.Trial().Exposures()
	if m.SpeedPoint != nil {
		m.SpeedPoint.AddCommon(exposures.CommonSD())
	}
	if !exposures.Absolute() {
		m.Warnings.Add("relative_exposure", sensito.ErrRelativeExposure)
	}
	if exposures.Absolute() && m.SpeedPoint != nil {
		q.speed = speedOf(*m.SpeedPoint, sensito.SpeedAt)
		m.Speed = &q.speed
		if v, sd := m.Derived.Values[colDeltaX], m.Derived.SD(colDeltaX); !math.IsNaN(v) && !math.IsNaN(sd) {
			h := sensito.Estimate[sensito.LogExposure]{Value: sensito.LogExposure(v), StdErr: sensito.LogExposure(sd), DoF: f.DoF}
			h.AddCommon(exposures.CommonSD())
			q.deltaX = speedOf(h, sensito.SpeedAt)
			m.DeltaXSpeed = &q.deltaX
		}
	}
	if exposures.Absolute() && fractional != nil {
		m.asFilms(fractional, at.fractional)
		q.fractionalSpeed = speedOf(*fractional, FractionalGradientSpeed)
		m.FractionalGradientSpeed = &q.fractionalSpeed
	}
	if m.Strip.Trial().Reading().Zero == sensito.ZeroBase {
		m.Warnings.Add("zero_on_base")
	}
}

// quantities are those of a strip, in one piece of memory.
type quantities struct {
	fog, top               sensito.Estimate[sensito.Density]
	speedPoint, fractional sensito.Estimate[sensito.LogExposure]

	gamma, index, gradient, iso    sensito.Estimate[float64]
	speed, deltaX, fractionalSpeed sensito.Estimate[sensito.Speed]
}

// Quantities beside the speed point, the contrast index and base plus fog, as warnings
// name them.
const (
	ofTop        = "the maximum density"
	ofGamma      = "gamma"
	ofGradient   = "the average gradient"
	ofISO        = "the ISO density difference"
	ofFractional = "the fractional-gradient speed"
)

// OfMore says whether a warning of a strip is of a quantity beside its speed point,
// contrast index and base plus fog.
func OfMore(w sensito.Warning) bool {
	return len(w.Values) > 0 && slices.Contains([]any{ofTop, ofGamma, ofGradient, ofISO, ofFractional}, w.Values[0])
}

// column stores one of the derived quantities, the named one, and returns where. Where it
// could not be had it returns nil and notes why: why returns what keeps the curve
// itself from it, if anything does.
func column[Q ~float64](m *Measured, i int, to *sensito.Estimate[Q], name string, why func() error) *sensito.Estimate[Q] {
	v, sd := m.Derived.Values[i], m.Derived.SD(i)
	if !math.IsNaN(v) && !math.IsNaN(sd) {
		*to = sensito.Estimate[Q]{Value: Q(v), StdErr: Q(sd), DoF: m.Fit.DoF}
		return to
	}
	if err := why(); err != nil {
		m.Warnings.Add("wedge_too_short/2", name, err)
	} else {
		m.Warnings.Add("no_uncertainty/2", name)
	}
	return nil
}

// leans warns when a quantity uses the curve at h outside the readings.
func (m *Measured) leans(name string, h, lo, hi sensito.LogExposure) {
	const slack = 0.005 // log H, below the accuracy of any wedge
	switch {
	case h < lo.Add(-slack):
		m.Warnings.Add("extrapolated/2", name, float64(lo.Sub(h)))
	case h > hi.Add(slack):
		m.Warnings.Add("extrapolated/3", name, float64(h.Sub(hi)))
	}
}

// Overexposed says whether the strip does not show its speed point because its
// faintest step is denser already.
func (m *Measured) Overexposed() bool {
	c := m.Fit.Curve
	lo, _ := c.Domain()
	point, err := SpeedPoint(c)
	return (err != nil || point < lo.Add(-Reach)) && c.Density(lo).Above(BaseFog(c)) > SpeedPointDensity
}

// notPaper refuses a trial of paper where film is asked for.
func notPaper(t *sensito.Trial) error {
	if t.Material() != sensito.PaperMaterial {
		return nil
	}
	return &sensito.Unanswerable{
		Reason: t.Film().Name + " is a paper: it has a range and a paper speed, and no film speed or development for a scene",
		Hint:   "use sensito paper",
	}
}
