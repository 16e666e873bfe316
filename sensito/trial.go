package sensito

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/internal/check"
	"sensito/sensito/printable"
)

// Material says what was exposed.
type Material string

const (
	FilmMaterial  Material = ""      // a negative, read by transmission
	PaperMaterial Material = "paper" // a print material, read by reflection
)

// Film names a film, or a paper, and what its box says.
type Film struct {
	Name, Batch, Format string // Batch and Format may be empty
	RatedSpeed          Speed  // as on the box; 0 when not given, and for a paper
}

// Repeating is how well the process repeats from one development to the next, as
// standard deviations: degrees Celsius on the thermometer, and time on the clock and by
// hand. Both are 0 when not stated.
type Repeating struct {
	TemperatureSDC float64
	TimeSD         Seconds
}

// Stated says whether anything is stated.
func (r Repeating) Stated() bool { return r != Repeating{} }

// StripSpec is what NewTrial needs to know of one strip. BaseFog, Density and Repeats
// are as they were read, in the Unit of the trial's Reading.
type StripSpec struct {
	Minutes Minutes   // 0 when not stated, which a strip of paper may leave open
	Grade   string    // grade or contrast filter of a strip of paper; may be empty
	BaseFog []Density // readings of unexposed, developed film or paper; may be empty
	Density []Density // one per step, in wedge order; NaN where not read
	Ignore  []int     // step numbers set aside by the photographer, from 1
	Note    string

	// Repeats holds the readings of steps that were read more than once, by step
	// number from 1. Their mean takes the place of the step's Density.
	Repeats map[int][]Density

	// NextStep is where keying in the strip goes on, from 1; 0 when the strip is
	// complete.
	NextStep int

	Date string // when developed, YYYY-MM-DD; may be empty

	// Seconds and IlluminanceLx are how this strip was exposed by contact; zero
	// stands for the trial's.
	Seconds       Seconds
	IlluminanceLx float64

	// Picture is the file in which the strip was read, and what it is known by, and
	// Calibration the name of the one that it was read by; both are empty for a strip
	// that was read as the Reading of the trial says.
	Picture, Calibration string

	// Process is how this strip was developed; a zero field stands for the
	// trial's.
	Process Process
}

// TrialSpec is what NewTrial needs to know of a trial.
type TrialSpec struct {
	Title     string
	Material  Material
	Film      Film // or the paper
	Process   Process
	Exposures Exposures
	Reading   Reading
	Repeating Repeating
	Strips    []StripSpec

	Calibrations []Calibration // of the pictures in which strips were read; nil for none

	// Reciprocity is what is stated of long exposures; nil when nothing is.
	Reciprocity *StatedReciprocity

	// Q10 is the rate of development at 30 over that at 20 degrees Celsius as the
	// photographer knows it, and Q10SD its standard deviation; 0 when not stated.
	Q10, Q10SD float64

	// Done are the developments that were carried out by the trial; nil for none.
	Done []Done
}

// Trial is one film in one developer under one set of conditions: one or more
// strips developed for different times. Of a paper, the strips differ by grade
// or contrast filter. It is made by NewTrial and is immutable.
type Trial struct {
	title     string
	material  Material
	film      Film
	process   Process
	exposures Exposures
	reading   Reading
	repeating Repeating
	strips    []*Strip

	calibrations []Calibration
	spreads      []spread // of repeated readings

	reciprocity *StatedReciprocity
	q10, q10SD  float64
	done        []Done
}

// Title returns the title that the trial was given, "" for none.
func (t *Trial) Title() string { return t.title }

// Name returns the title or, of an untitled trial, the name of its film or paper.
func (t *Trial) Name() string { return cmp.Or(t.title, t.film.Name) }

// Material returns whether the strips are film or paper.
func (t *Trial) Material() Material { return t.material }

// Film returns the film or paper that was tested.
func (t *Trial) Film() Film { return t.film }

// Process returns the development of every strip that does not say otherwise.
func (t *Trial) Process() Process { return t.process }

// Exposures returns the exposures of the steps, alike for all strips but those
// that say otherwise; see Strip.Seconds.
func (t *Trial) Exposures() Exposures { return t.exposures }

// Reading returns how the strips were read.
func (t *Trial) Reading() Reading { return t.reading.withDefaults() } // which copies its lists

// Repeating returns how well the process repeats, as far as it is stated.
func (t *Trial) Repeating() Repeating { return t.repeating }

// Reciprocity returns what is stated of long exposures, nil when nothing is.
func (t *Trial) Reciprocity() *StatedReciprocity { return t.reciprocity.clone() }

// Q10 returns the temperature coefficient that the photographer states, the rate
// of development at 30 over that at 20 degrees Celsius, and its standard
// deviation; 0 when not stated.
func (t *Trial) Q10() (q10, sd float64) { return t.q10, t.q10SD }

// Strips returns the strips in the order of the notebook.
func (t *Trial) Strips() []*Strip { return slices.Clone(t.strips) }

// Step is one reading of a strip.
type Step struct {
	Number  int // from 1, in wedge order
	LogH    LogExposure
	Density Density // NaN when not read
	Ignored bool    // set aside by the photographer

	// Repeats are the readings whose mean Density is, where there are several.
	Repeats []Density
}

// Read says whether the step has a reading that may be used.
func (s Step) Read() bool { return !s.Ignored && !math.IsNaN(float64(s.Density)) }

// Strip is one piece of film or paper exposed to a series of known exposures and
// developed once. It belongs to a Trial and is immutable.
type Strip struct {
	number  int
	minutes Minutes
	grade   string
	baseFog []Density
	steps   []Step
	asRead  *StripSpec // what was read, where that is no density
	process Process
	seconds Seconds
	lx      float64
	date    string
	note    string
	next    int
	copyOf  int
	trial   *Trial

	picture, calibration string
}

// Number returns the strip's place in its trial, from 1.
func (s *Strip) Number() int { return s.number }

// Minutes returns the development time, 0 where it is not stated.
func (s *Strip) Minutes() Minutes { return s.minutes }

// Seconds returns how long every step of the strip was exposed by contact; 0
// for the other kinds of exposure.
func (s *Strip) Seconds() Seconds { return s.seconds }

// IlluminanceLx returns the illuminance at which the strip was exposed by
// contact, in lux; 0 for the other kinds of exposure.
func (s *Strip) IlluminanceLx() float64 { return s.lx }

// Grade returns the grade or contrast filter of a strip of paper, or "".
func (s *Strip) Grade() string { return s.grade }

// BaseFog returns the readings of unexposed, developed film; of a paper they
// are of its white.
func (s *Strip) BaseFog() []Density { return slices.Clone(s.baseFog) }

// Steps returns every step in wedge order, read or not.
func (s *Strip) Steps() []Step {
	out := slices.Clone(s.steps)
	for i := range out {
		out[i].Repeats = slices.Clone(out[i].Repeats)
	}
	return out
}

// StepsRead returns how many steps of the strip have a reading, one that is set
// aside included.
func (s *Strip) StepsRead() int {
	n := 0
	for _, step := range s.steps {
		if !math.IsNaN(float64(step.Density)) {
			n++
		}
	}
	return n
}

// Process returns the development of this strip: the trial's, with what the
// strip says otherwise.
func (s *Strip) Process() Process { return s.process }

// Date returns when the strip was developed, or "".
func (s *Strip) Date() string { return s.date }

// Note returns the photographer's note, or "".
func (s *Strip) Note() string { return s.note }

// NextStep returns the step at which keying in the strip was interrupted, 0
// when the strip is complete.
func (s *Strip) NextStep() int { return s.next }

// Trial returns the trial that the strip belongs to.
func (s *Strip) Trial() *Trial { return s.trial }

// NewTrial returns the trial after checking what can be checked without a
// fit. The error joins one FieldError for each fault.
func NewTrial(spec TrialSpec) (*Trial, error) {
	var f check.Faults
	what := "film"
	switch spec.Material {
	case FilmMaterial:
	case PaperMaterial:
		what = "paper"
	default:
		f.Add("kind", "%q is neither film nor paper", spec.Material)
	}
	film := check.Place{Table: what}
	if strings.TrimSpace(spec.Film.Name) == "" {
		film.Add(&f, "name", "is missing")
	}
	f.Line("title", spec.Title, printable.MaxName)
	film.Line(&f, "name", spec.Film.Name, printable.MaxName)
	film.Line(&f, "batch", spec.Film.Batch, printable.MaxName)
	film.Line(&f, "format", spec.Film.Format, printable.MaxName)
	switch {
	case spec.Film.RatedSpeed == 0:
	case spec.Material == PaperMaterial:
		f.Add("paper.rated_speed", "is of film; the speed of a paper is measured")
	default:
		f.Within("film.rated_speed", float64(spec.Film.RatedSpeed), 0.01, 1e6, "")
	}
	CheckProcess(&f, check.Place{Table: "process"}, spec.Process)
	CheckQ10(&f, "process.", unless0(spec.Q10), unless0(spec.Q10SD))
	checkDone(&f, spec.Material, spec.Done)
	f.Join(spec.Reciprocity.Check())
	if spec.Exposures.Len() == 0 {
		f.Add("exposure", "is missing")
	}
	spec.Reading = spec.Reading.withDefaults()
	readable := spec.Reading.check(&f, spec.Material)
	spec.checkCalibrations(&f)
	f.Within("process.temperature_sd_c", spec.Repeating.TemperatureSDC, 0, 5, " °C")
	f.Within("process.time_sd_s", float64(spec.Repeating.TimeSD), 0, 600, " s")
	if len(spec.Strips) == 0 {
		f.Add("strip", "is missing: a trial needs at least one developed strip")
	}
	spec.Process = spec.Process.Or(common(spec.Strips))
	t := &Trial{title: spec.Title, material: spec.Material, film: spec.Film, process: spec.Process,
		exposures: spec.Exposures, reading: spec.Reading, repeating: spec.Repeating, reciprocity: spec.Reciprocity.clone(),
		q10: spec.Q10, q10SD: spec.Q10SD, done: clonedDone(spec.Done), calibrations: slices.Clone(spec.Calibrations)}
	if !readable { // what was read cannot be judged
		return nil, f.Err()
	}
	for i, s := range spec.Strips {
		t.strips = append(t.strips, newStrip(&f, t, i+1, s))
	}
	t.checkFrame(&f)
	markCopies(t.strips)
	t.spreads = t.pooled()
	if err := f.Err(); err != nil {
		return nil, err
	}
	return t, nil
}

// checkFrame notes what is wrong with a frame in a trial of strips.
func (t *Trial) checkFrame(f *check.Faults) {
	const key = "exposure.frame"
	frame := t.exposures.frame
	if frame == nil {
		return
	}
	if t.material == PaperMaterial {
		f.Add(key, "is of film; with relative exposures a paper has a range but no speed")
	}
	for i, d := range frame.Density {
		name := key + ".density"
		if len(frame.Density) > 1 {
			name = fmt.Sprintf("%s[%d]", name, i+1)
		}
		f.AddError(name, t.reading.CheckReading(d))
	}
	var times []string
	for _, s := range t.strips {
		if s == nil || math.Abs(float64(s.minutes-frame.Minutes)) < 1e-6 {
			return
		}
		times = append(times, s.minutes.Clock(1))
	}
	f.Add(key+".minutes", "no strip was developed for %s, as the frame was; there are %s", frame.Minutes.Clock(1), strings.Join(times, ", "))
}

// common returns what all strips say alike of their development, which stands
// for the trial where it says nothing.
func common(strips []StripSpec) Process {
	if len(strips) == 0 {
		return Process{}
	}
	p := strips[0].Process
	for _, s := range strips[1:] {
		if s.Process.Dilution != p.Dilution {
			p.Dilution = ""
		}
		if s.Process.TemperatureC != p.TemperatureC {
			p.TemperatureC = 0
		}
		if s.Process.Agitation != p.Agitation {
			p.Agitation = AgitationUnstated
		}
	}
	return p
}

// newStrip checks one strip, adding what is wrong to f.
func newStrip(f *check.Faults, t *Trial, number int, s StripSpec) *Strip {
	at := check.Place{Table: "strip", Number: number}
	if s.Minutes != 0 || t.material != PaperMaterial {
		at.Within(f, "minutes", float64(s.Minutes), 0.05, 1440, " min")
	}
	checkGrade(f, at, t.material, s.Grade)
	at.Note(f, "note", s.Note)
	if s.Date != "" {
		at.AddError(f, "developed", CheckDate(s.Date))
	}
	CheckProcess(f, at, s.Process)
	s.checkPicture(f, at, t.calibrations)
	seconds, lx, more := s.exposed(f, at, t.exposures)

	lowest, highest := t.reading.limits()
	outside := func(d Density) bool { return !(d >= lowest && d <= highest) } // first, for a key costs more than a reading
	refuse := func(name string, d Density) { at.AddError(f, name, t.reading.CheckReading(d)) }
	for i, d := range s.BaseFog {
		if outside(d) {
			refuse(fmt.Sprintf("base_fog[%d]", i+1), d)
		}
	}
	n := t.exposures.Len()
	if len(s.Density) != n && n > 0 {
		at.Add(f, "density", "has %d readings for %d steps; write nan where a step was not read", len(s.Density), n)
		return nil
	}
	in := t.reading.InDensity(s)
	steps := make([]Step, n)
	for i, h := range t.exposures.logH {
		steps[i] = Step{Number: i + 1, LogH: h.Add(more), Density: in.Density[i]}
		if d := s.Density[i]; !math.IsNaN(float64(d)) && outside(d) {
			refuse(fmt.Sprintf("density[%d]", i+1), d)
		}
	}
	var repeated []int
	for number := range s.Repeats {
		repeated = append(repeated, number)
	}
	slices.Sort(repeated)
	for _, number := range repeated {
		readings := s.Repeats[number]
		if number < 1 || number > n || len(readings) == 0 {
			at.Add(f, fmt.Sprintf("density[%d]", number), "%d readings for step %d of %d", len(readings), number, n)
			continue
		}
		for i, d := range readings {
			if outside(d) {
				refuse(fmt.Sprintf("density[%d][%d]", number, i+1), d)
			}
		}
		readings = in.Repeats[number]
		steps[number-1].Density = AverageDensity(readings)
		if len(readings) > 1 {
			steps[number-1].Repeats = slices.Clone(readings)
		}
	}
	if s.NextStep < 0 || s.NextStep > n {
		at.Add(f, "next_step", "step %d is outside 1 to %d", s.NextStep, n)
	}
	for i, number := range s.Ignore {
		switch {
		case n == 0: // told above
		case number < 1 || number > n:
			at.Add(f, fmt.Sprintf("ignore[%d]", i+1), "step %d is outside 1 to %d", number, n)
		case steps[number-1].Ignored:
			at.Add(f, fmt.Sprintf("ignore[%d]", i+1), "step %d is named twice", number)
		default:
			steps[number-1].Ignored = true
		}
	}
	return &Strip{number: number, minutes: s.Minutes, grade: s.Grade, baseFog: slices.Clone(in.BaseFog), steps: steps, asRead: t.reading.kept(s),
		process: s.Process.Or(t.process), seconds: seconds, lx: lx, date: s.Date, note: s.Note, next: s.NextStep, trial: t,
		picture: s.Picture, calibration: s.Calibration}
}

// ExposedMore returns by how much more than the trial's exposures those of the
// strip are.
func (s StripSpec) ExposedMore(e Exposures) LogRange {
	_, _, more := s.exposed(&check.Faults{}, check.Place{}, e)
	return more
}

// exposed returns how long and in how many lux the strip was exposed, and by how
// much more than the trial's exposures its own are, noting what is wrong with it.
func (s StripSpec) exposed(f *check.Faults, at check.Place, e Exposures) (seconds Seconds, lx float64, more LogRange) {
	if s.Seconds == 0 && s.IlluminanceLx == 0 {
		return e.seconds, e.illuminanceLx, 0
	}
	if e.kind != Contact {
		for _, given := range []struct {
			name  string
			value float64
		}{{"seconds", float64(s.Seconds)}, {"illuminance_lx", s.IlluminanceLx}} {
			if given.value != 0 && e.kind != "" { // else the exposure is missing
				at.Add(f, given.name, "goes with kind = %q, but the kind is %q", Contact, e.kind)
			}
		}
		return e.seconds, e.illuminanceLx, 0
	}
	seconds, lx = cmp.Or(s.Seconds, e.seconds), cmp.Or(s.IlluminanceLx, e.illuminanceLx)
	checkContact(f, at, lx, float64(seconds))
	return seconds, lx, LogRange(math.Log10(lx / e.illuminanceLx * float64(seconds/e.seconds)))
}

// maxGrade is the length of the longest name of a grade, in characters.
const maxGrade = 16

func checkGrade(f *check.Faults, at check.Place, m Material, grade string) {
	const key = "grade"
	switch {
	case grade == "":
	case m != PaperMaterial:
		at.Add(f, key, "is of paper; a film has no grades")
	case printable.CheckLine(grade, maxGrade) != nil:
		at.Line(f, key, grade, maxGrade)
	case strings.TrimSpace(grade) != grade:
		at.Add(f, key, "%q has blanks at its ends", grade)
	}
}

// MaxReading is above what any densitometer of the trade reads.
const MaxReading Density = 6

// StepList writes rising step numbers, neighbours as "3 to 6".
func StepList(n []int) string {
	var parts []string
	for i := 0; i < len(n); {
		j := i
		for j+1 < len(n) && n[j+1] == n[j]+1 {
			j++
		}
		part := strconv.Itoa(n[i])
		if j > i {
			part += " to " + strconv.Itoa(n[j])
		}
		parts = append(parts, part)
		i = j + 1
	}
	return strings.Join(parts, ", ")
}
