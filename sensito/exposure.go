package sensito

import (
	"fmt"
	"math"
	"slices"

	"sensito/sensito/internal/check"
)

// Kind says how the exposures of a trial were made.
type Kind string

const (
	Contact  Kind = "contact"  // under a step wedge, at a known illuminance
	Camera   Kind = "camera"   // an even target, in stops from the metered exposure
	Relative Kind = "relative" // known only up to a common factor
)

// Kinds are all of them.
var Kinds = []Kind{Contact, Camera, Relative}

// MeterConstants hold the two constants that tie a reflected-light meter to
// the exposure at the film: H = Q * K / S lux seconds at the metered exposure,
// S being the index set on the meter. Zero fields stand for the defaults
// K = 12.5 cd s/m2 (ISO 2720:1974 allows 10.6 to 13.4) and Q = 0.65
// (from memory; restated with H = 8.125/S in readings of the meter standard).
type MeterConstants struct {
	K float64 // cd s/m2
	Q float64 // of lens and camera, a plain number
}

// WithDefaults returns the constants with the defaults in place of zeros.
func (m MeterConstants) WithDefaults() MeterConstants {
	if m.K == 0 {
		m.K = 12.5
	}
	if m.Q == 0 {
		m.Q = 0.65
	}
	return m
}

// LogExposure returns the exposure at the film when the meter is set to index
// s and the metered exposure is given, log10 lux seconds: log10(Q K / S).
func (m MeterConstants) LogExposure(s Speed) LogExposure {
	m = m.WithDefaults()
	return LogExposure(math.Log10(m.Q * m.K / float64(s)))
}

// Index returns the meter setting for which a tone placed shadowStops below
// the metered exposure receives the exposure h: Q K / (2^m H).
func (m MeterConstants) Index(h LogExposure, shadowStops float64) Speed {
	m = m.WithDefaults()
	return Speed(m.Q * m.K / (math.Exp2(shadowStops) * h.LuxSeconds()))
}

// Exposures are the exposures of the steps of a trial, in wedge order. They are
// made by NewContact, NewCamera or NewRelative.
type Exposures struct {
	kind     Kind
	logH     []LogExposure
	absolute bool
	meter    MeterConstants
	commonSD LogRange

	illuminanceLx float64 // with seconds, of Contact; 0 for the other kinds
	seconds       Seconds

	// given are the wedge densities, the stops or the relative logarithms that
	// the exposures were made from; index is that of Camera.
	given     []float64
	index     Speed
	reference LogExposure // of TiedTo
	tied      bool

	wedged  bool     // Relative, given by a wedge
	wedgeSD LogRange // of WithWedgeSD
	frame   *Frame   // of WithFrame
}

// Frame is one exposure of an even target in the camera, which ties relative exposures
// to lux seconds by the density that it got; see Exposures.WithFrame.
type Frame struct {
	Index   Speed   // set on the meter
	Stops   float64 // from the metered exposure
	Minutes Minutes // of its development, those of a strip
	Density []Density
}

// Kind says how the exposures were made.
func (e Exposures) Kind() Kind { return e.kind }

// Seconds returns how long the steps were exposed by contact, 0 for the other
// kinds.
func (e Exposures) Seconds() Seconds { return e.seconds }

// IlluminanceLx returns the illuminance by contact in lux, at the film with
// nothing in between; 0 for the other kinds.
func (e Exposures) IlluminanceLx() float64 { return e.illuminanceLx }

// Wedge returns the densities of the wedge as given, nil where there is none.
func (e Exposures) Wedge() []Density {
	if e.wedged {
		return givenAs[Density](e, Relative)
	}
	return givenAs[Density](e, Contact)
}

// MeterIndex returns the index that was set on the meter, 0 for the kinds other
// than Camera.
func (e Exposures) MeterIndex() Speed { return e.index }

// Stops returns the exposures in stops from the metered one as given, nil for
// the kinds other than Camera.
func (e Exposures) Stops() []float64 { return givenAs[float64](e, Camera) }

// RelativeLogH returns relative exposures as given, log10, not moved by what ties them
// down: those under a wedge are less than with nothing in between. It is nil for the
// kinds other than Relative.
func (e Exposures) RelativeLogH() []LogExposure {
	h := givenAs[LogExposure](e, Relative)
	if e.wedged {
		for i := range h {
			h[i] = -h[i]
		}
	}
	return h
}

// ReferenceSpeedPoint returns the place on the relative scale that ties it to a
// film of known speed; ok is false where nothing does. See TiedTo.
func (e Exposures) ReferenceSpeedPoint() (h LogExposure, ok bool) { return e.reference, e.tied }

// givenAs returns what exposures of the kind were made from, nil for others.
func givenAs[T ~float64](e Exposures, k Kind) []T {
	if e.kind != k {
		return nil
	}
	out := make([]T, len(e.given))
	for i, v := range e.given {
		out[i] = T(v)
	}
	return out
}

// Len returns the number of steps.
func (e Exposures) Len() int { return len(e.logH) }

// LogH returns the exposures in wedge order, log10 lux seconds (relative to an
// unknown exposure when Absolute is false).
func (e Exposures) LogH() []LogExposure { return slices.Clone(e.logH) }

// Absolute says whether the exposures are known in lux seconds.
func (e Exposures) Absolute() bool { return e.absolute }

// CommonSD returns the standard deviation of the error that all steps share,
// from lamp, shutter or meter.
func (e Exposures) CommonSD() LogRange { return e.commonSD }

// WedgeSD returns the standard deviation of the density of each step of the wedge, 0
// where it is taken as exact.
func (e Exposures) WedgeSD() LogRange { return e.wedgeSD }

// Frame returns the frame that ties relative exposures down, nil for none.
func (e Exposures) Frame() *Frame {
	if e.frame == nil {
		return nil
	}
	f := *e.frame
	f.Density = slices.Clone(f.Density)
	return &f
}

// Meter returns the meter constants, defaults filled in.
func (e Exposures) Meter() MeterConstants { return e.meter.WithDefaults() }

const (
	minSteps, maxSteps = 3, 1000
	maxWedgeDensity    = 6.0
)

// NewContact returns the exposures under a wedge of the given step densities,
// printed by contact at the illuminance (lux, at the film with nothing in
// between) for a time in seconds: log H = log10(E t) - D. The wedge may run
// either way but must not turn. The error joins FieldErrors with keys below
// "exposure".
func NewContact(illuminanceLx, seconds float64, wedge []Density) (Exposures, error) {
	var f check.Faults
	if !numbered(wedge) { // which alone is told
		checkContact(&f, check.Place{Table: "exposure"}, illuminanceLx, seconds)
		checkCount(&f, "exposure.wedge", len(wedge))
	}
	checkWedge(&f, "exposure.wedge", wedge)
	if err := f.Err(); err != nil {
		return Exposures{}, err
	}
	lamp := math.Log10(illuminanceLx * seconds)
	logH, given := make([]LogExposure, len(wedge)), make([]float64, len(wedge))
	for i, d := range wedge {
		logH[i], given[i] = LogExposure(lamp-float64(d)), float64(d)
	}
	return Exposures{kind: Contact, logH: logH, absolute: true, illuminanceLx: illuminanceLx, seconds: Seconds(seconds), given: given}, nil
}

// checkWedge notes what is wrong with the densities of the steps of a wedge or tablet.
func checkWedge(f *check.Faults, key string, wedge []Density) {
	if numbered(wedge) {
		f.Add(key, "1 to %d are numbers of steps; a wedge is given by the density of each step", len(wedge))
		return
	}
	for i, d := range wedge {
		f.WithinAt(key, i, float64(d), 0, maxWedgeDensity, "")
	}
	if i := turn(wedge); i > 0 {
		f.Add(fmt.Sprintf("%s[%d]", key, i+1),
			"%g after %g breaks the order of the wedge; its densities must rise or fall all the way", wedge[i], wedge[i-1])
	}
}

// numbered says whether a wedge holds the numbers of its steps in place of their
// densities.
func numbered(wedge []Density) bool {
	for i, d := range wedge {
		if d != Density(i+1) {
			return false
		}
	}
	return len(wedge) > 2
}

func checkContact(f *check.Faults, at check.Place, illuminanceLx, seconds float64) {
	at.Within(f, "illuminance_lx", illuminanceLx, 1e-6, 1e7, " lx")
	at.Within(f, "seconds", seconds, 1e-6, 1e6, " s")
}

// CheckEvenWedge returns which of first, step and count cannot be of a wedge, and
// why; "" for none.
func CheckEvenWedge(first, step, count float64) (which, reason string) {
	const most, tiniest, rounding = 1000, 0.001, 1e-9
	switch last := first + (count-1)*step; {
	case count != math.Trunc(count):
		return "count", fmt.Sprintf("must be a whole number, not %g", count)
	case count < 3 || count > most:
		return "count", fmt.Sprintf("%g steps is outside 3 to %d", count, most)
	case first < 0 || first > maxWedgeDensity:
		return "first", fmt.Sprintf("%g is outside 0 to %g", first, maxWedgeDensity)
	case math.Abs(step) < tiniest:
		return "step", fmt.Sprintf("%g is too small to tell the steps apart", step)
	case step > 0 && last > maxWedgeDensity+rounding:
		return "step", fmt.Sprintf("puts the last step at density %.4g, outside 0 to %g; a wedge read from its dense end has a negative step", last, maxWedgeDensity)
	case last < -rounding:
		return "step", fmt.Sprintf("puts the last step at density %.4g, outside 0 to %g", last, maxWedgeDensity)
	}
	return "", ""
}

// EvenWedge returns count densities from first in equal steps; step is
// negative for a wedge read from its dense end.
func EvenWedge(first, step Density, count int) []Density {
	w := make([]Density, max(count, 0))
	for i := range w {
		// Rounded so that 0.05 + 19*0.15 is 2.90, as printed on the wedge.
		w[i] = Density(math.Round((float64(first)+float64(i)*float64(step))*1e6) / 1e6)
	}
	return w
}

// NewCamera returns the exposures of an even target, metered at index s and
// exposed by the given numbers of stops from the metered exposure:
// H = Q K / S * 2^n (ISO 2720:1974). The error joins FieldErrors with keys
// below "exposure".
func NewCamera(index Speed, stops []float64, meter MeterConstants) (Exposures, error) {
	var f check.Faults
	f.Within("exposure.meter_index", float64(index), 0.01, 1e6, "")
	checkCount(&f, "exposure.stops", len(stops))
	for i, n := range stops {
		f.WithinAt("exposure.stops", i, n, -20, 20, " stops")
	}
	checkMeter(&f, meter)
	if err := f.Err(); err != nil {
		return Exposures{}, err
	}
	metered := meter.LogExposure(index)
	logH := make([]LogExposure, len(stops))
	for i, n := range stops {
		logH[i] = metered.Add(LogRange(n) * Stop)
	}
	return Exposures{kind: Camera, logH: logH, absolute: true, meter: meter, given: slices.Clone(stops), index: index}, nil
}

// NewRelative returns exposures known only up to a common factor, given as
// their logarithms. The error joins FieldErrors with keys below "exposure".
func NewRelative(logH []LogExposure) (Exposures, error) {
	var f check.Faults
	checkCount(&f, "exposure.log_h", len(logH))
	for i, h := range logH {
		f.WithinAt("exposure.log_h", i, float64(h), -20, 20, "")
	}
	if err := f.Err(); err != nil {
		return Exposures{}, err
	}
	given := make([]float64, len(logH))
	for i, h := range logH {
		given[i] = float64(h)
	}
	return Exposures{kind: Relative, logH: slices.Clone(logH), given: given}, nil
}

// NewRelativeWedge returns exposures under a wedge of the given step densities, by light
// of which nothing is known but that it is the same at each step. The error is as for
// NewContact.
func NewRelativeWedge(wedge []Density) (Exposures, error) {
	e, err := NewContact(1, 1, wedge)
	e.kind, e.absolute, e.wedged, e.illuminanceLx, e.seconds = Relative, false, true, 0, 0
	return e, err
}

// WithWedgeSD returns the exposures with the standard deviation that the density of each
// step of the wedge has by itself, as of one without a certificate: the error of a step is
// the same on all strips. The error is a FieldError.
func (e Exposures) WithWedgeSD(sd LogRange) (Exposures, error) {
	var f check.Faults
	f.Within("exposure.wedge_sd", float64(sd), 0, 0.2, "")
	if sd != 0 && len(e.logH) > 0 && e.kind != Contact && !e.wedged {
		f.Add("exposure.wedge_sd", "goes with a wedge")
	}
	if err := f.Err(); err != nil {
		return e, err
	}
	e.wedgeSD = sd
	return e, nil
}

// WithFrame returns relative exposures that a frame in the camera is to tie down: it got
// H = Q K / S * 2^n (ISO 2720:1974), and a strip developed as long tells where the curve
// has its density. That takes a curve, so the exposures stay relative (see
// development.Tie). The error joins FieldErrors with keys below "exposure.frame".
func (e Exposures) WithFrame(frame Frame) (Exposures, error) {
	const key = "exposure.frame"
	var f check.Faults
	f.Within(key+".meter_index", float64(frame.Index), 0.01, 1e6, "")
	f.Within(key+".stops", frame.Stops, -20, 20, " stops")
	f.Within(key+".minutes", float64(frame.Minutes), 0.05, 1440, " min")
	if len(frame.Density) == 0 {
		f.Add(key+".density", "is missing")
	}
	switch {
	case len(e.logH) == 0: // told already
	case e.kind != Relative:
		f.Add(key, "goes with kind = %q, but the kind is %q", Relative, e.kind)
	case e.tied:
		f.Add(key, "does not go with reference_speed_point_log_h; one of them ties the exposures down")
	}
	if err := f.Err(); err != nil {
		return e, err
	}
	frame.Density = slices.Clone(frame.Density)
	frame.Stops += 0 // -0 is 0
	e.frame = &frame
	return e, nil
}

// ShiftedTo returns relative exposures made absolute: so much is added to each, which is
// known to within the standard deviation besides what all steps share.
func (e Exposures) ShiftedTo(by LogRange, sd LogRange) Exposures {
	e.logH = slices.Clone(e.logH)
	for i := range e.logH {
		e.logH[i] = e.logH[i].Add(by)
	}
	e.absolute, e.commonSD = true, LogRange(math.Hypot(float64(e.commonSD), float64(sd)))
	return e
}

// TiedTo returns the exposures made absolute by a reference: a film of known
// speed s whose speed point was found at reference on the relative scale. Its
// exposure there is 0.8/s lux seconds (ISO 6:1993). The error joins FieldErrors, of
// the reference and of a speed that is not above 0.
func (e Exposures) TiedTo(reference LogExposure, s Speed) (Exposures, error) {
	var f check.Faults
	f.Within("exposure.reference_speed_point_log_h", float64(reference), -20, 20, "")
	if !(s > 0) {
		f.Add("film.rated_speed", "is needed to tie relative exposures to reference_speed_point_log_h")
	}
	if err := f.Err(); err != nil {
		return e, err
	}
	shift := SpeedPointOf(s).Sub(reference)
	logH := make([]LogExposure, len(e.logH))
	for i, h := range e.logH {
		logH[i] = h.Add(shift)
	}
	e.logH, e.absolute, e.reference, e.tied = logH, true, reference, true
	return e, nil
}

// WithCommonSD returns the exposures with the standard deviation of the error
// that all steps share, in log10 exposure. It moves speed, never contrast.
func (e Exposures) WithCommonSD(sd LogRange) (Exposures, error) {
	var f check.Faults
	f.Within("exposure.log_h_sd", float64(sd), 0, 1, "")
	if err := f.Err(); err != nil {
		return e, err
	}
	e.commonSD = sd
	return e, nil
}

// WithMeter returns the exposures with other meter constants, for an exposure
// index on a meter that differs from the defaults. The error joins FieldErrors with
// keys below "exposure".
func (e Exposures) WithMeter(m MeterConstants) (Exposures, error) {
	var f check.Faults
	checkMeter(&f, m)
	if err := f.Err(); err != nil {
		return e, err
	}
	e.meter = m
	return e, nil
}

func checkMeter(f *check.Faults, m MeterConstants) {
	m = m.WithDefaults()
	f.Within("exposure.meter_k", m.K, 5, 30, " cd s/m2")
	f.Within("exposure.meter_q", m.Q, 0.2, 1, "")
}

func checkCount(f *check.Faults, key string, n int) {
	if n < minSteps || n > maxSteps {
		f.Add(key, "%d steps is outside %d to %d", n, minSteps, maxSteps)
	}
}

// turn returns the index of the first value that breaks a strictly rising or
// falling order, or 0.
func turn(w []Density) int {
	for i := 1; i < len(w); i++ {
		if (w[i]-w[i-1])*(w[1]-w[0]) <= 0 {
			return i
		}
	}
	return 0
}

// Span returns the faintest and the strongest exposure.
func (e Exposures) Span() (lo, hi LogExposure) { return slices.Min(e.logH), slices.Max(e.logH) }

// Lengthened returns the exposures with more beyond the strongest, as far apart
// as the others, until they reach further by at least more.
func (e Exposures) Lengthened(more LogRange) Exposures {
	lo, hi := e.Span()
	apart := hi.Sub(lo) / LogRange(len(e.logH)-1)
	e.logH = slices.Clone(e.logH)
	for n := 1; LogRange(n)*apart < more+apart; n++ {
		e.logH = append(e.logH, hi.Add(LogRange(n)*apart))
	}
	return e
}
