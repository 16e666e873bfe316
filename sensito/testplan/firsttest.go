package testplan

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/internal/check"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// FirstTestSpec is what is known before anything is tested. Zero fields other
// than Film, RatedSpeed and Minutes stand for the defaults.
type FirstTestSpec struct {
	Film       sensito.Film    // with its rated speed, the guess of its speed
	Process    sensito.Process // in which it will be developed
	Minutes    sensito.Minutes // published or guessed for that
	Strips     int             // how many times to test; 0 means 5
	Way        sensito.Kind    // Contact or Camera; "" means Contact
	WedgeCount int             // steps of the wedge; 0 means 21
	WedgeStep  sensito.Density // between two of them; 0 means 0.15

	// WedgeFirst is the thinnest step, which may be 0; nil means 0.05.
	WedgeFirst *sensito.Density

	// Of a contact exposure, one of the two may be given; with neither it is
	// a second.
	Seconds       float64
	IlluminanceLx float64
	StopStep      float64 // between exposures in the camera, in stops; 0 means 1
}

// The defaults of a FirstTestSpec. A wedge of 21 steps of 0.15 is the usual one
// (published descriptions of step tablets); a second can be timed by hand and is
// short enough for the reciprocity law (common practice, no source).
const (
	defaultFirstStrips                 = 5
	defaultWedgeCount                  = 21
	defaultWedgeStep   sensito.Density = 0.15
	defaultWedgeFirst  sensito.Density = 0.05
	defaultTestSeconds                 = 1.0
	defaultStopStep                    = 1.0
)

// firstSpread is how far below and above the published time the first strips
// lie. Published times are of N, and N-2 to N+2 take 0.7 to 1.9 of it (from the
// kinetics of Ives 1920 and a slow one, k of 0.1 and a limit of 1).
const firstSpread = 1.6

// stepsInside is how many steps the speed point should lie inside the wedge.
const stepsInside = 3

// guessWithin is how far off the speed of a film may be from what its box says.
const guessWithin = sensito.Stop

// firstRange is the log exposure that a strip should show to the right of its
// speed point: that of a scene of eight stops with the usual flare.
const firstRange sensito.LogRange = 2.0

func (s FirstTestSpec) withDefaults() FirstTestSpec {
	if s.Strips == 0 {
		s.Strips = defaultFirstStrips
	}
	if s.Way == "" {
		s.Way = sensito.Contact
	}
	if s.WedgeCount == 0 {
		s.WedgeCount = defaultWedgeCount
	}
	if s.WedgeStep == 0 {
		s.WedgeStep = defaultWedgeStep
	}
	if s.WedgeFirst == nil {
		s.WedgeFirst = new(defaultWedgeFirst)
	}
	if s.StopStep == 0 {
		s.StopStep = defaultStopStep
	}
	return s
}

// Check returns an error naming what is missing or outside its limits.
func (s FirstTestSpec) Check() error {
	s = s.withDefaults()
	var errs []error
	fault := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	limit := func(name string, v, lo, hi float64, unit string) {
		if !(v >= lo && v <= hi) {
			fault("%s %g%s is outside %g to %g%s", name, v, unit, lo, hi, unit)
		}
	}
	if s.Film.Name == "" {
		fault("the name of the film is missing")
	} else if err := printable.CheckLine(s.Film.Name, printable.MaxName); err != nil {
		fault("the name of the film: %w", err)
	}
	limit("speed", float64(s.Film.RatedSpeed), 0.01, 1e6, "")
	limit("published time", float64(s.Minutes), 0.5, 240, " min")
	limit("number of strips", float64(s.Strips), 2, 12, "")
	if s.Way == sensito.Contact {
		limit("number of wedge steps", float64(s.WedgeCount), 6, 200, "")
		limit("wedge step", float64(s.WedgeStep), 0.02, 0.5, "")
		limit("thinnest step of the wedge", float64(*s.WedgeFirst), 0, 1, "")
	}
	switch {
	case s.Way == sensito.Camera:
		limit("step between exposures", s.StopStep, 0.25, 2, " stops")
	case s.Way != sensito.Contact:
		fault("way of exposing %q is neither contact nor camera", s.Way)
	case s.Seconds != 0 && s.IlluminanceLx != 0:
		fault("the exposure follows from either the seconds or the illuminance: give one of them")
	case s.Seconds != 0:
		limit("exposure time", s.Seconds, 1e-4, 1000, " s")
	case s.IlluminanceLx != 0:
		limit("illuminance", s.IlluminanceLx, 1e-4, 1e6, " lx")
	}
	f := &check.Faults{}
	sensito.CheckProcess(f, check.Place{Table: "process"}, s.Process)
	return errors.Join(append(errs, *f...)...)
}

// FirstProposal is a first test of a film.
type FirstProposal struct {
	Spec      FirstTestSpec     // defaults filled in
	Minutes   []sensito.Minutes // to develop for, rising
	Exposures sensito.Exposures // of the steps

	// Of a contact exposure: the wedge, and the exposure with nothing in the
	// light, lux times seconds.
	Wedge         []sensito.Density
	LuxSeconds    float64
	IlluminanceLx float64
	Seconds       float64

	// Of an exposure in the camera: the index to set on the meter, and stops
	// from the metered exposure.
	MeterIndex sensito.Speed
	Stops      []float64

	SpeedPoint sensito.LogExposure // where it is expected: 0.8/S
	Inside     float64             // steps from the faint end to there
	Within     sensito.LogRange    // how far it may lie to either side
	Shows      sensito.LogRange    // what a strip should show to the right of it
	Warnings   sensito.Warnings
}

// FirstTest returns a first test of a film of which only the box is known: times
// in a geometric row about the published one, and exposures that put the
// expected speed point three steps inside the faint end or, where the steps are
// fine, so far that it is still a step inside for a film a stop faster. The
// error is that of Check.
func FirstTest(s FirstTestSpec) (*FirstProposal, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	s = s.withDefaults()
	p := &FirstProposal{Spec: s, Within: guessWithin, Shows: firstRange, Warnings: sensito.Warnings{}}
	for i := range s.Strips {
		power := 2*float64(i)/float64(s.Strips-1) - 1
		p.Minutes = append(p.Minutes, testTime(float64(s.Minutes)*math.Pow(firstSpread, power)))
	}
	p.Minutes = slices.Compact(p.Minutes)
	p.SpeedPoint = sensito.LogExposure(math.Log10(0.8 / float64(s.Film.RatedSpeed)))
	var err error
	var step sensito.LogRange
	if s.Way == sensito.Camera {
		step = sensito.LogRange(s.StopStep) * sensito.Stop
		err = p.camera(step)
	} else {
		step = sensito.LogRange(s.WedgeStep)
		err = p.contact(step)
	}
	if err != nil {
		return nil, err
	}
	lo, hi := p.Exposures.Span()
	p.Inside = float64(p.SpeedPoint.Sub(lo) / step)
	if lacking := p.SpeedPoint.Add(guessWithin + firstRange).Sub(hi); lacking > 0.005 {
		p.Warnings.Add("wedge_too_short/7", float64(lacking))
	}
	p.Warnings = append(p.Warnings, scene.ShortTime(p.Minutes[0])...)
	if len(p.Minutes) < s.Strips {
		p.Warnings.Add("times_alike", len(p.Minutes))
	}
	return p, nil
}

// testTime rounds a time to 15 seconds.
func testTime(minutes float64) sensito.Minutes {
	return sensito.Minutes(math.Max(1, math.Round(minutes/timeStep)) * timeStep)
}

// inside is how far the expected speed point should lie from the faint end.
func inside(step sensito.LogRange) sensito.LogRange { return max(stepsInside*step, guessWithin+step) }

// contact sets the exposure under a wedge.
func (p *FirstProposal) contact(step sensito.LogRange) (err error) {
	s := p.Spec
	p.Wedge = sensito.EvenWedge(*s.WedgeFirst, s.WedgeStep, s.WedgeCount)
	faint := p.SpeedPoint.Add(-inside(step))
	wanted := math.Pow(10, float64(faint)+float64(p.Wedge[len(p.Wedge)-1]))
	p.Seconds, p.IlluminanceLx = s.Seconds, s.IlluminanceLx
	if p.Seconds == 0 && p.IlluminanceLx == 0 {
		p.Seconds = defaultTestSeconds
	}
	if p.Seconds == 0 {
		p.Seconds = figures3(wanted / p.IlluminanceLx)
	} else {
		p.IlluminanceLx = figures3(wanted / p.Seconds)
	}
	p.LuxSeconds = p.IlluminanceLx * p.Seconds
	if p.Seconds < 0.2 {
		p.Warnings.Add("short_exposure", p.Seconds)
	}
	if p.Seconds > 10 {
		p.Warnings.Add("long_exposure", p.Seconds)
	}
	p.Exposures, err = sensito.NewContact(p.IlluminanceLx, p.Seconds, p.Wedge)
	return err
}

// figures3 rounds to three figures, finer than any lamp is set.
func figures3(v float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(v))-2)
	if unit < 1 {
		inverse := math.Round(1 / unit)
		return math.Round(v*inverse) / inverse
	}
	return math.Round(v/unit) * unit
}

// camera sets the row of exposures of an even target.
func (p *FirstProposal) camera(step sensito.LogRange) (err error) {
	s := p.Spec
	p.MeterIndex = s.Film.RatedSpeed
	metered := sensito.MeterConstants{}.LogExposure(p.MeterIndex)
	first := p.SpeedPoint.Add(-inside(step)).Sub(metered).Stops()
	last := p.SpeedPoint.Add(guessWithin + firstRange).Sub(metered).Stops()
	first, last = math.Floor(first/s.StopStep+1e-9), math.Ceil(last/s.StopStep-1e-9)
	for n := first; n <= last; n++ {
		p.Stops = append(p.Stops, n*s.StopStep)
	}
	p.Exposures, err = sensito.NewCamera(p.MeterIndex, p.Stops, sensito.MeterConstants{})
	return err
}

// RollArea is the area of film, cm2, for which developer is usually reckoned:
// 80 square inches, one roll or one sheet of 8x10 in.
const RollArea = 516.128

// DeveloperVolume returns the millilitres of working developer that a piece of
// film of area cm2 needs, when a roll needs mlPerRoll.
func DeveloperVolume(mlPerRoll, cm2 float64) float64 { return mlPerRoll * cm2 / RollArea }
