package screen

import (
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/darkroom"
	"sensito/sensito/printable"
)

// SheetAsked is what the screen of a process sheet is made of.
type SheetAsked struct {
	Sheet    *darkroom.Sheet
	Level    float64 // of the intervals
	Warnings sensito.Warnings
	Cautions []string
	Trial    string // the address of its page
	Actions  []Action
}

// A Sheet is the screen of a process sheet.
type Sheet struct {
	Fault    *Fault // in place of the sheet
	Lead     []Run
	Figures  []Figure
	Says     []string
	Actions  []Action
	Notes    []Note
	Mix      *Table // nil where nothing is mixed
	MixNotes []Note
	Steps    []Step
	End      string // the clock at the end; "" where a time is open
	Light    string // what is done in the dark
	Warnings []string
	Cautions []string
	Write    []string // what is written down by hand
	Asking   *Asking
}

// A Step is one of a sheet.
type Step struct {
	Clock, Time, Name, Detail string
	Dark, Critical            bool
}

// NewSheet returns the screen of a process sheet that has an answer.
func NewSheet(a SheetAsked) *Sheet {
	sheet, spec := a.Sheet, a.Sheet.Spec
	s := &Sheet{Actions: a.Actions, Warnings: WarningTexts(a.Warnings), Light: printable.Text(capital(sheet.LightText())),
		Write: []string{"Temperature at the start", "Temperature at the end", "Developed for", "Remarks"}}
	for _, c := range a.Cautions {
		s.Cautions = append(s.Cautions, printable.Text(c))
	}
	s.Lead = []Run{{Text: printable.Text(spec.Trial.Name()), Address: a.Trial}, {Text: printable.Text(sheetLead(sheet))}}
	s.Figures = []Figure{{"develop", sheet.Minutes.Clock(1), ""}}
	if spec.Minutes.StdErr > 0 {
		s.Figures[0].Interval = intervalAt(&spec.Minutes, a.Level, clock)
	}
	if spec.Index != nil {
		s.Figures = append(s.Figures, indexFigureAt("exposed at", spec.Index, a.Level))
	}
	for _, text := range []string{sheet.Basis(a.Level), spec.Note} {
		if text != "" {
			s.Says = append(s.Says, printable.Text(capital(strings.TrimSuffix(text, ".")))+".")
		}
	}
	s.mix(sheet)
	for _, step := range sheet.Steps {
		name := capital(step.Name)
		if b := step.Bath.Label(); b != "" {
			name += ": " + b
		}
		s.Steps = append(s.Steps, Step{Clock: step.StartText(), Time: step.TimeText(), Name: printable.Text(name), Detail: printable.Text(step.Detail()), Dark: step.Dark, Critical: step.Critical})
	}
	if sheet.Total != nil {
		s.End = sheet.Total.Clock(1)
	}
	if o := sheet.Order; o != nil {
		s.Notes = append(s.Notes, Note{About: "In the tray.", Text: say(o.Text())})
	}
	s.Notes = append(s.Notes, Note{About: "Critical.", Text: say(darkroom.CriticalText)})
	return s
}

// sheetLead says how film is developed, what and when.
func sheetLead(sheet *darkroom.Sheet) string {
	p := sheet.Process
	text := ""
	if p.TemperatureC != 0 {
		text += ", at " + strings.Replace(sensito.Celsius(p.TemperatureC), " ", space, 1)
		if end := sheet.Spec.Under.EndC; end != nil {
			text += " drifting to " + strings.Replace(sensito.Celsius(*end), " ", space, 1)
		}
	}
	if p.Agitation != sensito.AgitationUnstated {
		text += ", " + p.Agitation.Named()
	}
	text += "; " + answers.DateOf(sheet.Spec.Date) + "."
	if films := sheet.FilmText(); films != "" {
		text += " " + capital(films) + "."
	}
	return text
}

// mix takes what is to be mixed.
func (s *Sheet) mix(sheet *darkroom.Sheet) {
	t := &Table{Name: "Table of what is mixed", Heads: []Head{{Text: "To mix", Left: true}, {Text: "Concentrate, water", Left: true}, {Text: "Kept", Left: true}}}
	for _, b := range sheet.Baths {
		if b.Ratio() == "" {
			continue
		}
		measure := Cell{Text: printable.Text(b.Measure()), Left: true}
		if b.Mix == nil {
			measure = none("the volume is not known")
			measure.Left = true
		}
		t.Rows = append(t.Rows, Row{Head: Cell{Text: printable.Text(b.Label())}, Cells: []Cell{measure, {Text: printable.Text(sheet.Kept(b)), Left: true}}})
		if m := b.Mix; m != nil && m.Instead != nil {
			s.MixNotes = append(s.MixNotes, Note{About: "Surer", Text: say(fmt.Sprintf("over a stock: sensito mix %s --total %s.", m.Dilution, strings.ReplaceAll(m.Total.String(), " ", "")))})
		}
	}
	if len(t.Rows) > 0 {
		s.Mix = t
	}
	for _, b := range sheet.Baths {
		if use := b.UseText(); use != "" {
			s.MixNotes = append(s.MixNotes, Note{About: printable.Text(capital(b.Name)) + ".", Text: say(capital(use) + ".")})
		}
	}
}
