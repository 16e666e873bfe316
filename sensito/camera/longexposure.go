package camera

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// Factor is by how much an exposure must be multiplied for what stands in the
// light, 2 for a stop.
type Factor float64

// Stops returns the factor in stops.
func (f Factor) Stops() float64 { return math.Log2(float64(f)) }

// String returns the factor to three digits, as "2.5x".
func (f Factor) String() string { return decimal.Digits(float64(f), 3) + "x" }

const maxFactor Factor = 1e6

var (
	factorForm = lazy.Regexp(`(?i)^(?:factor +(\S+)|(\S+) ?[x×]|[x×] ?(\S+))$`)
	stopsForm  = lazy.Regexp(`(?i)^(.*?) *(?:stops?|ev)$`)
)

// ParseFactor reads a factor as filters state it: "2x", "factor 2.5", or stops
// with a sign or a unit, "+1 1/3", "+1 1/3 stops", "2/3 stop". A bare number is
// refused, since 2 means a factor to one maker and stops to another. The error
// names the text, and the limits 1 and 1e6 where they are passed.
func ParseFactor(text string) (Factor, error) {
	s := strings.TrimSpace(text)
	var v float64
	ok := false
	if part := factorForm().FindStringSubmatch(s); part != nil {
		v, ok = decimal.ParseFraction(part[1] + part[2] + part[3])
	} else {
		part := stopsForm().FindStringSubmatch(s)
		if part != nil {
			s = part[1]
		}
		if v, ok = decimal.ParseFraction(s); ok {
			if part == nil && !strings.HasPrefix(s, "+") {
				return 0, fmt.Errorf("%q may be a factor or stops; write %sx or +%s stops", text, s, s)
			}
			v = math.Exp2(v)
		}
	}
	if !ok {
		return 0, fmt.Errorf("%q is not a factor like 2x, factor 2.5 or +1 1/3 stops", text)
	}
	f := Factor(v)
	if err := f.check(); err != nil {
		return 0, fmt.Errorf("%q: %w", text, err)
	}
	return f, nil
}

func (f Factor) check() error {
	if !(f >= 1 && f <= maxFactor) {
		return fmt.Errorf("a factor of %g is outside 1 to %g", float64(f), float64(maxFactor))
	}
	return nil
}

// BellowsFactor returns the factor for a lens racked out to the given extension,
// the distance from the lens to the film: (extension/focal length)^2. The error
// names a length outside 5 to 5000 mm, and an extension below the focal length,
// at which no lens of ordinary build forms an image; with a telephoto lens use
// MagnificationFactor.
func BellowsFactor(extensionMM, focalMM float64) (Factor, error) {
	for _, l := range []struct {
		name string
		mm   float64
	}{{"extension", extensionMM}, {"focal length", focalMM}} {
		if !(l.mm >= 5 && l.mm <= 5000) {
			return 0, fmt.Errorf("%s %g mm is outside 5 to 5000 mm", l.name, l.mm)
		}
	}
	if extensionMM < focalMM {
		return 0, fmt.Errorf("extension %g mm is below the focal length, %g mm; measure from the lens to the film", extensionMM, focalMM)
	}
	return Factor((extensionMM / focalMM) * (extensionMM / focalMM)), nil
}

// MagnificationFactor returns the bellows factor at magnification m, the size of
// the image over that of the subject: (1 + m)^2, for a lens whose pupils are of
// one size. The error names an m outside 0 to 100. It is for
// programs that use the library; the commands take the extension of the bellows.
func MagnificationFactor(m float64) (Factor, error) {
	if !(m >= 0 && m <= 100) {
		return 0, fmt.Errorf("magnification %g is outside 0 to 100", m)
	}
	return Factor((1 + m) * (1 + m)), nil
}

// Shutter is an exposure time on its way from the meter to the shutter.
type Shutter struct {
	Metered   sensito.Seconds
	Factored  sensito.Seconds // Metered times all factors: what the dimmer light asks for
	Corrected sensito.Seconds // for the film's loss of speed; what to set, never less than Factored

	// Fitted is Corrected with its error where the law was fitted to
	// measurements; nil where it is as published, whose error is not known.
	Fitted *sensito.Estimate[sensito.Seconds]

	Warnings sensito.Warnings
}

// Where warnings begin.
const (
	// steeperFrom is the factor, a third of a stop, from which the rise of
	// contrast is worth a word (common practice, no source): the dim light of the
	// shadows loses more than that of the highlights.
	steeperFrom = 1.26
	// oneExponent is the time up to which one exponent is taken to hold; the
	// figure is common practice without a source, that none holds over a wide
	// range is not (Schwarzschild's exponent in an encyclopedia).
	oneExponent sensito.Seconds = 100
	// beyondLast is how many times the longest tested time a law is followed
	// when it rests on pairs.
	beyondLast = 2
	// GuessedFrom is the factor from which a time shorter than all pairs is
	// worth a word: a sixth of a stop.
	GuessedFrom = 1.12
)

// Correct returns the time to set for a metered time and the factors of filters
// and bellows. The factors come first, since they dim the light and so lengthen
// the exposure that the film has to answer; the film's loss is taken at the
// lengthened time. A nil r means that nothing is known of the film: the time is
// not corrected, with a warning where that matters. The error names a metered
// time or a factor outside its limits, or is Unanswerable more than a stop
// beyond the longest pair that r rests on.
func (r *Reciprocity) Correct(metered sensito.Seconds, factors ...Factor) (Shutter, error) {
	s := Shutter{Metered: metered, Factored: metered, Warnings: sensito.Warnings{}}
	var errs []error
	if !(metered >= sensito.MinSeconds && metered <= sensito.MaxSeconds) {
		errs = append(errs, fmt.Errorf("metered time %g s is outside %g to %g s", float64(metered), float64(sensito.MinSeconds), float64(sensito.MaxSeconds)))
	}
	for _, f := range factors {
		errs = append(errs, f.check())
		s.Factored *= sensito.Seconds(f)
	}
	if err := errors.Join(errs...); err != nil {
		return Shutter{}, err
	}
	if s.Factored > sensito.MaxSeconds {
		return Shutter{}, fmt.Errorf("the factors make %v of %v, more than %g s", s.Factored, metered, float64(sensito.MaxSeconds))
	}
	s.Corrected = s.Factored
	if r == nil {
		if s.Factored >= sensito.KeepsSpeed {
			s.Warnings.Add("reciprocity_unknown", s.Factored)
		}
		return s, nil
	}
	if err := r.correct(&s); err != nil {
		return Shutter{}, err
	}
	return s, nil
}

// correct fills in what the law says of the factored time.
func (r *Reciprocity) correct(s *Shutter) error {
	t := float64(s.Factored)
	if last := r.last(); last > 0 && s.Factored > last {
		if s.Factored > beyondLast*last {
			return &sensito.Unanswerable{
				Reason: fmt.Sprintf("%v is more than %d times the longest time known, %v", s.Factored, beyondLast, last),
				Hint:   "state a pair of times for a longer exposure, or open the aperture",
			}
		}
		s.Warnings.Add("reciprocity_extrapolated", s.Factored, last)
	}
	factor := math.Max(1, r.law.factor(t))
	s.Corrected = sensito.Seconds(factor) * s.Factored
	if sd := r.sd(t); sd > 0 {
		e := sensito.Estimate[sensito.Seconds]{Value: s.Corrected, StdErr: s.Corrected * sensito.Seconds(sd), DoF: r.dof, Log: true}
		free := e // of the rule that no time is shortened
		factored := s.Factored
		e.Limits = func(level float64) (sensito.Seconds, sensito.Seconds) {
			low, high := free.Interval(level)
			return max(low, factored), high
		}
		s.Fitted = &e
	}
	if first := r.first(); s.Factored < first && factor > GuessedFrom {
		s.Warnings.Add("reciprocity_below", s.Factored, first)
	}
	if r.law.oneExponent() && len(r.pairs) == 0 && s.Factored > oneExponent {
		s.Warnings.Add("reciprocity_one_exponent", s.Factored)
	}
	s.Warnings = append(s.Warnings, r.warnings...)
	if factor > steeperFrom {
		s.Warnings.Add("contrast_rises", strconv.FormatFloat(math.Log2(factor), 'f', 1, 64))
	}
	return nil
}

// MeteredFor returns the metered time that Correct makes t of, with the factors.
// The error is Unanswerable where there is none.
func (r *Reciprocity) MeteredFor(t sensito.Seconds, factors ...Factor) (sensito.Seconds, error) {
	var last error // of the times that the data do not reach
	apart := func(lnT float64) float64 {
		shutter, err := r.Correct(sensito.Seconds(math.Exp(lnT)), factors...)
		if err != nil {
			last = err
			return math.Inf(1)
		}
		return math.Log(float64(shutter.Corrected / t))
	}
	const least = 1 + 1e-9 // for the rounding of a logarithm
	x, err := fit.Root(apart, math.Log(least*float64(sensito.MinSeconds)), math.Log(float64(t)), 1e-12)
	// Where the data end before t, the function leaps past zero.
	if err == nil && math.Abs(apart(x)) < 1e-6 {
		return sensito.Seconds(math.Exp(x)), nil
	}
	reason := fmt.Sprintf("no metered time asks for %v with these factors", t)
	if last != nil {
		reason = fmt.Sprintf("%v is longer than what is known of the film's long exposures", t)
	}
	return 0, &sensito.Unanswerable{Reason: reason, Hint: "choose another time, or the aperture", Way: sensito.OtherSetting}
}
