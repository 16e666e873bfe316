package listing

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// Trial says of a trial how far it is, what it lacks and what it comes to. A nil
// quantity could not be had; Missing says why.
type Trial struct {
	Trial  *sensito.Trial
	Strips []Strip // as those of Trial

	// Newest is the date of the newest strip or, where no strip says its date, of the
	// newest development in the log; First and Last are the ends of all these. All are
	// YYYY-MM-DD, and "" for a trial without a date.
	Newest, First, Last string

	// Developed are the first and the last date of a strip; "" where none says its own.
	Developed [2]string

	// Missing is what is not there yet, or cannot be had from what is there, the
	// most urgent first; empty where a trial is complete.
	Missing sensito.Warnings

	// Speed is that at SpeedMinutes: where the ISO contrast condition is met, or,
	// where ISO is false, of the strip that comes closest to it.
	Speed        *sensito.Estimate[sensito.Speed]
	SpeedMinutes sensito.Minutes
	ISO          bool

	// Quantity is the contrast, as in Family, that runs from LeastContrast to
	// MostContrast over the strips.
	Quantity                    string
	LeastContrast, MostContrast *sensito.Estimate[float64]

	// Normal is the development time for a scene of seven stops, and Index the exposure
	// index at that time; Index is nil where exposures are relative.
	Normal *sensito.Estimate[sensito.Minutes]
	Index  *sensito.Estimate[sensito.Speed]

	// Paper holds the strips of a trial of paper, which has none of the above.
	Paper []*paper.Strip

	// Measured are the strips of film with their curves, and Family what they come to
	// together; nil where there are none. They are as for the options given.
	Measured []*curve.Measured
	Family   *development.Family
}

// New returns the entry of a trial. What cannot be had is no error but
// Missing.
func New(t *sensito.Trial, o curve.MeasureOptions) *Trial {
	s := &Trial{Trial: t, Strips: newStrips(t), Missing: sensito.Warnings{}}
	s.dated()
	s.keyedIn()
	if t.Material() == sensito.PaperMaterial {
		s.listPaper(o)
	} else {
		s.listFilm(o)
	}
	s.stated()
	return s
}

// keyedIn says which readings are still to be made.
func (s *Trial) keyedIn() {
	var unread, baseless []int
	for _, strip := range s.Trial.Strips() {
		switch {
		case strip.NextStep() > 0:
			s.Missing.Add("strip_unfinished", strip.Number(), strip.NextStep(), s.Trial.Exposures().Len())
		case strip.StepsRead() == 0:
			unread = append(unread, strip.Number())
		}
		if len(strip.BaseFog()) == 0 && strip.StepsRead() > 0 {
			baseless = append(baseless, strip.Number())
		}
	}
	if len(unread) > 0 {
		s.Missing.Add("strip_unread", s.strips(unread))
	}
	if len(baseless) > 0 && s.Trial.Material() == sensito.FilmMaterial {
		s.Missing.Add("base_fog_unread", s.strips(baseless))
	}
}

// strips returns numbers of strips in words.
func (s *Trial) strips(numbers []int) string {
	if n := len(numbers); n == len(s.Trial.Strips()) && n > 1 {
		return "all strips"
	}
	text := strings.Trim(strings.ReplaceAll(fmt.Sprint(numbers), " ", ", "), "[]")
	if len(numbers) == 1 {
		return "strip " + text
	}
	return "strips " + text
}

// stated says what the notebook does not tell of the development.
func (s *Trial) stated() {
	p := s.Trial.Process()
	var missing []string
	for _, c := range []struct {
		name  string
		given bool
	}{{"developer", p.Developer != ""}, {"temperature", p.TemperatureC != 0}} {
		if !c.given && s.Trial.Material() == sensito.FilmMaterial {
			missing = append(missing, c.name)
		}
	}
	if len(missing) > 0 {
		s.Missing.Add("process_unstated", strings.Join(missing, " and "))
	}
}

func (s *Trial) listFilm(o curve.MeasureOptions) {
	t, tied := development.Tie(s.Trial, o)
	s.Trial = t
	if !s.Trial.Exposures().Absolute() {
		s.Missing.Add("relative_exposure/3")
	}
	strips, errs := curve.MeasureStrips(t, o)
	ms, err := curve.Told(t, o, strips, errs)
	if err != nil {
		if !s.waiting(s.Trial.Strips()...) {
			s.Missing.Add("no_curve/2", err)
		}
		return
	}
	s.Measured = ms
	for _, m := range ms {
		s.question(m.Strip.Number(), m.Fit)
	}
	s.measured(ms)
	var times []sensito.Minutes
	for _, m := range ms {
		if m.Fit != nil && !slices.Contains(times, m.Strip.Minutes()) {
			times = append(times, m.Strip.Minutes())
		}
	}
	if len(times) < 2 {
		s.Missing.Add("one_time")
		return
	}
	f, err := development.FamilyOf(t, tied, strips, errs)
	if err != nil {
		s.Missing.Add("no_family", err)
		return
	}
	s.Family = f
	if f.ISOSpeed != nil {
		s.Speed, s.SpeedMinutes, s.ISO = f.ISOSpeed, f.ISOMinutes.Value, true
	}
	answer, err := scene.For(f, scene.Scene{Stops: camera.NormalStops})
	switch {
	case err == nil:
		s.Normal, s.Index = &answer.Minutes, answer.ExposureIndex
	case s.LeastContrast != nil: // else told
		s.Missing.Add("no_normal_time", err)
	}
}

// waiting says whether every one of the strips is still being keyed in.
func (s *Trial) waiting(strips ...*sensito.Strip) bool {
	return !slices.ContainsFunc(strips, func(s *sensito.Strip) bool { return s.NextStep() == 0 && s.StepsRead() > 0 })
}

// measured takes the range of contrast and the speed nearest to the standard's
// from the strips, and says what their exposures do not reach.
func (s *Trial) measured(ms []*curve.Measured) {
	s.Quantity = development.QuantityContrastIndex
	of := func(m *curve.Measured) *sensito.Estimate[float64] { return m.ContrastIndex }
	count := func(of func(*curve.Measured) *sensito.Estimate[float64]) (n int) {
		for _, m := range ms {
			if of(m) != nil {
				n++
			}
		}
		return n
	}
	if gradient := func(m *curve.Measured) *sensito.Estimate[float64] { return m.AverageGradient }; count(gradient) > count(of) {
		s.Quantity, of = development.QuantityAverageGradient, gradient
	}
	nearest := math.Inf(1)
	var noPoint, noContrast []int
	for _, m := range ms {
		if m.Fit == nil {
			if !s.waiting(m.Strip) {
				s.Missing.Add("no_curve", m.Warnings[0].Message())
			}
			continue
		}
		if c := of(m); c == nil && m.Strip.NextStep() > 0 { // it is not complete
			continue
		} else if c == nil {
			noContrast = append(noContrast, m.Strip.Number())
		} else {
			if s.LeastContrast == nil || c.Value < s.LeastContrast.Value {
				s.LeastContrast = c
			}
			if s.MostContrast == nil || c.Value > s.MostContrast.Value {
				s.MostContrast = c
			}
		}
		if m.SpeedPoint == nil {
			noPoint = append(noPoint, m.Strip.Number())
		}
		if m.Speed != nil {
			off := math.MaxFloat64 // the contrast condition cannot be judged
			if m.ISODifference != nil {
				off = math.Abs(m.ISODifference.Value - curve.ISODifferenceAim)
			}
			if off < nearest {
				nearest, s.Speed, s.SpeedMinutes = off, m.Speed, m.Strip.Minutes()
			}
		}
	}
	if len(noPoint) > 0 {
		s.Missing.Add("wedge_too_short/4", s.strips(noPoint))
	}
	if len(noContrast) > 0 {
		s.Missing.Add("wedge_too_short/5", s.strips(noContrast))
	}
}

func (s *Trial) listPaper(o curve.MeasureOptions) {
	if !s.Trial.Exposures().Absolute() {
		s.Missing.Add("relative_exposure/4")
	}
	p, err := paper.Measure(s.Trial, o.Fit)
	if err != nil {
		if !s.waiting(s.Trial.Strips()...) {
			s.Missing.Add("no_curve/2", err)
		}
		return
	}
	s.Paper = p.Strips
	var short, beforeBlack, beyondWhite []string
	for _, m := range p.Strips {
		s.question(m.Strip.Number(), m.Fit)
		switch {
		case s.waiting(m.Strip):
		case m.LogRange != nil:
			if !m.BlackReached {
				beforeBlack = append(beforeBlack, m.Name())
			}
			if !m.WhiteReached {
				beyondWhite = append(beyondWhite, m.Name())
			}
		case m.Fit == nil:
			s.Missing.Add("no_curve", m.Warnings[0].Message())
		default:
			short = append(short, m.Name())
		}
	}
	if len(short) > 0 {
		s.Missing.Add("wedge_too_short/6", strings.Join(short, ", "))
	}
	if len(beforeBlack) > 0 {
		s.Missing.Add("black_not_reached/2", strings.Join(beforeBlack, ", "))
	}
	if len(beyondWhite) > 0 {
		s.Missing.Add("white_not_reached/2", strings.Join(beyondWhite, ", "))
	}
}

// Control says of a control log how far it is and where the process is.
type Control struct {
	Log     *control.Log
	Missing sensito.Warnings    // as in Trial
	Control *control.Evaluation // nil where the strips are too few to judge the process

	// First and Last are the dates of the first and the last strip, YYYY-MM-DD.
	First, Last string

	// Drift is what the change of the process means for a film, and By the file of the
	// trial that tells it: set by NewNotebook, nil and "" in control and where no
	// trial of the same film and developer tells it.
	Drift *scene.Drift
	By    string
}

// NewControl returns the entry of a control log.
func NewControl(l *control.Log) *Control {
	strips := l.Strips()
	s := &Control{Log: l, Missing: sensito.Warnings{}, First: strips[0].Date, Last: strips[len(strips)-1].Date}
	c, err := l.Evaluate(control.Options{})
	if err != nil {
		text := err.Error()
		if u := (*sensito.Unanswerable)(nil); errors.As(err, &u) && u.Hint != "" {
			text += ": " + u.Hint
		}
		s.Missing = append(s.Missing, sensito.Warn("baseline_too_short", text))
		return s
	}
	s.Control = c
	return s
}
