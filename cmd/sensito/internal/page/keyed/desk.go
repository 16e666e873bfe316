package keyed

import (
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/told"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// A Desk is what the page of keying in shows: of one step, or of a strip whose steps are
// all read.
type Desk struct {
	Title  string // Strip of 8:00
	Trial  Link
	Room   string // the address below which the trial is changed
	Strip  string // the address of the strip
	File   string // the trial's name in a query
	Drawn  Drawn
	Step   int // at hand; 0 where all are read
	Steps  int
	Place  string // what the step got, as "wedge 1.25"
	Asked  string // the reading that is questioned
	Value  string // what was typed and is not understood
	Unit   string // of the readings, "" for density
	Signed bool   // a reading may be below 0
	Once   int    // the step that another reading is of, 0 for none
	Said   Said
	Course plot.Keyed   // as it is drawn
	Figure *plot.OnPage // of it; nil where all steps are read
	Rows   []ReadStep   // the last steps, all where all are read
	Ends   []string     // what the strip came to
	Fields []Field      // of the strip itself
	Faulty []Field      // those that are not understood
}

// A Link leads to an address.
type Link struct{ Address, Text string }

// Said is what is said of a reading.
type Said struct {
	Saved    string // the time of the clock at which the file was saved
	Told     []string
	Question string // what is questioned; the rest says what to do
	Rest     string
	Fault    string // why what was typed is no reading
	Keep     string // what can be kept
	Doubts   []Link // readings that no longer fit, with their steps
}

// A ReadStep is a row of the table of steps.
type ReadStep struct {
	Address                string
	Step                   int
	Read, Expected, Differ string
	AtHand                 bool
}

// A Field is one of a strip, or of a trial.
type Field struct {
	Name, Label, Value, Hint, Fault string
	Choices                         []string // where it is one of a few; "" is nothing
}

// A Look is what an address asks of the page of a strip.
type Look struct {
	Trial  string // its name in addresses
	Home   string // the address of its page
	Step   int    // 0 for the one that comes next
	After  int    // the step that was read just now, 0 for none
	Do     string // of what was typed and not taken
	Typed  string
	Saved  time.Time         // when the file was saved
	Typing map[string]string // what was typed into the fields of the strip, nil for nothing
	Faults Faults            // of them
}

// inQuery returns a name as a query has it, by what it is in the path of an address, where + and
// & stand for themselves.
func inQuery(inPath string) string {
	name, err := url.PathUnescape(inPath)
	if err != nil {
		return inPath
	}
	return url.QueryEscape(name)
}

// Desk returns what the page of the strip shows. ok is false where there is no such step.
func (s *Strip) Desk(l Look) (d *Desk, ok bool) {
	trial := s.Trial()
	strip := trial.Strips()[s.Number()-1]
	d = &Desk{Title: Title(strip), Trial: Link{l.Home, nameOf(trial)}, Room: "/t/" + l.Trial, File: inQuery(l.Trial), Drawn: s.Drawn, Steps: s.Steps(),
		Strip: fmt.Sprintf("/t/%s/strips/%d", l.Trial, s.Number())}
	d.Unit = string(trial.Reading().Unit)
	d.Signed = trial.Reading().Zero == sensito.ZeroBase
	d.Fields = fields(trial, s.Drawn.Old, l.Typing, l.Faults)
	for _, f := range d.Fields {
		if f.Fault != "" {
			d.Faulty = append(d.Faulty, f)
		}
	}
	whole := s.complete()
	switch {
	case l.Step == 0 && whole:
		s.ToEnd()
	case l.Step == 0:
	case goTo(s.Keying, l.Step) != nil:
		return nil, false
	}
	if l.After > 0 && l.After <= s.Steps() {
		s.saved(d, l)
	}
	if s.Done() {
		s.ended(d)
		return d, true
	}
	d.Step, d.Place = s.At(), place(trial.Exposures(), s.At())
	if d.Once = Once(s.Keying, d.Step); len(s.Readings(d.Once)) == 0 {
		d.Once = 0
	}
	s.judged(d, l)
	for step := max(1, d.Step-lastSteps); step < d.Step; step++ {
		d.Rows = append(d.Rows, s.row(d, step, nil))
	}
	if d.Asked != "" {
		x, ok := s.Expect()
		if asked, err := readingsOf(s.Keying, d.Asked, x, ok); err == nil {
			row := s.row(d, d.Step, asked)
			row.Read, row.AtHand = row.Read+"?", true
			d.Rows = append(d.Rows, row)
		}
	}
	d.Course = s.course(d, l)
	return d, true
}

// lastSteps is how many steps before the one at hand are listed.
const lastSteps = 4

// Title names a strip as a heading.
func Title(s *sensito.Strip) string {
	switch m := s.Minutes(); {
	case s.Grade() != "" && m > 0:
		return "Strip of grade " + s.Grade() + ", " + m.Clock(1)
	case s.Grade() != "":
		return "Strip of grade " + s.Grade()
	case m > 0:
		return "Strip of " + m.Clock(1)
	}
	return fmt.Sprintf("Strip %d", s.Number())
}

func nameOf(t *sensito.Trial) string {
	if t.Title() != "" {
		return t.Title()
	}
	return t.Film().Name
}

// place says what a step got.
func place(e sensito.Exposures, step int) string {
	switch {
	case e.Wedge() != nil:
		return fmt.Sprintf("wedge %.2f", float64(e.Wedge()[step-1]))
	case e.Kind() == sensito.Camera:
		return signed(e.Stops()[step-1], -1) + " stops"
	}
	return "log H " + strings.TrimPrefix(signed(float64(e.RelativeLogH()[step-1]), 2), "+")
}

// expects says whether an expectation is told: the first strip of a trial has none until
// four of its steps are read.
func (s *Strip) expects() bool {
	const enough = 4
	read := 0
	for step := range s.Steps() {
		if len(s.Readings(step+1)) > 0 {
			read++
		}
	}
	return !s.Alone() || read >= enough
}

// saved says what was just keyed in, and what it leads to.
func (s *Strip) saved(d *Desk, l Look) {
	if !l.Saved.IsZero() {
		d.Said.Saved = l.Saved.Format("15:04:05")
	}
	readings := s.Readings(l.After)
	switch text := s.said(readings); {
	case len(readings) == 0:
		d.Said.Told = append(d.Said.Told, fmt.Sprintf("Step %d is left out.", l.After))
	case len(readings) > 1:
		d.Said.Told = append(d.Said.Told, fmt.Sprintf("Step %d: %s, mean %.3f.%s", l.After, text, float64(sensito.AverageDensity(readings)), s.about(l.After)))
	default:
		d.Said.Told = append(d.Said.Told, fmt.Sprintf("Step %d: %s.%s", l.After, text, s.about(l.After)))
	}
	for _, step := range s.DoubtedBy(l.After) {
		d.Said.Doubts = append(d.Said.Doubts, Link{fmt.Sprintf("%s/%d", d.Strip, step),
			fmt.Sprintf("%s at step %d does not fit the steps about it: read it again", s.said(s.Readings(step)), step)})
	}
	if s.Contrary() {
		d.Said.Told = append(d.Said.Told, "The readings fall where the exposures rise. Is the strip the other way round?")
	}
}

// about tells what was expected at a step that is read.
func (s *Strip) about(step int) string {
	x, ok := s.ExpectAt(step)
	if !ok || !s.expects() {
		return ""
	}
	return fmt.Sprintf(" %s was expected, give or take %s.", s.said([]sensito.Density{hundredth(x.Density.Value)}), s.within(x))
}

// within writes how well an expectation is known.
func (s *Strip) within(x entry.Expectation) string {
	return s.said([]sensito.Density{max(hundredth(x.Density.StdErr), 0.01)})
}

func hundredth(d sensito.Density) sensito.Density {
	return sensito.Density(math.Round(100*float64(d)) / 100)
}

// judged says what is to be said of what was typed and not taken, and of what the step has.
func (s *Strip) judged(d *Desk, l Look) {
	has := s.Readings(d.Step)
	if len(has) > 0 {
		d.Said.Keep = s.said(has)
	}
	x, ok := s.Expect()
	readings, err := readingsOf(s.Keying, l.Typed, x, ok)
	switch {
	case l.Typed == "" && len(has) > 0:
		d.Said.Told = append(d.Said.Told, fmt.Sprintf("Step %d has %s. Key in another reading, or keep it.", d.Step, s.said(has)))
	case l.Typed == "":
		if s.Alone() && !s.expects() {
			d.Said.Told = append(d.Said.Told, "The first strip has no expectation before step 5.")
		}
	case err != nil:
		d.Said.Fault, d.Value = strings.ReplaceAll(err.Error(), "; see help", ""), l.Typed
	case l.Do == Again && d.Once == 0:
		d.Said.Fault, d.Value = "There is no reading yet that another could be added to.", l.Typed
	case l.Do == Again:
		if err := faultAgain(s.Keying, s.Readings(d.Once), readings); err != nil {
			d.Said.Fault, d.Value = fmt.Sprintf("Step %d: %v", d.Once, err), l.Typed
		}
	default:
		off, by, far := s.FarOff(readings...)
		if !far {
			return
		}
		d.Asked, d.Said.Keep = strings.TrimSpace(l.Typed), s.said(readings)
		d.Said.Question, d.Said.Rest = s.question(off, by, ok), "Read the step again and key in what you find; the same again keeps it."
		if ok && s.expects() {
			d.Said.Told = append(d.Said.Told, fmt.Sprintf("%s is expected, give or take %s.", s.said([]sensito.Density{hundredth(by.Density.Value)}), s.within(by)))
		}
	}
}

// question says how far a reading is off.
func (s *Strip) question(off sensito.Density, by entry.Expectation, expected bool) string {
	text := s.said([]sensito.Density{off})
	if !expected || !s.expects() {
		return text + " does not fit the others."
	}
	away := float64(hundredth(off) - hundredth(by.Density.Value))
	size := s.said([]sensito.Density{hundredth(sensito.Density(math.Abs(away)))})
	switch {
	case s.Trial().Reading().Unit != sensito.UnitDensity:
		return fmt.Sprintf("%s is %s from what the other steps lead to.", text, strings.TrimPrefix(size, "tablet "))
	case away < 0:
		return fmt.Sprintf("%s is %s below the curve.", text, size)
	}
	return fmt.Sprintf("%s is %s above the curve.", text, size)
}

// said writes readings in the unit of the trial.
func (s *Strip) said(readings []sensito.Density) string {
	return strings.ReplaceAll(told.Readings(s.Trial().Reading(), readings), " EV", "\u00a0EV")
}

// row returns a step of the table; readings stand for those that it has, unless nil.
func (s *Strip) row(d *Desk, step int, readings []sensito.Density) ReadStep {
	if readings == nil {
		readings = s.Readings(step)
	}
	r := ReadStep{Address: fmt.Sprintf("%s/%d", d.Strip, step), Step: step, Read: "–", Expected: "–", Differ: "–"}
	if len(readings) == 0 {
		return r
	}
	mean := sensito.AverageDensity(readings)
	r.Read = s.plain(mean)
	if x, ok := s.ExpectAt(step); ok && s.expects() {
		r.Expected = s.plain(x.Density.Value)
		r.Differ = signed(float64(hundredth(mean)-hundredth(x.Density.Value)), 2)
	}
	return r
}

// plain writes a reading without its unit.
func (s *Strip) plain(d sensito.Density) string { return fmt.Sprintf("%.2f", float64(d)) }

// signed writes a number with its sign, the minus a true one; places below 0 are as many
// as it needs.
func signed(v float64, places int) string {
	text := strconv.FormatFloat(math.Abs(v), 'f', places, 64)
	switch {
	case !strings.ContainsAny(text, "123456789"):
		return text
	case v < 0:
		return "−" + text
	}
	return "+" + text
}

// ended says what a strip came to whose steps are all read or left out.
func (s *Strip) ended(d *Desk) {
	var b strings.Builder
	if err := told.Summary(&b, s.Trial(), s.Number()); err == nil {
		d.Ends = strings.Split(strings.TrimSpace(b.String()), "\n")
	}
	for step := range s.Steps() {
		d.Rows = append(d.Rows, s.row(d, step+1, nil))
	}
}

// NewFields returns the fields of a strip that is begun.
func NewFields(t *sensito.Trial, typed map[string]string, faults Faults) []Field {
	return fields(t, map[string]string{}, typed, faults)
}

// fields returns those of the strip itself, with what was typed into them where something
// was.
func fields(t *sensito.Trial, old, typed map[string]string, faults Faults) []Field {
	var out []Field
	for _, name := range ownFields {
		f := Field{Name: name, Value: old[name], Fault: faults[name]}
		if text, ok := typed[name]; ok {
			f.Value = text
		}
		switch name {
		case minutesField:
			f.Label, f.Hint = "Developed, minutes", "8:00 or 8.0"
		case gradeField:
			if t.Material() != sensito.PaperMaterial {
				continue
			}
			f.Label, f.Hint = "Grade or filter", "as you call it"
		case fogField:
			f.Label, f.Hint = "Base plus fog", "each reading, a space between"
		case dateField:
			f.Label, f.Hint = "Date", "year-month-day"
		case temperatureField:
			f.Label, f.Hint = "Temperature, °C", "if not the trial’s"
		case noteField:
			f.Label = "Note"
		}
		out = append(out, f)
	}
	return out
}
