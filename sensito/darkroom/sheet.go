package darkroom

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/internal/check"
	"sensito/sensito/scene"
)

// SheetSpec is what a process sheet is made for.
type SheetSpec struct {
	Trial     *sensito.Trial
	Procedure *Procedure

	// Minutes is the development time. Its StdErr is 0 when it was chosen by the
	// photographer.
	Minutes sensito.Estimate[sensito.Minutes]
	For     string                           // what the time is for, in words; may be empty
	Index   *sensito.Estimate[sensito.Speed] // exposure index of the film; may be nil

	// Delivered is the density range of the negative; nil for a roll and for a
	// time that was chosen.
	Delivered *sensito.Estimate[sensito.NetDensity]

	Under development.Conditions // where development differs from the trial's

	// Coefficient is how the rate of development follows the temperature, by which a
	// bath that drifts is corrected for; its Q10 is 0 where nothing is known.
	Coefficient development.Coefficient

	// Today is what the process of today makes of the time, nil for as in the trial
	// and of a chosen time. AsTested is the time under the conditions of the trial, nil
	// where they are those of today; Uncorrected is what today's conditions give less
	// the correction by a control log, nil without one.
	Today       *scene.Adjustment
	AsTested    *sensito.Estimate[sensito.Minutes]
	Uncorrected *Uncorrected

	// Logs are the other trials of film of the notebook, whose films may have gone through
	// the same baths; nil counts the log of the trial alone.
	Logs []*sensito.Trial

	Films     []sensito.Films // nil when not stated
	Vessel    Vessel
	Least     Least      // concentrate of developer; zero leaves it to the procedure
	Uses      Uses       // of the developer
	Graduates []Graduate // nil means Graduates()

	Date     string // of the session, YYYY-MM-DD; may be empty
	Note     string
	Warnings sensito.Warnings // that go with the time
}

// Uncorrected is a time, and an index, before the correction by a control log.
type Uncorrected struct {
	Minutes sensito.Estimate[sensito.Minutes]
	Index   *sensito.Estimate[sensito.Speed]
}

// Sheet is the process sheet of one session.
type Sheet struct {
	Spec    SheetSpec
	Process sensito.Process // the development
	Minutes sensito.Minutes // of development, as it is done by hand: to 5 seconds unless chosen
	Baths   []SheetBath
	Steps   []SheetStep
	Total   *sensito.Minutes // on the clock at the end of the timed steps; nil when a time is open

	// LightFrom is the first step in which light is safe, from 1; one more than
	// the steps when none is, and 1 when no step is marked as dark.
	LightFrom int

	Order    *TrayOrder // nil but for several sheets in a tray
	Warnings sensito.Warnings
}

// SheetBath is one bath of a sheet.
type SheetBath struct {
	Bath
	Developer bool     // it is the developer
	Steps     []int    // the numbers of the steps in it
	Mix       *Mix     // nil when nothing is to be mixed, or the volume is not known
	Use       *BathUse // of one that is kept and says when it was mixed
}

// BathUse is how often a bath was used since it was mixed, by the log of the trial and
// those of Logs. A development that names its baths counts for these; one that names none
// counts for each, so that a bath is rather thought used than fresh. A developer is counted
// by the trials that are of it.
type BathUse struct {
	Logs    int          // looked through, with that of the trial
	Before  int          // developments logged
	Unknown int          // of them, without their films
	Unnamed int          // of them, without their baths
	Area    sensito.Area // of their films
	Today   sensito.Area // 0 when not stated
	Most    sensito.Area // by its capacity; 0 when that or the volume is not stated
}

// Over reports whether the films of today are more than the bath bears.
func (u BathUse) Over() bool { return u.Most > 0 && u.Area+u.Today > u.Most*(1+1e-9) }

// SheetStep is one step of a sheet.
type SheetStep struct {
	ProcessStep
	Number  int              // from 1
	Start   *sensito.Minutes // on the clock; nil when a time before it is open
	Time    *sensito.Minutes // nil when it is open, or the step lasts until it is done
	Celsius float64          // 0 when not known
	EndC    *float64         // to which it drifts; nil when it stays
	Water   Volume           // that all changes of the step take; 0 without a vessel, or changes
}

// End returns what the clock shows at the end of the step, nil when that is
// open.
func (s SheetStep) End() *sensito.Minutes {
	if s.Start == nil || s.Time == nil {
		return nil
	}
	end := *s.Start + *s.Time
	return &end
}

// DrainFrom returns what the clock shows when the bath is poured off, nil when
// the step does not say, its end is open, or the bath is changed several times.
func (s SheetStep) DrainFrom() *sensito.Minutes {
	end := s.End()
	if end == nil || s.DrainSeconds == 0 || s.Changes > 0 {
		return nil
	}
	at := *end - sensito.Minutes(s.DrainSeconds/60)
	return &at
}

// TrayOrder is how sheets are moved in a tray.
type TrayOrder struct {
	Sheets   int     // in the tray at once
	PassS    float64 // seconds for one pass through all of them
	EachS    float64 // between one sheet and the next
	DipS     float64 // from the first sheet in to the last
	TooQuick bool    // EachS is shorter than hands are
}

// leastShuffle is the shortest time in seconds in which a sheet is drawn from
// under the others and laid on top (common practice, no source).
const leastShuffle = 3

// reticulation is how far baths may differ in temperature from the developer
// before gelatin suffers, in degrees Celsius (common practice, no source).
const reticulation = 3

// NewSheet returns the process sheet. The error is of a vessel that is too small,
// of concentrate too little for the films or of a developer that is used up,
// Unanswerable; or of a time or conditions outside their limits.
func NewSheet(spec SheetSpec) (*Sheet, error) {
	var f check.Faults
	f.Within("minutes", float64(spec.Minutes.Value), 0.05, 1440, " min")
	if spec.Date != "" {
		f.AddError("date", sensito.CheckDate(spec.Date))
	}
	f.Line("note", spec.Note, maxStepText)
	if err := errors.Join(f.Err(), spec.Under.Check()); err != nil {
		return nil, err
	}
	s := &Sheet{Spec: spec, Warnings: append(sensito.Warnings{}, spec.Warnings...), Minutes: spec.ByHand(),
		Process: spec.Under.Process(spec.Trial.Process())}
	if err := s.used(); err != nil {
		return nil, err
	}
	s.steps()
	if err := s.baths(); err != nil {
		return nil, err
	}
	s.light()
	s.order()
	s.controlled()
	return s, nil
}

// controlFresh is after how many days a log of control strips no longer tells how
// the process is (common practice, no source).
const controlFresh = 31

// controlled warns where the process of today is that of a log which has no recent
// strip.
func (s *Sheet) controlled() {
	if s.Spec.Today == nil || s.Spec.Today.Drift == nil || s.Spec.Date == "" {
		return
	}
	last := s.Spec.Today.Drift.AsOf
	from, errFrom := time.Parse(time.DateOnly, last)
	to, errTo := time.Parse(time.DateOnly, s.Spec.Date)
	if days := sensito.DaysBetween(from, to); errFrom == nil && errTo == nil && days > controlFresh {
		s.Warnings.Add("log_old", last, days)
	}
}

// used checks which use of the developer it is.
func (s *Sheet) used() error {
	u := s.Spec.Uses
	switch {
	case u.Most > 0 && u.Number > u.Most:
		return &sensito.Unanswerable{Reason: fmt.Sprintf("use %d of a developer that bears %d: it is used up", u.Number, u.Most), Hint: "mix it fresh"}
	case u.Number > 1:
		s.Warnings.Add("developer_reused", u.Number)
	}
	return nil
}

// steps times the steps.
func (s *Sheet) steps() {
	clock, film := new(sensito.Minutes), s.Process.TemperatureC // of the film, 0 when not known
	for i, p := range s.Spec.Procedure.Steps() {
		step := SheetStep{ProcessStep: p, Number: i + 1, Start: clock, Celsius: p.TemperatureC}
		switch p.From {
		case TimeStated:
			if p.Minutes > 0 {
				t := p.Minutes * sensito.Minutes(max(1, p.Changes))
				step.Time = &t
			}
			if v := s.Spec.Vessel; p.Changes > 0 && v.Stated() {
				step.Water = v.Volume * Volume(p.Changes)
			}
		case TimeFromPlan:
			developer(&step, s)
		case TimeFromClearing:
			if step.ClearingFactor == 0 {
				step.ClearingFactor = DefaultClearingFactor
			}
			if p.Clearing > 0 {
				t := sensito.Minutes(math.Round(float64(p.Clearing)*step.ClearingFactor*60) / 60)
				step.Time = &t
			} else {
				s.Warnings.Add("clearing_unmeasured", step.Number, p.Name, step.ClearingText())
			}
		}
		if step.Celsius == 0 {
			step.Celsius = film
		}
		if film != 0 && math.Abs(step.Celsius-film) > reticulation {
			s.Warnings.Add("bath_temperature", step.Number, p.Name, sensito.Celsius(step.Celsius), reticulation)
		}
		if step.EndC != nil {
			film = *step.EndC
		}
		if step.Time != nil && step.DrainSeconds >= 60*float64(*step.Time) {
			step.DrainSeconds = 0
		}
		if clock = step.End(); step.Time == nil && p.From == TimeStated && i == len(s.Spec.Procedure.spec.Steps)-1 {
			clock = step.Start // the last one has no end on the clock
		}
		s.Steps = append(s.Steps, step)
	}
	s.Total = clock
}

// developer completes the step of the development.
func developer(step *SheetStep, s *Sheet) {
	t := s.Minutes
	step.Time, step.Critical = &t, true
	step.EndC = s.Spec.Under.EndC
	if name := s.Process.Developer; name != "" {
		if step.Bath.Name != "" && step.Bath.Name != name {
			s.Warnings.Add("other_developer", step.Bath.Name, name)
		}
		step.Bath.Name = name
	}
	if step.Bath.Name == "" {
		step.Bath.Name = "developer"
	}
	step.Bath.Dilution = s.Process.Dilution
	step.Bath.dilution, _ = sensito.ParseDilution(s.Process.Dilution) // checked by the trial; "" states none
	if s.Spec.Least.Concentrate > 0 {
		step.Bath.least = s.Spec.Least
	}
	switch u := s.Spec.Uses; {
	case u.OneShot:
		step.Bath.OneShot, step.Bath.Capacity, step.Bath.Mixed = true, "", ""
	case u.Number > 0:
		step.Bath.OneShot = false
	}
	if step.Agitation == "" {
		step.Agitation = s.agitation()
	}
}

// agitation returns in words how the developer is moved.
func (s *Sheet) agitation() string {
	switch s.Process.Agitation {
	case sensito.AgitationContinuous:
		switch s.Spec.Vessel.Kind {
		case Tray:
			return "continuous: shuffle or rock"
		case Drum:
			return "continuous: turn"
		}
		return "continuous"
	case sensito.AgitationIntermittent: // NAVEDTRA 14209, pages 10-16 and 10-24
		return "continuous for the first 30 s, then 5 s each minute"
	case sensito.AgitationNone:
		return "none"
	}
	return "as the strips of the trial, which does not say"
}

// baths gathers the baths, mixes them and counts their uses.
func (s *Sheet) baths() error {
	at := map[string]int{}
	for i := range s.Steps {
		step := &s.Steps[i]
		if step.Bath.Name == "" {
			continue
		}
		k, again := at[step.Bath.Name]
		if !again {
			k = len(s.Baths)
			at[step.Bath.Name] = k
			s.Baths = append(s.Baths, SheetBath{Bath: step.Bath, Developer: step.From == TimeFromPlan})
		}
		s.Baths[k].Steps = append(s.Baths[k].Steps, step.Number)
	}
	for i := range s.Baths {
		b := &s.Baths[i]
		if err := s.mix(b); err != nil {
			return err
		}
		s.count(b)
	}
	if !s.Spec.Vessel.Stated() {
		s.Warnings.Add("no_vessel")
	}
	if d := s.Process.Dilution; d == "" {
		s.Warnings.Add("no_dilution")
	}
	return nil
}

// mix finds the volumes of a bath.
func (s *Sheet) mix(b *SheetBath) error {
	v := s.Spec.Vessel
	if !b.dilution.Stated() || !v.Stated() {
		return nil
	}
	spec := MixSpec{Dilution: b.dilution, Total: v.Volume, Graduates: s.Spec.Graduates}
	if len(s.Spec.Films) > 0 && (b.least.Concentrate > 0 || b.Developer) {
		spec.Films, spec.Least = s.Spec.Films, b.least
	}
	m, err := NewMix(spec)
	if u := (*sensito.Unanswerable)(nil); errors.As(err, &u) {
		return &sensito.Unanswerable{Reason: b.Name + ": " + u.Reason, Hint: u.Hint}
	}
	if err != nil {
		return fmt.Errorf("%s: %w", b.Name, err)
	}
	for _, w := range m.Warnings {
		s.Warnings = append(s.Warnings, w.Within(b.Name))
	}
	if b.Developer && len(s.Spec.Films) == 0 && b.least.Concentrate > 0 {
		s.Warnings.Add("films_unknown", m.Concentrate)
	}
	b.Mix = m
	return nil
}

// count finds how often a bath that is kept was used.
func (s *Sheet) count(b *SheetBath) {
	if b.OneShot || b.Mixed == "" {
		return
	}
	u := &BathUse{Logs: 1 + len(s.Spec.Logs)}
	for _, t := range append([]*sensito.Trial{s.Spec.Trial}, s.Spec.Logs...) {
		if b.Developer && t != s.Spec.Trial && t.Process().Developer != b.Name {
			continue
		}
		for _, d := range t.Done() {
			named := b.Developer || slices.Contains(d.Baths, b.Name)
			if d.Date < b.Mixed || !named && len(d.Baths) > 0 { // dates of this form sort as text
				continue
			}
			u.Before++
			u.Area += d.Area()
			if len(d.Films) == 0 {
				u.Unknown++
			}
			if !named {
				u.Unnamed++
			}
		}
	}
	_, u.Today = sensito.FilmTotals(s.Spec.Films)
	if v := s.Spec.Vessel; v.Stated() {
		u.Most = b.capacity.Of(v.Volume)
	}
	b.Use = u
	if u.Over() {
		s.Warnings.Add("bath_exhausted", b.Name, b.Mixed, (u.Area + u.Today).SquareInches(), u.Most.SquareInches(), s.Spec.Vessel.Volume, b.Capacity)
	}
}

// light finds from which step light is safe.
func (s *Sheet) light() {
	s.LightFrom = len(s.Steps) + 1
	if i := slices.IndexFunc(s.Steps, func(p SheetStep) bool { return !p.Dark }); i >= 0 {
		s.LightFrom = i + 1
	}
}

// order finds how sheets are moved in a tray.
func (s *Sheet) order() {
	n, _ := sensito.FilmTotals(s.Spec.Films)
	if s.Spec.Vessel.Kind != Tray || n < 2 {
		return
	}
	o := &TrayOrder{Sheets: n, PassS: s.Spec.Procedure.ShuffleSeconds()}
	o.EachS = o.PassS / float64(n)
	o.DipS = o.EachS * float64(n-1)
	if o.TooQuick = o.EachS < leastShuffle; o.TooQuick {
		s.Warnings.Add("shuffle_quick", n, o.PassS, o.EachS, int(o.PassS/leastShuffle))
	}
	s.Order = o
}
