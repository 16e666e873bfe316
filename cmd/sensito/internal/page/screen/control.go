package screen

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/plot"
	"sensito/sensito/answers"
	"sensito/sensito/control"
	"sensito/sensito/printable"
)

// A Control is the screen of a control log.
type Control struct {
	ID string // before the identifiers of its parts, where a page has several

	Lead     string
	State    string // in a word or two, whether the process is in control
	Says     []Run  // what follows it: since when it is not
	Figures  []Figure
	Advice   []string
	Notes    []Note // on the answer
	Charts   *plot.OnPage
	Levels   *Table
	OfLevels []Note
	Warnings []string
	Add      *AddStrip // the form of a further strip; nil for none, as in a report
}

// An AddStrip is the form by which a strip is added to a log.
type AddStrip struct {
	Address string // that it is sent to
	Hash    string // of the file
	Fields  []StripField
	Fresh   bool
	Fault   string // what is wrong and is of no field
}

// A StripField is one of a control strip that is added.
type StripField struct{ ID, Name, Label, Value, Hint, Fault string }

// Faulty returns the fields that are not understood.
func (a *AddStrip) Faulty() []StripField {
	return slices.DeleteFunc(slices.Clone(a.Fields), func(f StripField) bool { return f.Fault == "" })
}

// NewControl returns the screen of an evaluated log, with intervals at a level; the
// deviations are what the log of a trial says of days with a signal. The figure may be nil,
// and so may the form.
func NewControl(c *control.Evaluation, deviations []control.Deviation, level float64, charts *plot.OnPage, add *AddStrip) *Control {
	s := &Control{Lead: controlLead(c), Charts: charts, Levels: levels(c), Add: add}
	switch {
	case c.First == nil:
		s.State = "In control"
	case answers.LeftOn(c) == "":
		s.State = "A signal."
	default:
		s.State = "Out of control"
		s.Figures = changes(c, level)
	}
	said := answers.Control(c) + "."
	rest, begins := strings.CutPrefix(said, s.State)
	if !begins {
		rest = " " + said
	}
	s.Says = say(rest)
	if len(s.Figures) > 0 && c.TimePercent != nil && answers.MovesTime(c) {
		s.Advice = append(s.Advice, capital(s.Figures[0].About)+" that much for the same contrast; or mix afresh, and mark the next strip as fresh.")
	}
	for _, a := range c.Advice {
		s.Advice = append(s.Advice, printable.Text(capital(a.Pattern)+": "+a.Usually+"."))
	}
	s.Notes = append(s.Notes, Note{About: "Chance.", Text: say(fmt.Sprintf("A steady process would give a first signal in %s of 100 logs as long as this one.", fixed(100*c.FalseShare(), 0)))})
	strips := c.Log.Strips()
	var noted []string
	for _, i := range c.Notes() {
		noted = append(noted, answers.Date(c, i)+": "+strings.TrimSuffix(strips[i-1].Note, "."))
	}
	if len(noted) > 0 {
		s.Notes = append(s.Notes, Note{About: "Noted at the time.", Text: say(strings.Join(noted, ". ") + ".")})
	}
	for _, d := range deviations {
		s.Notes = append(s.Notes, Note{About: "Developed otherwise", Text: say("on " + answers.Date(c, d.Index) + ", by the log of the trial: " + strings.Join(d.Found, "; ") + ".")})
	}
	s.OfLevels = []Note{{About: "±", Text: say("is one standard deviation.")}}
	for _, w := range c.Warnings {
		text := capital(w.Message()) + "."
		switch noTrial := strings.HasPrefix(w.Code, "no_trial"); {
		case noTrial && c.First == nil:
			continue
		case noTrial:
			text = "No trial of this film and developer is in the notebook, so what the change means in time and in stops is not known."
		}
		s.Warnings = append(s.Warnings, printable.Text(text))
	}
	return s
}

// controlLead says what the log holds, and what it is held against.
func controlLead(c *control.Evaluation) string {
	strips := c.Log.Strips()
	text := capital(answers.Counted(len(strips), "control strip"))
	if developer, dilution := c.Log.Developer(); developer != "" {
		text += " of " + strings.TrimSpace(developer+" "+dilution)
	}
	if film := c.Log.Film(); film != "" {
		text += ", on " + film
	}
	text += ", " + span(strips[0].Date, strips[len(strips)-1].Date)
	switch b := c.Baseline; b.Center {
	case "aim":
		text += ", against the aim of the log"
		if n := c.Log.AimStrips(); n > 1 {
			text += ", the mean of " + counted(n, "strip")
		}
	case "reference":
		text += ", against a reference strip"
	default:
		text += ", against the mean of " + counted(len(b.Strips), "strip")
	}
	return printable.Text(text + ".")
}

// changes are the figures of a process that has left its aim: what time brings the contrast
// back, and what is left of speed then.
func changes(c *control.Evaluation, level float64) []Figure {
	var out []Figure
	if t := c.TimePercent; t != nil {
		about, size := "develop longer by", *t
		if t.Value < 0 {
			about, size.Value = "develop shorter by", -t.Value
		}
		value, ends := estimated(&size, level, percent)
		out = append(out, Figure{about, value, ends})
	}
	if v := c.SpeedStops; v != nil {
		value, ends := estimated(v, level, hundredths)
		if c.TimePercent != nil {
			ends += ", at that time"
		}
		out = append(out, Figure{"speed has changed by, stops", value, ends})
	}
	return out
}

func percent(v float64) string    { return within(fixed(v, 0), "%") }
func hundredths(v float64) string { return signedFixed(v, 2) }

// patchNames are the charted quantities in words; further patches have names of their own.
var patchNames = map[string]string{control.QuantityBaseFog: "base plus fog", control.QuantityLow: "low density", control.QuantityDifference: "density difference"}

// levels is the table of where each quantity stands.
func levels(c *control.Evaluation) *Table {
	t := &Table{Name: "Table of levels", Heads: heads("Patch", "Should be", "Is off by", "A week", "Since")}
	for _, l := range c.Levels {
		name := patchNames[l.Quantity]
		if name == "" {
			name = "patch " + l.Quantity
		}
		off := Cell{Text: signedFixed(l.Change.Value, 3)}
		if sd := l.Change.StdErr; !math.IsNaN(sd) && !math.IsInf(sd, 0) {
			off.Error = "±" + deviation(sd, 3)
		}
		week, since := none("no drift"), none("no change")
		if l.PerWeek != nil {
			week = Cell{Text: signedFixed(l.PerWeek.Value, 3)}
		}
		if l.Since > 0 {
			since = Cell{Text: answers.Date(c, l.Since), Whole: true}
		}
		t.Rows = append(t.Rows, Row{Head: Cell{Text: printable.Text(name)}, Cells: []Cell{figure(c.Center(l.Quantity), 3), off, week, since}})
	}
	return t
}

// FurtherPatches returns the names of the patches that a log has besides the usual ones.
func FurtherPatches(l *control.Log) []string {
	var out []string
	for _, q := range l.Quantities() {
		if patchNames[q] == "" {
			out = append(out, q)
		}
	}
	return slices.Clip(out)
}
