package session

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/development"
	"sensito/sensito/internal/check"
	"sensito/sensito/printable"
)

// Plan is what a session is to do: what its clock needs of a process sheet, so that
// a session goes on as it was begun even where the files behind the sheet change.
type Plan struct {
	Trial     string `json:"trial"` // the file whose log takes the development
	Title     string `json:"title"` // what is developed, in what
	For       string `json:"for,omitempty"`
	Date      string `json:"date"` // YYYY-MM-DD
	Films     string `json:"films,omitempty"`
	Light     string `json:"light"`           // which steps are in the dark, in words
	Order     string `json:"order,omitempty"` // how sheets are moved in a tray, in words
	Steps     []Step `json:"steps"`
	Developer int    `json:"developer"`  // the number of the critical step, from 1
	LightFrom int    `json:"light_from"` // the first step in which light is safe, from 1; one more than there are for none
	Rate      *Rate  `json:"rate"`       // nil where the temperature of the developer is not stated: nothing is corrected
	Fixer     *Fixer `json:"fixer"`      // nil where no step takes its time from the clearing time
	Done      Done   `json:"done"`
}

// Step is one step of a plan.
type Step struct {
	Name      string          `json:"name"`
	Bath      string          `json:"bath,omitempty"`    // with its dilution
	Minutes   sensito.Minutes `json:"minutes,omitempty"` // in all; 0 where it is open, or the step lasts until it is done
	Changes   int             `json:"changes,omitempty"` // so many fillings in that time; 0 for one
	Clearing  float64         `json:"clearing_factor,omitempty"`
	Dark      bool            `json:"dark"`
	Agitation string          `json:"agitation,omitempty"` // in words; those of ParseCadence make sounds
	DrainS    float64         `json:"drain_s,omitempty"`   // seconds at the end of the time, or of each change, in which the bath runs off
	Celsius   float64         `json:"celsius,omitempty"`   // 0 where it is not stated
	Note      string          `json:"note,omitempty"`
}

// Label returns the name of the step with its bath, "Develop, Brinewater 1+19", or the
// bath alone where it says the name: "Fixer 1+4".
func (s Step) Label() string {
	switch {
	case s.Bath == "":
		return s.Name
	case len(s.Bath) >= len(s.Name) && strings.EqualFold(s.Bath[:len(s.Name)], s.Name):
		return s.Name + s.Bath[len(s.Name):]
	}
	return s.Name + ", " + s.Bath
}

// Rate is how the rate of development follows the temperature.
type Rate struct {
	Q10          float64 `json:"q10"` // rate at 30 over that at 20 degrees Celsius
	Low          float64 `json:"q10_low"`
	High         float64 `json:"q10_high"` // ends of its 95 % interval
	Source       string  `json:"source"`   // in words
	Celsius      float64 `json:"celsius"`  // at which the development was planned to begin
	EndC         float64 `json:"end_c"`    // and to end, reached evenly
	ReferenceC   float64 `json:"reference_c"`
	ThermometerC float64 `json:"thermometer_sd_c,omitempty"` // standard deviation of a reading; 0 where none is stated
}

// Fixer is the bath whose time follows from the clearing time.
type Fixer struct {
	Step   int             `json:"step"` // from 1
	Name   string          `json:"name"`
	Mixed  string          `json:"mixed,omitempty"`     // YYYY-MM-DD
	Films  string          `json:"films,omitempty"`     // that went through it, these included, and by which logs: "7.5 of 20 films by the 3 logs of this notebook"
	Spent  bool            `json:"spent,omitempty"`     // with these films it bears no more
	Fresh  sensito.Minutes `json:"fresh_min,omitempty"` // in which it cleared film at first
	First  string          `json:"first,omitempty"`     // the date of the session that tells Fresh; "" where the procedure does
	Factor float64         `json:"factor"`
}

// Done is what the log of the trial takes beside what the clock says.
type Done struct {
	Planned   sensito.Minutes   `json:"planned_min"`
	PlannedC  float64           `json:"planned_c,omitempty"` // 0 for that of the trial
	Dilution  string            `json:"dilution,omitempty"`
	Agitation sensito.Agitation `json:"agitation,omitempty"`
	Baths     []string          `json:"baths,omitempty"` // kept ones, by name
}

// level is that of the intervals.
const level = 0.95

// NewPlan returns the plan of a sheet; trial is the file whose log takes what is
// done.
func NewPlan(s *darkroom.Sheet, trial string) Plan {
	spec := s.Spec
	p := Plan{Trial: trial, Title: spec.Trial.Title(), For: spec.For, Date: spec.Date, Films: sensito.FilmList(spec.Films), Light: s.LightText(), LightFrom: s.LightFrom}
	if p.Title == "" {
		p.Title = spec.Trial.Film().Name
	}
	if s.Order != nil {
		p.Order = s.Order.Text()
	}
	for _, st := range s.Steps {
		step := Step{Name: st.Name, Bath: st.Bath.Label(), Changes: st.Changes, Dark: st.Dark, Agitation: st.Agitation, DrainS: st.DrainSeconds, Celsius: st.Celsius, Note: st.Note}
		if st.Time != nil {
			step.Minutes = *st.Time
		}
		switch st.From {
		case darkroom.TimeFromPlan:
			p.Developer = st.Number
		case darkroom.TimeFromClearing:
			step.Clearing = st.ClearingFactor
			if p.Fixer == nil {
				p.Fixer = fixerOf(s, st)
			}
		}
		p.Steps = append(p.Steps, step)
	}
	c := spec.Under
	p.Done = Done{Planned: s.Minutes, Dilution: c.Dilution, Agitation: c.Agitation, Baths: spec.Procedure.KeptBaths()}
	if c.TemperatureC != nil {
		p.Done.PlannedC = *c.TemperatureC
	}
	p.Rate = rateOf(s)
	return p
}

// rateOf returns how the rate follows the temperature, nil where that of the
// development is not known.
func rateOf(s *darkroom.Sheet) *Rate {
	q, at := s.Spec.Coefficient, s.Process.TemperatureC
	if at == 0 || q.Q10.Value == 0 {
		return nil
	}
	r := &Rate{Q10: q.Q10.Value, Source: q.Source, Celsius: at, EndC: at, ReferenceC: at, ThermometerC: s.Spec.Trial.Repeating().TemperatureSDC}
	r.Low, r.High = q.Q10.Interval(level)
	if t := s.Spec.Trial.Process().TemperatureC; t != 0 {
		r.ReferenceC = t
	}
	if e := s.Spec.Under.EndC; e != nil {
		r.EndC = *e
	}
	// An end that the strips leave open is taken to the limits of what is stated.
	r.Low, r.High = max(r.Low, leastQ10), min(r.High, mostQ10)
	return r
}

// The coefficients that a plan may have.
const leastQ10, mostQ10 = 0.5, 20

func fixerOf(s *darkroom.Sheet, step darkroom.SheetStep) *Fixer {
	f := &Fixer{Step: step.Number, Name: step.Bath.Name, Mixed: step.Bath.Mixed, Fresh: step.Clearing, Factor: step.ClearingFactor}
	for _, b := range s.Baths {
		if b.Name == step.Bath.Name && b.Use != nil {
			f.Films, f.Spent = b.Use.FilmsText(), b.Use.Over()
		}
	}
	return f
}

// Check returns an error for a plan that no sheet makes, as a file may hold that was
// written by hand; it joins a fault for everything that is wrong.
func (p Plan) Check() error {
	var f check.Faults
	f.Line("trial", p.Trial, 1000)
	f.Line("films", p.Films, 1000)
	for _, text := range []struct{ key, text string }{{"title", p.Title}, {"for", p.For}, {"light", p.Light}, {"order", p.Order}} {
		f.Line(text.key, text.text, 4*printable.MaxName)
	}
	f.AddError("date", sensito.CheckDate(p.Date))
	if p.Films != "" {
		_, err := sensito.ParseFilms(p.Films)
		f.AddError("films", err)
	}
	n := len(p.Steps)
	if n < 1 || n > darkroom.MaxProcessSteps {
		f.Add("steps", "%d are outside 1 to %d", n, darkroom.MaxProcessSteps)
		return f.Err()
	}
	f.Within("developer", float64(p.Developer), 1, float64(n), "")
	f.Within("light_from", float64(p.LightFrom), 1, float64(n+1), "")
	for i, s := range p.Steps {
		s.check(&f, fmt.Sprintf("steps[%d].", i+1), i+1 == p.Developer)
	}
	if r := p.Rate; r != nil {
		for _, q := range []struct {
			key string
			v   float64
		}{{"q10", r.Q10}, {"q10_low", r.Low}, {"q10_high", r.High}} {
			f.Within("rate."+q.key, q.v, leastQ10, mostQ10, "")
		}
		for _, t := range []struct {
			key string
			v   float64
		}{{"celsius", r.Celsius}, {"end_c", r.EndC}, {"reference_c", r.ReferenceC}} {
			f.AddError("rate."+t.key, sensito.CheckTemperature(t.v))
		}
		f.Line("rate.source", r.Source, 1000)
		f.Within("rate.thermometer_sd_c", r.ThermometerC, 0, 10, " °C")
	}
	if x := p.Fixer; x != nil {
		if x.First != "" {
			f.AddError("fixer.first", sensito.CheckDate(x.First))
		}
		f.Within("fixer.step", float64(x.Step), 1, float64(n), "")
		f.Within("fixer.factor", x.Factor, 1, 10, "")
		f.Within("fixer.fresh_min", float64(x.Fresh), 0, 120, " min")
		if x.Mixed != "" {
			f.AddError("fixer.mixed", sensito.CheckDate(x.Mixed))
		}
		f.Line("fixer.name", x.Name, printable.MaxName)
		f.Line("fixer.films", x.Films, printable.MaxName)
	}
	for i, name := range p.Done.Baths {
		f.Line(fmt.Sprintf("done.baths[%d]", i+1), name, printable.MaxName)
	}
	f.Within("done.planned_min", float64(p.Done.Planned), 0.05, 1440, " min")
	return f.Err()
}

func (s Step) check(f *check.Faults, key string, critical bool) {
	f.Line(key+"name", s.Name, printable.MaxName)
	f.Line(key+"bath", s.Bath, 4*printable.MaxName)
	f.Line(key+"agitation", s.Agitation, 4*printable.MaxName)
	f.Line(key+"note", s.Note, 4*printable.MaxName)
	least := 0.0
	if critical {
		least = 0.05
	}
	f.Within(key+"minutes", float64(s.Minutes), least, 1440*darkroom.MaxChanges, " min")
	f.Within(key+"changes", float64(s.Changes), 0, darkroom.MaxChanges, "")
	f.Within(key+"drain_s", s.DrainS, 0, 600, " s")
	if s.Clearing != 0 {
		f.Within(key+"clearing_factor", s.Clearing, 1, 10, "")
	}
}

// duration returns a time in minutes.
func duration(m sensito.Minutes) time.Duration {
	return time.Duration(math.Round(float64(m) * float64(time.Minute)))
}

// minutes returns a duration in minutes, to the second.
func minutes(d time.Duration) sensito.Minutes {
	return sensito.Minutes(math.Round(d.Seconds()) / 60)
}

// usual says whether a temperature is one of hand processing.
func usual(celsius float64) bool {
	return celsius >= development.LeastCelsius && celsius <= development.MostCelsius
}

// clone returns the plan with its own lists.
func (p Plan) clone() Plan {
	p.Steps = slices.Clone(p.Steps)
	return p
}
