package control

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/control/chart"
	"sensito/sensito/internal/check"
	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
	"sensito/sensito/printable"
)

// Patches are the densities of one control strip, or the aim for them; Low and High
// are those of two exposures, gross.
type Patches struct {
	BaseFog, Low, High sensito.Density

	// Others are further patches by name; nil for none.
	Others map[string]sensito.Density
}

// Strip is one control strip of a log: film exposed always alike,
// developed as the process was that day.
type Strip struct {
	Date string // YYYY-MM-DD
	Patches
	Baseline bool // made while the process was known to be right: limits rest on it
	Fresh    bool // the first after the process was set right, as by fresh solution: charts begin anew
	Note     string
}

// Tolerances are the limits that a log states for itself, each the
// distance from the centre, Difference that of High less Low; 0 where the limits
// are to come from the strips.
type Tolerances struct {
	BaseFog, Low, Difference sensito.Density
	Others                   map[string]sensito.Density
}

// LogSpec is the content of a control log, not yet checked.
type LogSpec struct {
	Title   string
	Film    string          // of the strips; "" when not stated
	Minutes sensito.Minutes // for which the strips are developed; 0 when not stated

	// Developer is that of the process that is watched, and Dilution as of a trial;
	// "" when not stated.
	Developer, Dilution string

	// Aim is where the patches should be; nil when the strips themselves say
	// where they were. Reference says that it was read from a single strip, and
	// AimStrips that it is the mean of so many; 0 takes it as exact.
	Aim       *Patches
	Reference bool
	AimStrips int

	// Gradient is the slope of the film's curve at the low patch, in density
	// per decade; 0 when not stated.
	Gradient   float64
	Tolerances Tolerances

	// Repeatability is the standard deviation of a patch from strip to strip in a
	// steady process, by which limits are made where Tolerances does not state
	// them; 0 when not stated.
	Repeatability sensito.Density
	Strips        []Strip
}

// clone returns a spec that shares nothing with s.
func (s LogSpec) clone() LogSpec {
	if s.Aim != nil {
		s.Aim = new(s.Aim.clone())
	}
	s.Tolerances, s.Strips = s.Tolerances.clone(), clonedStrips(s.Strips)
	return s
}

func (p Patches) clone() Patches {
	p.Others = maps.Clone(p.Others)
	return p
}

func (t Tolerances) clone() Tolerances {
	t.Others = maps.Clone(t.Others)
	return t
}

func clonedStrips(strips []Strip) []Strip {
	out := slices.Clone(strips)
	for i := range out {
		out[i].Patches = out[i].Patches.clone()
	}
	return out
}

// Log is a log of control strips. It is made by NewLog and is immutable.
type Log struct {
	spec   LogSpec
	others []string  // names of further patches, sorted
	days   []float64 // from the first strip
}

// NewLog returns the log. The error joins a FieldError for every fault:
// no strips, dates that are none or run backwards, densities outside 0 to 6, a
// low patch that is not between base plus fog and the high one, patches that not all strips have,
// tolerances, times and gradients outside their limits.
func NewLog(spec LogSpec) (*Log, error) {
	var f check.Faults
	if spec.Reference {
		spec.AimStrips = 1
	}
	l := &Log{spec: spec.clone()}
	f.Line("title", spec.Title, printable.MaxName)
	f.Line("film", spec.Film, printable.MaxName)
	f.Line("developer", spec.Developer, printable.MaxName)
	if spec.Dilution != "" {
		f.AddError("dilution", sensito.CheckDilution(spec.Dilution))
	}
	if len(spec.Strips) == 0 {
		f.Add("strip", "is missing: a control log needs at least one strip")
	} else {
		l.others = slices.Sorted(maps.Keys(spec.Strips[0].Others))
	}
	if spec.Minutes != 0 {
		f.Within("minutes", float64(spec.Minutes), 0.05, 1440, " min")
	}
	if spec.Gradient != 0 {
		f.Within("aim.gradient", spec.Gradient, 0.01, 10, "")
	}
	if spec.Aim != nil {
		table := "aim."
		if spec.Reference {
			table = "reference."
		}
		checkPatches(&f, table, *spec.Aim, l.others)
	}
	if spec.AimStrips != 0 {
		f.Within("aim.strips", float64(spec.AimStrips), 1, 1000, "")
	}
	if spec.Repeatability != 0 {
		f.Within("repeatability", float64(spec.Repeatability), 0.002, 0.2, "")
	}
	l.days = checkDays(&f, spec.Strips)
	for i, s := range spec.Strips {
		f.Note(fmt.Sprintf("strip[%d].note", i+1), s.Note)
		checkPatches(&f, fmt.Sprintf("strip[%d].", i+1), s.Patches, l.others)
	}
	checkTolerances(&f, spec.Tolerances, l.others)
	if len(f) > 0 {
		return nil, f.Err()
	}
	return l, nil
}

// checkDays checks the dates and returns them as days from the first.
func checkDays(f *check.Faults, strips []Strip) []float64 {
	var days []float64
	var first, last time.Time
	for i, s := range strips {
		key := fmt.Sprintf("strip[%d].date", i+1)
		date, err := time.Parse(time.DateOnly, s.Date)
		switch {
		case s.Date == "":
			f.Add(key, "is missing")
		case err != nil:
			f.Add(key, "%q is not a date like 2026-03-01", s.Date)
		case date.Before(last):
			f.Add(key, "%s after %s runs backwards; a strip is appended at the end of the log", s.Date, last.Format(time.DateOnly))
		default:
			if last = date; first.IsZero() {
				first = date
			}
		}
		days = append(days, sensito.DaysBetween(first, date))
	}
	return days
}

var patchName = lazy.Regexp(`^[A-Za-z][A-Za-z0-9_-]{0,23}$`)

// lowBelowFog is how far an exposed patch may read below base plus fog: that film
// which got light is thinner is no more than scatter (common practice, no source).
const lowBelowFog = 0.05

// checkOrder checks that a patch is the denser the more light it got.
func checkOrder(f *check.Faults, table string, p Patches) {
	if p.Low >= p.High {
		f.Add(table+"low", "%g is not below high, %g; were the patches exchanged?", float64(p.Low), float64(p.High))
	}
	if p.BaseFog >= p.High {
		f.Add(table+"base_fog", "%g is not below high, %g", float64(p.BaseFog), float64(p.High))
	} else if p.Low < p.BaseFog-lowBelowFog {
		f.Add(table+"low", "%g is below base_fog, %g; were the two exchanged?", float64(p.Low), float64(p.BaseFog))
	}
}

// checkPatches checks the densities of one strip; names are the patches that it must
// have beside the three.
func checkPatches(f *check.Faults, table string, p Patches, names []string) {
	f.Within(table+"base_fog", float64(p.BaseFog), 0, 6, "")
	f.Within(table+"low", float64(p.Low), 0, 6, "")
	f.Within(table+"high", float64(p.High), 0, 6, "")
	if p.High == 0 {
		f.Add(table+"high", "0 is not above base_fog and low; high is the patch that got the most light")
	} else {
		checkOrder(f, table, p)
	}
	for _, name := range names {
		if _, ok := p.Others[name]; !ok {
			f.Add(table+"patches", "lacks %s, which the first strip has", name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(p.Others)) {
		key := table + "patches." + name
		switch {
		case !patchName().MatchString(name):
			f.Add(table+"patches", "%q is not a name for a patch: a letter, then letters, figures, - and _, at most 24", name)
			continue
		case slices.Contains([]string{QuantityBaseFog, QuantityLow, "high", QuantityDifference}, strings.ToLower(name)):
			f.Add(key, "is a name that the log uses already")
		case !slices.Contains(names, name):
			f.Add(key, "is a patch that the first strip does not have")
		}
		f.Within(key, float64(p.Others[name]), 0, 6, "")
	}
}

// The limits of a stated tolerance.
const leastTolerance, mostTolerance = 0.005, 2

// checkTolerances checks the stated limits; one below half a step of the
// densitometer would be passed by rounding alone.
func checkTolerances(f *check.Faults, t Tolerances, names []string) {
	check := func(key string, v sensito.Density) {
		if v != 0 {
			f.Within(key, float64(v), leastTolerance, mostTolerance, "")
		}
	}
	check("limits.base_fog", t.BaseFog)
	check("limits.low", t.Low)
	check("limits.difference", t.Difference)
	for _, name := range slices.Sorted(maps.Keys(t.Others)) {
		if !slices.Contains(names, name) {
			f.Add("limits.patches."+name, "is a patch that the strips do not have")
			continue
		}
		f.Within("limits.patches."+name, float64(t.Others[name]), leastTolerance, mostTolerance, "")
	}
}

// Title returns the log's title, or "".
func (l *Log) Title() string { return l.spec.Title }

// Film returns the film of the strips, "" when not stated.
func (l *Log) Film() string { return l.spec.Film }

// Developer returns the developer of the process with its dilution, each "" when not
// stated.
func (l *Log) Developer() (name, dilution string) { return l.spec.Developer, l.spec.Dilution }

// IsOf says whether the log is of the film and the developer of a trial: both must be
// stated, and the dilution be the same where both state one. Neither case nor spaces
// at the ends count.
func (l *Log) IsOf(t *sensito.Trial) bool {
	same := func(a, b string) bool { return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b)) }
	s, p := l.spec, t.Process()
	return t.Material() == sensito.FilmMaterial && s.Film != "" && same(s.Film, t.Film().Name) &&
		s.Developer != "" && same(s.Developer, p.Developer) &&
		(s.Dilution == "" || p.Dilution == "" || sameDilution(s.Dilution, p.Dilution))
}

// sameDilution compares dilutions, as "1+19" and "1:19"; "stock" and others by their words.
func sameDilution(a, b string) bool {
	x, err := sensito.ParseDilution(a)
	y, other := sensito.ParseDilution(b)
	if err == nil && other == nil && x.Stated() && y.Stated() {
		return chart.Settled(x.Parts()) == chart.Settled(y.Parts())
	}
	return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b))
}

// Minutes returns the development time of the strips, 0 when not stated.
func (l *Log) Minutes() sensito.Minutes { return l.spec.Minutes }

// Strips returns the strips in the order of their dates.
func (l *Log) Strips() []Strip { return clonedStrips(l.spec.Strips) }

// StripAs returns the number, from 1, of the strip that says the same as s in
// date, patches, fresh start and note, 0 for none. Which strips are a baseline is
// chosen later, and does not count.
func (l *Log) StripAs(s Strip) int {
	same := func(a, b sensito.Density) bool { return chart.Settled(float64(a)) == chart.Settled(float64(b)) }
	return 1 + slices.IndexFunc(l.spec.Strips, func(o Strip) bool {
		return s.Date == o.Date && s.Fresh == o.Fresh && s.Note == o.Note &&
			same(s.BaseFog, o.BaseFog) && same(s.Low, o.Low) && same(s.High, o.High) && maps.EqualFunc(s.Others, o.Others, same)
	})
}

// ParsePatch reads a further patch of a control strip, as middle=0.71. The error
// names the text.
func ParsePatch(text string) (name string, density sensito.Density, err error) {
	name, number, found := strings.Cut(text, "=")
	density, err = ParseDensity(number)
	if name = strings.TrimSpace(name); !found || name == "" || err != nil {
		return "", 0, fmt.Errorf("%q is not a patch like middle=0.71", text)
	}
	return name, density, nil
}

// ParseDensity reads a density of a control strip, as 0.71. The error names the text.
func ParseDensity(text string) (sensito.Density, error) {
	v, err := decimal.Parse(strings.TrimSpace(text))
	if err != nil {
		return 0, fmt.Errorf("%q is not a density like 0.71", text)
	}
	return sensito.Density(v), nil
}

// Aim returns the aim and whether it was read from a reference strip; nil when
// the log states none.
func (l *Log) Aim() (aim *Patches, reference bool) {
	if l.spec.Aim == nil {
		return nil, false
	}
	return new(l.spec.Aim.clone()), l.spec.Reference
}

// AimStrips returns how many strips the aim is the mean of, 0 when not stated.
func (l *Log) AimStrips() int { return l.spec.AimStrips }

// Tolerances returns the limits that the log states.
func (l *Log) Tolerances() Tolerances { return l.spec.Tolerances.clone() }

// Repeatability returns the stated standard deviation of a patch from strip to
// strip, 0 when there is none.
func (l *Log) Repeatability() sensito.Density { return l.spec.Repeatability }

// Gradient returns the stated slope at the low patch, 0 when there is none.
func (l *Log) Gradient() float64 { return l.spec.Gradient }

// Days returns the dates of the strips as days from the first.
func (l *Log) Days() []float64 { return slices.Clone(l.days) }

// The charted quantities, beside further patches by their names.
const (
	QuantityBaseFog    = "base_fog"
	QuantityLow        = "low"        // density of the low patch as read, which follows speed, and contrast too
	QuantityDifference = "difference" // high less low, which follows contrast
)

// Spoken returns a charted quantity in words.
func Spoken(quantity string) string {
	switch quantity {
	case QuantityBaseFog:
		return "base plus fog"
	case QuantityLow:
		return "low density"
	case QuantityDifference:
		return "density difference"
	}
	return "patch " + quantity
}

// Quantities returns the names of what is charted, in order.
func (l *Log) Quantities() []string {
	return append([]string{QuantityBaseFog, QuantityLow, QuantityDifference}, l.others...)
}

// of returns a quantity of the patches.
func (p Patches) of(quantity string) float64 {
	switch quantity {
	case QuantityBaseFog:
		return float64(p.BaseFog)
	case QuantityLow:
		return float64(p.Low)
	case QuantityDifference:
		return chart.Settled(float64(p.High - p.Low))
	}
	return float64(p.Others[quantity])
}

// of returns the stated limit of a quantity, 0 for none.
func (t Tolerances) of(quantity string) float64 {
	switch quantity {
	case QuantityBaseFog:
		return float64(t.BaseFog)
	case QuantityLow:
		return float64(t.Low)
	case QuantityDifference:
		return float64(t.Difference)
	}
	return float64(t.Others[quantity])
}

// series returns a quantity of all strips.
func (l *Log) series(quantity string) []float64 {
	out := make([]float64, len(l.spec.Strips))
	for i, s := range l.spec.Strips {
		out[i] = s.of(quantity)
	}
	return out
}

// runs returns where the runs between fresh starts begin, and the end.
func (l *Log) runs() []int {
	at := []int{0}
	for i, s := range l.spec.Strips {
		if i > 0 && s.Fresh {
			at = append(at, i)
		}
	}
	return append(at, len(l.spec.Strips))
}
