package camera

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// EV is an exposure value, log2(N^2/t) of an aperture N and a time t in seconds,
// as a meter reads it with its index set: the luminance behind an EV, and the
// exposure it gives a film, are known only together with that index. It is not
// the EV of tables at speed 100 unless the index is 100.
type EV float64

// EVOf returns the exposure value of a camera setting; the aperture counts as
// the one its mark stands for. It is for programs that use the library.
func EVOf(n sensito.FNumber, t sensito.Seconds) EV {
	return EV(2*math.Log2(float64(n.Exact())) - math.Log2(float64(t)))
}

// Shutter returns the time that goes with an aperture, exactly: N^2 / 2^EV
// seconds, N being what the mark stands for. See Seconds.Nominal.
func (e EV) Shutter(n sensito.FNumber) sensito.Seconds {
	exact := float64(n.Exact())
	return sensito.Seconds(exact * exact / math.Exp2(float64(e)))
}

// Aperture returns the aperture that goes with a time, exactly: sqrt(t 2^EV).
// See FNumber.Nominal.
func (e EV) Aperture(t sensito.Seconds) sensito.FNumber {
	return sensito.FNumber(math.Sqrt(float64(t) * math.Exp2(float64(e))))
}

// Luminance returns the luminance, cd/m2, that a reflected-light meter set to
// the index reads as e: K 2^EV / S (ISO 2720:1974, restated).
func (e EV) Luminance(index sensito.Speed, m sensito.MeterConstants) float64 {
	return m.WithDefaults().K * math.Exp2(float64(e)) / float64(index)
}

// DefaultIncidentC is the constant of an incident-light meter with a flat
// receptor, lx s (from memory).
const DefaultIncidentC = 250

// Illuminance returns the illuminance, lux, that an incident-light meter of
// constant c, lx s, set to the index reads as e: C 2^EV / S (ISO 2720:1974,
// restated). 0 for c means DefaultIncidentC.
func (e EV) Illuminance(index sensito.Speed, c float64) float64 {
	if c == 0 {
		c = DefaultIncidentC
	}
	return c * math.Exp2(float64(e)) / float64(index)
}

// String returns the value to the hundredth, with thirds as "10 1/3".
func (e EV) String() string { return thirdsText(float64(e)) }

// Zone is a print tone of the zone system, in stops of exposure from zone 0;
// what the meter's reading gives when it is set on the camera is zone V.
type Zone float64

// NormalStops is the range of a scene of N, in stops: zones I to VIII.
const NormalStops float64 = 7

// MeteredZone is where a tone lands that is exposed as metered.
const (
	MeteredZone     Zone = 5
	lastZone        Zone = 10
	lowestEV, topEV EV   = -10, 25
)

var romans = [...]string{"0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X"}

// String returns the zone to the hundredth in Roman figures, as "III", "III.5"
// or "VIII 1/3", and in Arabic ones where it lies below 0 or beyond X.
func (z Zone) String() string {
	text := thirdsText(float64(z))
	end := strings.IndexAny(text, ". ")
	if end < 0 {
		end = len(text)
	}
	n, err := strconv.Atoi(text[:end])
	if err != nil || n >= len(romans) || n < 0 || strings.HasPrefix(text, "-") {
		return text
	}
	return romans[n] + text[end:]
}

// toThirds rounds to the hundredth, and takes .33 and .67 for the thirds that
// meters with a scale of thirds give.
func toThirds(v float64) float64 {
	cents := math.Round(math.Abs(v) * 100)
	whole := math.Trunc(cents / 100)
	switch cents - 100*whole {
	case 33:
		return math.Copysign(whole+1./3, v)
	case 67:
		return math.Copysign(whole+2./3, v)
	}
	return math.Copysign(cents/100, v)
}

// thirdsText writes what toThirds makes of v.
func thirdsText(v float64) string {
	cents := math.Round(math.Abs(v) * 100)
	whole := math.Trunc(cents / 100)
	text := ""
	if v < 0 && cents > 0 {
		text = "-"
	}
	third := map[float64]string{33: "1/3", 67: "2/3"}[cents-100*whole]
	switch {
	case third == "":
		return text + strconv.FormatFloat(cents/100, 'f', -1, 64)
	case whole == 0:
		return text + third
	}
	return fmt.Sprintf("%s%.0f %s", text, whole, third)
}

// DefaultMeterIndex is the index of a meter that reads the EV of tables.
const DefaultMeterIndex sensito.Speed = 100

// SpotReading is what a spot meter reads and the zone it goes with: where a shadow is
// placed, or where a highlight is wanted.
type SpotReading struct {
	EV   EV
	Zone Zone
}

// String returns the reading as ParseSpotReading reads it: "8@III",
// "10 1/3@VIII.5".
func (p SpotReading) String() string { return p.EV.String() + "@" + p.Zone.String() }

var romanForm = lazy.Regexp(`^(VIII|VII|VI|V|IV|IX|III|II|I|X)([.,]\d+| +\d+/\d+)?$`)

// ParseSpotReading reads EV@ZONE. The EV is a decimal or has a fraction, as "8",
// "10.3", "10,3" or "10 1/3"; .33 and .67 are thirds, and more than hundredths
// are rounded away. The zone is Roman or Arabic, with a fraction if need be, as
// "III", "3", "III.5" or "3 1/2". The error names the text and the limits: EV
// -10 to 25, zones 0 to X.
func ParseSpotReading(text string) (SpotReading, error) {
	reading, place, both := strings.Cut(text, "@")
	reading, place = strings.TrimSpace(reading), strings.ToUpper(strings.TrimSpace(place))
	ev, ok := decimal.ParseFraction(reading)
	if !both || !ok {
		return SpotReading{}, fmt.Errorf("%q is not a meter reading on a zone, like 8@III or 10 1/3@VIII", text)
	}
	if part := romanForm().FindStringSubmatch(place); part != nil {
		for n, roman := range romans {
			if roman == part[1] {
				place = strconv.Itoa(n) + part[2]
			}
		}
	}
	zone, ok := decimal.ParseFraction(place)
	if !ok {
		return SpotReading{}, fmt.Errorf("%q: %q is not a zone from 0 to X, like III, III.5 or 3", text, place)
	}
	p := SpotReading{EV: EV(toThirds(ev)), Zone: Zone(toThirds(zone))}
	if err := p.check(); err != nil {
		return SpotReading{}, fmt.Errorf("%q: %w", text, err)
	}
	p.EV, p.Zone = p.EV+0, p.Zone+0 // no negative zero
	return p, nil
}

func (p SpotReading) check() error {
	switch {
	case !(p.EV >= lowestEV && p.EV <= topEV):
		return fmt.Errorf("EV %g is outside %g to %g", float64(p.EV), float64(lowestEV), float64(topEV))
	case !(p.Zone >= 0 && p.Zone <= lastZone):
		return fmt.Errorf("zone %v is outside 0 to X", p.Zone)
	}
	return nil
}

// Metering is a scene as a spot meter sees it. The shadow is placed on its zone,
// which sets the exposure. The highlight then falls where it lies; its Zone is
// where it is wanted, which sets the development.
//
// The zone of the shadow reading has no say in the exposure index: that one
// puts the speed point Scene.ShadowStops below the metered exposure (zone I at
// 4), whatever tone the photographer meters and places.
type Metering struct {
	Shadow, Highlight SpotReading
	Index             sensito.Speed // set on the meter when reading; 0 means DefaultMeterIndex
}

func (m Metering) index() sensito.Speed {
	if m.Index == 0 {
		return DefaultMeterIndex
	}
	return m.Index
}

// CheckMeterIndex returns an error naming an index that no meter has.
func CheckMeterIndex(i sensito.Speed) error {
	if !(i >= 0.01 && i <= 1e6) {
		return fmt.Errorf("meter index %g is outside 0.01 to 1e+06", float64(i))
	}
	return nil
}

// Check returns an error naming what is outside its limits.
func (m Metering) Check() error {
	var errs []error
	for _, p := range []struct {
		name string
		SpotReading
	}{{"shadow", m.Shadow}, {"highlight", m.Highlight}} {
		if err := p.check(); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", p.name, err))
		}
	}
	if err := CheckMeterIndex(m.index()); err != nil {
		errs = append(errs, err)
	}
	if len(errs) == 0 && m.Highlight.EV <= m.Shadow.EV {
		errs = append(errs, fmt.Errorf("the highlight at EV %v reads no brighter than the shadow at EV %v", m.Highlight.EV, m.Shadow.EV))
	}
	if len(errs) == 0 && m.Highlight.Zone <= m.Shadow.Zone {
		errs = append(errs, fmt.Errorf("the highlight is wanted on zone %v, no lighter than the shadow on zone %v", m.Highlight.Zone, m.Shadow.Zone))
	}
	return errors.Join(errs...)
}

// FallsOn returns the zone on which the highlight falls once the shadow is
// placed: a zone a stop. It may lie beyond X.
func (m Metering) FallsOn() Zone { return m.Shadow.Zone + Zone(m.Highlight.EV-m.Shadow.EV) }

// N returns the development wanted, in zones from normal: the zone where the
// highlight is wanted less the one where it falls. N+1 carries a zone VII
// exposure to the density of zone VIII, N-1 brings zone IX down to it (Kachel
// 1995), whatever the shadow is placed on; where the highlight is wanted on
// another zone than VIII, the same count is common but not universal.
func (m Metering) N() float64 { return float64(m.Highlight.Zone - m.FallsOn()) }

// Range returns the range of the scene for Scene.Stops: the stops between the
// tones that the development puts where a normal one puts zones I and VIII,
// which is 7 less N. Five stops from III to VIII are thus 7, normal, and four
// are 6, N+1. It is not the difference of the readings, which depends on what
// was metered, nor that difference stretched to seven zones, which would make
// the same N mean another development for every shadow zone. The error is that
// of Check, or says that the range is outside 1 to 20 stops.
func (m Metering) Range() (stops float64, err error) {
	if err := m.Check(); err != nil {
		return 0, err
	}
	stops = NormalStops - m.N()
	if !(stops >= 1 && stops <= 20) {
		return 0, fmt.Errorf("the highlight falls on zone %v and is wanted on %v, N%+.3g: a scene range of %.3g stops is outside 1 to 20",
			m.FallsOn(), m.Highlight.Zone, m.N(), stops)
	}
	return stops, nil
}

// Exposure returns the EV to set on the camera for a film of exposure index ei:
// the shadow's reading, a stop more for each zone its placement lies below V,
// and log2(ei/Index) for the index that the meter had.
func (m Metering) Exposure(ei sensito.Speed) EV {
	return m.Shadow.EV + EV(MeteredZone-m.Shadow.Zone) + EV(math.Log2(float64(ei/m.index())))
}
