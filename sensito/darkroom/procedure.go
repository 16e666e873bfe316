package darkroom

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/check"
	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// TimeFrom says where the time of a step comes from.
type TimeFrom string

const (
	TimeStated       TimeFrom = ""              // from the file; without one the step lasts until it is done
	TimeFromPlan     TimeFrom = "from plan"     // the development time
	TimeFromClearing TimeFrom = "from clearing" // a multiple of the time in which the film cleared
)

// DefaultClearingFactor is how many times the clearing time film stays in the
// fixer (NAVEDTRA 14209, page 10-7; Cyclopaedia of Photography, 1911).
const DefaultClearingFactor = 2

// DefaultShuffleSeconds is how long one pass through the sheets in a tray takes
// (common practice, no source).
const DefaultShuffleSeconds = 30

// Bath is a solution of a procedure. The zero value is none.
type Bath struct {
	Name     string
	Dilution string // see ParseDilution; "" for what is not mixed, as water
	OneShot  bool   // poured away after the film
	Capacity string // of one that is kept, see ParseCapacity; "" when not stated
	Mixed    string // when it was mixed, YYYY-MM-DD; may be empty
	Least    string // concentrate that film needs, see ParseLeast; "" when not stated

	dilution sensito.Dilution
	capacity Capacity
	least    Least
}

// only reports whether the bath is a name that refers to an earlier step.
func (b Bath) only() bool { return b == Bath{Name: b.Name} }

// ProcessStep is one step of a procedure.
type ProcessStep struct {
	Name string
	Bath Bath

	From           TimeFrom        // where the time comes from
	Minutes        sensito.Minutes // with TimeStated, of each change; 0 when the step lasts until it is done
	Changes        int             // so many fillings one after the other, as of water to wash in; 0 for one
	Clearing       sensito.Minutes // the clearing time, with TimeFromClearing; 0 when it was not measured
	ClearingFactor float64         // 0 means DefaultClearingFactor

	TemperatureC float64 // degrees Celsius; 0 means that of the developer
	Agitation    string  // in words
	Dark         bool    // the film must not see light
	Critical     bool    // the time must be kept
	DrainSeconds float64 // the end of the time, or of each change, in which the bath runs off
	Note         string
}

// ProcedureSpec is the content of a procedure, not yet checked.
type ProcedureSpec struct {
	Title          string
	ShuffleSeconds float64 // one pass through the sheets in a tray; 0 means DefaultShuffleSeconds
	Steps          []ProcessStep
}

// Procedure is the order in which film is processed. It is made by NewProcedure.
type Procedure struct{ spec ProcedureSpec }

// The limits of a procedure.
const (
	MaxProcessSteps = 24
	MaxChanges      = 60 // of one step
	maxStepName     = 60 // characters
	maxStepText     = 300
)

// NewProcedure returns the procedure. The error joins a FieldError for every
// fault: no steps or too many, none or several that take the development time, a
// step in the dark after one in the light, what contradicts itself or lies
// outside its limits. A bath that several steps use is described by the first.
func NewProcedure(spec ProcedureSpec) (*Procedure, error) {
	var f check.Faults
	f.Line("title", spec.Title, maxStepText)
	if spec.ShuffleSeconds != 0 {
		f.Within("shuffle_seconds", spec.ShuffleSeconds, 5, 600, " s")
	}
	steps := append([]ProcessStep(nil), spec.Steps...)
	switch {
	case len(steps) == 0:
		f.Add("step", "is missing: a procedure needs at least the development")
	case len(steps) > MaxProcessSteps:
		f.Add("step", "%d steps are more than %d", len(steps), MaxProcessSteps)
		return nil, f.Err()
	}
	developer, light := 0, 0
	first := map[string]int{}
	for i := range steps {
		s, key := &steps[i], fmt.Sprintf("step[%d].", i+1)
		s.check(&f, key)
		if s.From == TimeFromPlan {
			if developer > 0 {
				f.Add(key+"minutes", "takes the time of the plan, as step %d does; one step is the development", developer)
			}
			developer = i + 1
		}
		switch {
		case !s.Dark && light == 0:
			light = i + 1
		case s.Dark && light > 0:
			f.Add(key+"dark", "step %d before it is in the light", light)
		}
		if s.Bath.Name == "" {
			continue
		}
		if at, again := first[s.Bath.Name]; !again {
			first[s.Bath.Name] = i
		} else if s.Bath.only() || s.Bath == steps[at].Bath {
			s.Bath = steps[at].Bath
		} else {
			f.Add(key+"bath", "%q is described otherwise by step %d; describe it there, or give it another name", s.Bath.Name, at+1)
		}
	}
	for i := range steps {
		key := fmt.Sprintf("step[%d].", i+1)
		if steps[i].Changes > 0 && steps[i].Bath.Dilution != "" {
			f.Add(key+"changes", "go with water, and %q is mixed", steps[i].Bath.Name)
		}
		steps[i].Bath.parse(&f, key)
	}
	if developer == 0 && len(steps) > 0 {
		f.Add("step", "none is the development: write minutes = %q in it", TimeFromPlan)
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	spec.Steps = steps
	return &Procedure{spec}, nil
}

// Spec returns what NewProcedure makes an equal procedure from.
func (p *Procedure) Spec() ProcedureSpec {
	spec := p.spec
	spec.Steps = p.Steps()
	return spec
}

// Title returns the name of the procedure, or "".
func (p *Procedure) Title() string { return p.spec.Title }

// Steps returns the steps in their order.
func (p *Procedure) Steps() []ProcessStep { return append([]ProcessStep(nil), p.spec.Steps...) }

// KeptBaths returns the names of the baths beside the developer that are mixed and not
// poured away, in order, as a log names them.
func (p *Procedure) KeptBaths() []string {
	var names []string
	for _, step := range p.spec.Steps {
		b := step.Bath
		kept := !b.OneShot && (b.Dilution != "" || b.Capacity != "" || b.Mixed != "")
		if kept && step.From != TimeFromPlan && !slices.Contains(names, b.Name) {
			names = append(names, b.Name)
		}
	}
	return names
}

// Counts says whether a bath of it says when it was mixed, so that its uses are counted.
func (p *Procedure) Counts() bool {
	return slices.ContainsFunc(p.spec.Steps, func(s ProcessStep) bool { return s.Bath.Mixed != "" })
}

// ShuffleSeconds returns how long one pass through the sheets in a tray takes.
func (p *Procedure) ShuffleSeconds() float64 {
	if p.spec.ShuffleSeconds == 0 {
		return DefaultShuffleSeconds
	}
	return p.spec.ShuffleSeconds
}

// check notes what is wrong with one step.
func (s *ProcessStep) check(f *check.Faults, key string) {
	if strings.TrimSpace(s.Name) == "" {
		f.Add(key+"name", "is missing")
	}
	f.Line(key+"name", s.Name, maxStepName)
	f.Line(key+"bath", s.Bath.Name, maxStepName)
	f.Line(key+"agitation", s.Agitation, maxStepText)
	f.Line(key+"note", s.Note, maxStepText)
	s.checkTime(f, key)
	if s.TemperatureC != 0 {
		f.Within(key+"temperature_c", s.TemperatureC, 1, 60, " °C")
	}
	if s.From == TimeFromPlan {
		if s.TemperatureC != 0 {
			f.Add(key+"temperature_c", "is that of the trial, or of the bath on the day")
		}
		if s.Bath.Dilution != "" {
			f.Add(key+"dilution", "is that of the trial, or of the bath on the day")
		}
	}
	if s.Bath.Name == "" && !s.Bath.only() && s.From != TimeFromPlan {
		f.Add(key+"bath", "is missing: name the bath that is described")
	}
	s.Bath.check(f, key)
}

// checkTime notes what is wrong with the time of a step.
func (s *ProcessStep) checkTime(f *check.Faults, key string) {
	f.Within(key+"drain_seconds", s.DrainSeconds, 0, 600, " s")
	switch s.From {
	case TimeStated:
		if s.Minutes != 0 {
			f.Within(key+"minutes", float64(s.Minutes), 0.05, 1440, " min")
			if s.DrainSeconds >= 60*float64(s.Minutes) {
				f.Add(key+"drain_seconds", "%g s to drain leave nothing of %s", s.DrainSeconds, s.Minutes.Clock(1))
			}
		}
	case TimeFromPlan, TimeFromClearing:
		if s.Minutes != 0 {
			f.Add(key+"minutes", "%q does not go with a time", s.From)
		}
	default:
		f.Add(key+"minutes", "%q is not a time, %q or %q", s.From, TimeFromPlan, TimeFromClearing)
	}
	if s.Changes != 0 {
		f.Within(key+"changes", float64(s.Changes), 2, MaxChanges, "")
		switch {
		case s.From != TimeStated || s.Minutes == 0:
			f.Add(key+"changes", "need the time of each, such as minutes = \"0:30\"")
		case s.Bath.Name == "":
			f.Add(key+"bath", "is missing: name what is changed, such as water")
		}
	}
	if s.From != TimeFromClearing && (s.Clearing != 0 || s.ClearingFactor != 0) {
		f.Add(key+"clearing_minutes", "and clearing_factor go with minutes = %q", TimeFromClearing)
		return
	}
	if s.Clearing != 0 {
		f.Within(key+"clearing_minutes", float64(s.Clearing), 0.05, 120, " min")
	}
	if s.ClearingFactor != 0 {
		f.Within(key+"clearing_factor", s.ClearingFactor, 1, 10, "")
	}
}

func (b Bath) check(f *check.Faults, key string) {
	if b.OneShot && (b.Capacity != "" || b.Mixed != "") {
		f.Add(key+"one_shot", "does not go with capacity and mixed, which are of a bath that is kept")
	}
	if b.Mixed != "" {
		f.AddError(key+"mixed", sensito.CheckDate(b.Mixed))
	}
}

// parse reads what the bath states as text.
func (b *Bath) parse(f *check.Faults, key string) {
	var err error
	if b.Dilution != "" {
		if b.dilution, err = sensito.ParseDilution(b.Dilution); err != nil {
			f.Add(key+"dilution", "%v", err)
		}
	}
	if b.Capacity != "" {
		if b.capacity, err = ParseCapacity(b.Capacity); err != nil {
			f.Add(key+"capacity", "%v", err)
		}
	}
	if b.Least != "" {
		if b.least, _, err = ParseLeast(b.Least); err != nil {
			f.Add(key+"least", "%v", err)
		}
	}
}

// Capacity is how much film a litre of a bath can treat, in square centimetres.
type Capacity sensito.Area

// Of returns the area that a volume can treat.
func (c Capacity) Of(v Volume) sensito.Area { return sensito.Area(c) * sensito.Area(v.Litres()) }

var capacityForm = lazy.Regexp(`^` + decimal.Form + `\s*(films?|in2|sq\s*in|cm2|sq\s*cm|m2)\s*(?:/|a|per)\s*(?:l|litre|liter)$`)

// ParseCapacity reads "20 films/l", films of 80 square inches, or an area such as
// "1600in2/l", "10000cm2/l" or "1m2/l".
func ParseCapacity(text string) (Capacity, error) {
	part := capacityForm().FindStringSubmatch(strings.ToLower(strings.TrimSpace(text)))
	if part == nil {
		return 0, fmt.Errorf("%q is not a capacity like 20 films/l, 1600in2/l or 10000cm2/l", text)
	}
	number, err := decimal.Parse(part[1])
	if err != nil {
		return 0, fmt.Errorf("%q: %w", text, err)
	}
	area := sensito.Area(number)
	switch strings.Join(strings.Fields(part[2]), "") {
	case "film", "films":
		area *= sensito.FilmUnit
	case "in2", "sqin":
		area *= sensito.SquareInch
	case "m2":
		area *= 1e4
	}
	if !(area >= 1 && area <= 1e7) {
		return 0, fmt.Errorf("%q is outside 1 to 10000000 cm2/l", text)
	}
	return Capacity(area), nil
}

// Uses says how often a developer is used. The zero value leaves that to the
// procedure.
type Uses struct {
	OneShot bool // poured away after the films
	Number  int  // which use it is, from 1; 0 when not stated
	Most    int  // that the developer bears; 0 when not stated
}

var usesForm = lazy.Regexp(`^(\d{1,4})(?:\s*(?:of|/)\s*(\d{1,4}))?$`)

// OneShot is the word for developer that is used once.
const OneShot = "one-shot"

// ParseUses reads "one-shot", or which use of the developer it is, "3", with the
// most that it bears, "3 of 10".
func ParseUses(text string) (Uses, error) {
	plain := strings.ToLower(strings.TrimSpace(text))
	if plain == OneShot || plain == "one shot" {
		return Uses{OneShot: true}, nil
	}
	part := usesForm().FindStringSubmatch(plain)
	if part == nil {
		return Uses{}, fmt.Errorf("%q is neither one-shot nor a use like 3 or 3 of 10", text)
	}
	var u Uses
	u.Number, _ = strconv.Atoi(part[1]) // digits
	u.Most, _ = strconv.Atoi(part[2])   // digits, or nothing and 0
	if u.Number < 1 || part[2] != "" && u.Most < 1 {
		return Uses{}, fmt.Errorf("%q: uses are counted from 1", text)
	}
	return u, nil
}
