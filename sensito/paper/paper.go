// Package paper is what the strips of a trial of paper tell, each with its error: the
// useful range of log H and the speed by ISO 6846, white and black, and the grade.
//
// Begin with Measure.
package paper

import (
	"fmt"
	"math"
	"strings"
	"sync"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// The points of a paper's curve (ISO 6846:1992). The useful range runs from T,
// at 0.04 above the minimum density, to S, at 90 % of the net maximum density,
// maximum less minimum, above the minimum. That the 90 % are of the net density
// is from memory; a published account says "of the maximum density", which for
// densities of 0.05 and 2.10 asks for 1.890 in place of 1.895. Speed is judged
// at 0.60 above the minimum (from memory).
const (
	WhiteDensity sensito.NetDensity = 0.04
	BlackShare                      = 0.90
	SpeedDensity sensito.NetDensity = 0.60

	paperSpeedConstant = 1000 // lux seconds, P = 1000/H_m (from memory)
)

// SpeedAt returns the speed 1000/H of a paper whose density is 0.60 above
// its minimum at h (ISO 6846:1992, from memory).
func SpeedAt(h sensito.LogExposure) sensito.Speed {
	return sensito.Speed(paperSpeedConstant / h.LuxSeconds())
}

// Paper holds what the strips of a trial of paper say.
type Paper struct {
	Trial    *sensito.Trial
	Strips   []*Strip         // in the order of the notebook
	Warnings sensito.Warnings // of all strips alike
}

// Strip holds what the curve of one strip of paper says. A nil quantity
// could not be had; Warnings say why.
type Strip struct {
	Strip *sensito.Strip
	Grade string     // grade or contrast filter, "" when not stated
	Fit   *curve.Fit // nil when no curve could be had

	// WhiteReached and BlackReached say whether the steps show the ends of the
	// curve. Where they do not, what depends on that end is known to one side
	// only: its value is that of the outermost step, and its interval is open.
	WhiteReached, BlackReached bool

	MinDensity *sensito.Estimate[sensito.Density] // paper white
	MaxDensity *sensito.Estimate[sensito.Density] // black: the density the curve tends to

	// The ends of the useful range, T and S, and the distance between them;
	// White and Black are relative when the exposures are. LogRange is nil when
	// the steps show neither end of the curve.
	White, Black *sensito.Estimate[sensito.LogExposure]
	LogRange     *sensito.Estimate[sensito.LogRange]

	SpeedPoint      *sensito.Estimate[sensito.LogExposure] // 0.60 above MinDensity
	Speed           *sensito.Estimate[sensito.Speed]       // 1000/H there; nil when the exposures are relative. See ISOSpeed
	AverageGradient *sensito.Estimate[float64]             // of the chord from White to Black; nil unless both are reached

	Warnings sensito.Warnings

	paper    *Paper
	measured func() error // measures the strip once
	derived  fit.Derived  // the quantities in the order of the columns below

	first, last          sensito.LogExposure // of the steps behind the curve
	whiteRead            bool                // unexposed paper was read
	whiteSide, speedSide side                // where White and SpeedPoint lie
}

// Measure fits a curve to every strip of a trial of paper and derives its
// quantities. A strip without a curve has a nil Fit and a warning that says
// why. The error is Unanswerable when the trial is not of paper or no strip has
// a curve.
func Measure(t *sensito.Trial, o curve.FitOptions) (*Paper, error) {
	p, err := newPaper(t, o)
	if err != nil {
		return nil, err
	}
	var first error
	fitted := false
	for _, m := range p.Strips {
		if err := m.measured(); err != nil && first == nil {
			first = err
		}
		fitted = fitted || m.Fit != nil
	}
	if !fitted {
		return nil, first
	}
	return p, nil
}

// MeasureGrade returns the strip of one grade or filter, named as for
// Paper.Grade; the others are measured when they are asked for. The errors are
// those of Measure and Paper.Grade.
func MeasureGrade(t *sensito.Trial, name string, o curve.FitOptions) (*Strip, error) {
	p, err := newPaper(t, o)
	if err != nil {
		return nil, err
	}
	m, err := p.Grade(name)
	if err != nil {
		return nil, err
	}
	return m, m.measured()
}

// newPaper returns the paper with its strips not yet measured.
func newPaper(t *sensito.Trial, o curve.FitOptions) (*Paper, error) {
	if t.Material() != sensito.PaperMaterial {
		return nil, &sensito.Unanswerable{
			Reason: t.Film().Name + " is a film, not a paper",
			Hint:   `use curve, family, scene or card; the file of a paper says kind = "paper" and has a table [paper]`,
		}
	}
	p := &Paper{Trial: t, Warnings: sensito.Warnings{}}
	var pictured []string
	for _, s := range t.Strips() {
		if s.CopyOf() > 0 {
			p.Warnings.Add("strip_copied", s.Copied())
			continue
		}
		m := &Strip{Strip: s, Grade: s.Grade(), Warnings: sensito.Warnings{}, paper: p}
		if m.Pictured() {
			pictured = append(pictured, m.name())
		}
		m.measured = sync.OnceValue(func() error { return m.measure(o) })
		p.Strips = append(p.Strips, m)
	}
	if !t.Exposures().Absolute() {
		p.Warnings.Add("relative_exposure/2")
	}
	if t.Reading().Zero == sensito.ZeroBase {
		p.Warnings.Add("zero_on_base/2")
	}
	if len(pictured) > 0 {
		p.Warnings.Add("reflection_pictured", strings.Join(pictured, ", "))
	}
	return p, nil
}

// Grade returns the strip of a grade or filter, written as in the notebook. An
// empty name means the only strip or, of several, grade 2. The error names the
// grades there are.
func (p *Paper) Grade(name string) (*Strip, error) {
	wanted := name
	if name == "" {
		if len(p.Strips) == 1 {
			return p.Strips[0], nil
		}
		wanted = "2"
	}
	var found []*Strip
	var grades []string
	for _, s := range p.Strips {
		if strings.EqualFold(s.Grade, wanted) {
			found = append(found, s)
		}
		grades = append(grades, s.name())
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return nil, fmt.Errorf("%s has %d strips of grade %s; keep one of them in a trial of its own", p.Trial.Film().Name, len(found), wanted)
	case name == "":
		return nil, fmt.Errorf("%s has several grades and none is 2: name one of %s", p.Trial.Film().Name, strings.Join(grades, ", "))
	}
	return nil, fmt.Errorf("%s has no grade %q, only %s", p.Trial.Film().Name, name, strings.Join(grades, ", "))
}

// name returns the grade, or the number of a strip without one.
func (m *Strip) name() string {
	if m.Grade == "" {
		return fmt.Sprintf("strip %d", m.Strip.Number())
	}
	return m.Grade
}

// Siblings returns all strips of the paper, measured.
func (m *Strip) Siblings() []*Strip {
	for _, s := range m.paper.Strips {
		_ = s.measured() // one without a curve has a nil Fit
	}
	return m.paper.Strips
}

// Pictured says whether the strip was read in a picture. Such densities are not of the
// geometry of ISO 5-4, 45/0: gloss and texture of the paper decide what a scanner sees.
// Its range and speed are then not those of ISO 6846.
func (m *Strip) Pictured() bool { return m.Strip != nil && m.Strip.Calibration() != nil }

// WarningsAlone returns the Warnings of the strip, with what the paper's say of one that was
// read in a picture.
func (m *Strip) WarningsAlone() sensito.Warnings {
	if !m.Pictured() {
		return m.Warnings
	}
	return append(sensito.Warnings{sensito.Warn("reflection_pictured", m.name())}, m.Warnings...)
}

// ISORange returns the ISO range, 100 times the log exposure range (ISO
// 6846:1992); nil when there is none, and for a strip that was read in a picture.
func (m *Strip) ISORange() *sensito.Estimate[float64] {
	if m.LogRange == nil || m.Pictured() {
		return nil
	}
	e := m.LogRange
	return &sensito.Estimate[float64]{Value: 100 * float64(e.Value), StdErr: 100 * float64(e.StdErr), DoF: e.DoF, AtLeast: e.AtLeast}
}

// ISOSpeed returns Speed where it is that of ISO 6846:1992; nil for a strip that was read
// in a picture.
func (m *Strip) ISOSpeed() *sensito.Estimate[sensito.Speed] {
	if m.Pictured() {
		return nil
	}
	return m.Speed
}

// Negative returns the density range of a negative that fills the paper (see
// NegativeRange); nil when there is no range.
func (m *Strip) Negative(callier float64) *sensito.Estimate[sensito.NetDensity] {
	if m.LogRange == nil {
		return nil
	}
	e := m.LogRange
	return &sensito.Estimate[sensito.NetDensity]{Value: NegativeRange(e.Value, callier), StdErr: NegativeRange(e.StdErr, callier), DoF: e.DoF, AtLeast: e.AtLeast}
}

// RoundedRange returns the ISO range as it is printed, to the nearest ten, a
// five upwards (from memory), or down where the range is known to be at least so
// much; 0 where ISORange is nil.
func (m *Strip) RoundedRange() int {
	if m.ISORange() == nil {
		return 0
	}
	if m.LogRange.AtLeast {
		return 10 * int(math.Floor(10*float64(m.LogRange.Value)))
	}
	return roundedRange(m.LogRange.Value)
}

func roundedRange(r sensito.LogRange) int {
	const slack = 1e-9 // for 1.05, which is no binary number
	return 10 * int(math.Floor(10*float64(r)+0.5+slack))
}

// The quantities of a strip of paper, as columns.
const (
	paperMin = iota
	paperMax
	paperWhite
	paperBlack
	paperRange
	paperSpeed
	paperGradient
)

// columns returns the quantities of a curve, NaN for those it does not reach.
func (m *Strip) columns(c curve.Curve) ([]float64, error) {
	low, top := m.white(c), m.black(c)
	useful := BlackShare * top.Above(low)
	white, black := m.whitePoint(c), m.place(c, useful.Over(low), amongSteps)
	return []float64{
		paperMin:      float64(low),
		paperMax:      float64(top),
		paperWhite:    white,
		paperBlack:    black,
		paperRange:    black - white,
		paperSpeed:    m.place(c, SpeedDensity.Over(low), m.speedSide),
		paperGradient: float64(useful-WhiteDensity) / (black - white),
	}, nil
}

func (m *Strip) measure(o curve.FitOptions) error {
	f, err := curve.FitStrip(m.Strip, o)
	if err != nil {
		m.Warnings.Add("no_curve/2", err)
		return err
	}
	m.Fit = f
	m.Warnings = append(m.Warnings, f.Warnings...)
	m.derive()
	return nil
}

func (m *Strip) derive() {
	c := m.Fit.Curve
	m.findEnds()
	var err error
	if m.derived, err = curve.DeriveAll(m.Fit, m.columns); err != nil {
		m.Warnings.Add("no_uncertainty")
		return
	}
	m.MinDensity = paperColumn[sensito.Density](m, paperMin, "paper white")
	m.MaxDensity = paperColumn[sensito.Density](m, paperMax, "the maximum density")
	m.White = paperColumn[sensito.LogExposure](m, paperWhite, "the light end of the range")
	m.Black = paperColumn[sensito.LogExposure](m, paperBlack, "the dark end of the range")
	if m.White != nil && m.Black != nil {
		m.LogRange = paperColumn[sensito.LogRange](m, paperRange, "the range")
		m.AverageGradient = paperColumn[float64](m, paperGradient, "the average gradient")
	}
	m.SpeedPoint = paperColumn[sensito.LogExposure](m, paperSpeed, "the speed point")
	m.open()

	lo, hi := c.Domain()
	m.leans("the light end of the range", m.White, lo, hi)
	m.leans("the dark end of the range", m.Black, lo, hi)
	m.leans("the speed point", m.SpeedPoint, lo, hi)
	if !sensito.SameProcess(m.Strip.Process(), m.Strip.Trial().Process()) {
		m.Warnings.Add("other_conditions", m.Strip.Process())
	}

	e := m.Strip.Trial().Exposures()
	for _, place := range []*sensito.Estimate[sensito.LogExposure]{m.White, m.Black, m.SpeedPoint} {
		if place != nil {
			place.AddCommon(e.CommonSD())
		}
	}
	if e.Absolute() && m.SpeedPoint != nil {
		m.Speed = curve.SpeedEstimate(*m.SpeedPoint, SpeedAt)
	}
}

// paperColumn returns one of the derived quantities. Where it could not be had
// it returns nil and notes why.
func paperColumn[Q ~float64](m *Strip, i int, name string) *sensito.Estimate[Q] {
	v, sd := m.derived.Values[i], m.derived.SD(i)
	switch {
	case math.IsNaN(v):
		m.Warnings.Add("wedge_too_short/3", name)
		return nil
	case math.IsNaN(sd):
		m.Warnings.Add("no_uncertainty/2", name)
		return nil
	}
	return &sensito.Estimate[Q]{Value: Q(v), StdErr: Q(sd), DoF: m.Fit.DoF}
}

// wedgeSlack is below the accuracy of any wedge.
const wedgeSlack sensito.LogRange = 0.005

// leans warns when a place lies outside the readings.
func (m *Strip) leans(name string, at *sensito.Estimate[sensito.LogExposure], lo, hi sensito.LogExposure) {
	switch {
	case at == nil:
	case at.Value < lo.Add(-wedgeSlack):
		m.Warnings.Add("extrapolated/2", name, float64(lo.Sub(at.Value)))
	case at.Value > hi.Add(wedgeSlack):
		m.Warnings.Add("extrapolated/4", name, float64(at.Value.Sub(hi)))
	}
}

// Name returns the paper's name with its grade or filter.
func (p *Strip) Name() string {
	name := p.Strip.Trial().Film().Name
	if p.Grade != "" {
		name += " grade " + p.Grade
	}
	return name
}

// Grade is one grade of contrast of the old American numbering, by the log
// exposure ranges that belong to it.
type Grade struct {
	Name      string           // "0" to "5"
	Low, High sensito.LogRange // its limits
}

// Middle returns the range in the middle of the grade, for which a negative is
// made.
func (g Grade) Middle() sensito.LogRange { return (g.Low + g.High) / 2 }

// gradeTable splits log exposure ranges from 0.50 to 1.70 into six grades (ANSI
// PH2.2-1966, restated in print; the limits between the grades are from
// memory). The numbering was dropped in 1981 and lives on in the trade.
var gradeTable = [...]Grade{
	{"0", 1.40, 1.70}, {"1", 1.15, 1.40}, {"2", 0.95, 1.15}, {"3", 0.80, 0.95}, {"4", 0.65, 0.80}, {"5", 0.50, 0.65},
}

// GradeTable returns the grades, the softest first.
func GradeTable() []Grade { return append([]Grade(nil), gradeTable[:]...) }

// GradeOf returns the grade that a log exposure range belongs to; a limit
// between two belongs to the softer. ok is false below 0.50 and above 1.70.
func GradeOf(r sensito.LogRange) (name string, ok bool) {
	if r > gradeTable[0].High {
		return "", false
	}
	for _, g := range gradeTable {
		if r >= g.Low {
			return g.Name, true
		}
	}
	return "", false
}

// GradeRange returns the log exposure range in the middle of a grade, "0" to
// "5"; ok is false for another name.
func GradeRange(name string) (r sensito.LogRange, ok bool) {
	for _, g := range gradeTable {
		if g.Name == name {
			return g.Middle(), true
		}
	}
	return 0, false
}

// NegativeRange returns the diffuse density range of a negative that fills the
// log exposure range r of a paper: r itself with a diffusion enlarger or in
// contact, r over the Callier coefficient, specular density over diffuse
// density, with a condenser enlarger. A coefficient of 0 means 1.
func NegativeRange(r sensito.LogRange, callier float64) sensito.NetDensity {
	if callier == 0 {
		callier = 1
	}
	return sensito.NetDensity(float64(r) / callier)
}

// Sample returns n points of the curve, evenly spaced from end to end of the exposures
// that it rests on, with net densities above paper white; n is at least 2. It is nil when
// the strip has no curve.
func (m *Strip) Sample(n int) []curve.Point { return m.Fit.Sample(m.white, n) }
