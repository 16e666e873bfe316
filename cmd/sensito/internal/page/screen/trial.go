package screen

import (
	"errors"
	"fmt"
	"strings"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/listing"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// Tested is what the screen of a trial of film is made of.
type Tested struct {
	Trial   *sensito.Trial      // as its file has it
	Entry   listing.Entry       // of its file
	Strips  []*curve.Measured   // nil where no strip has a curve
	Family  *development.Family // nil where there is none
	Answer  *scene.Answer       // to a scene that is asked by default; nil where there is none
	Failure error               // why there is no answer
	Beside  *listing.Beside     // what a control log says; nil for none
	Curves  *plot.OnPage        // nil where there are none
}

// A Trial is the screen of a trial of film.
type Trial struct {
	ID string // before the identifiers of its parts, where a page has several

	Conditions string
	Change     string // the address where they are changed

	Figures  []Figure // the answer, largest first
	Says     []Run    // how it was asked, or what there is in place of an answer
	Advice   []string // where there is no answer, what would help
	Notes    []Note   // on the answer
	Curves   *plot.OnPage
	Strips   *Table
	OfStrips []Note
	KeyIn    string // the address of a further strip
	Plan     string // and of which one it should be
	Picture  string // where strips are read from a picture; "" where readings are no densities
	Warnings []string
	Readings *Table
	OfRead   []Note
}

// A Figure is a number of an answer, set large.
type Figure struct{ About, Value, Interval string }

// NewTrial returns the screen of a trial of film.
func NewTrial(t Tested, address Addresses) *Trial {
	at := address(t.Entry.File)
	l := t.Entry.Trial
	s := &Trial{Conditions: conditions(t.Trial, l.Developed), Change: under(at, "/change"), Curves: t.Curves,
		KeyIn: under(at, "/strips/new"), Readings: readings(t.Trial, l.Strips, at)}
	if at != "" {
		s.Plan = query("/plan", "trial", named(at))
		if t.Trial.Reading().Unit == sensito.UnitDensity {
			s.Picture = query("/picture", "into", named(at))
		}
	}
	s.answer(t, at)
	s.notes(t, address)
	if t.Strips != nil {
		s.Strips = strips(t.Strips, stripNames(l.Strips), at)
	}
	s.ofStrips(t.Family)
	if at != "" && t.Family != nil && t.Family.NoContrast == nil {
		s.OfStrips = append(s.OfStrips, Note{About: "Over time", Text: []Run{{Text: "contrast, speed and fog, and the law of contrast", Address: query("/family", "trial", named(at))}, {Text: "."}}})
	}
	s.Warnings = warnings(t)
	s.OfRead = append(s.OfRead, readNotes(l.Strips)...)
	if at != "" {
		change := say("choose its strip. The file " + t.Entry.File + " may be edited by hand as well; its comments stay.")
		s.OfRead = append(s.OfRead, Note{About: "To change a reading,", Text: change})
	}
	return s
}

// answer takes the time and the index, or the speed where there is no time.
func (s *Trial) answer(t Tested, at string) {
	a := t.Answer
	if a == nil {
		s.unanswered(t)
		return
	}
	s.Figures = []Figure{timeFigure("develop", &a.Minutes)}
	if a.ExposureIndex != nil {
		s.Figures = append(s.Figures, indexFigure("set the meter to", a.ExposureIndex))
	}
	asked := fmt.Sprintf("For a scene of %s and %s.", stops(a.Scene.Stops), a.Scene.AimText())
	if outside := answers.Outside(a.Extrapolation); outside != "" {
		asked += " The time lies " + outside + "."
	}
	s.Says = say(asked)
	if at != "" {
		link := query("/scene", "trial", named(at), "range", plain(a.Scene.Stops))
		s.Says = append(s.Says, Run{Text: " "}, Run{Text: "Another scene, paper or temperature", Address: link})
	}
}

// unanswered takes what there is in place of an answer: the speed of the strip nearest to
// the standard's contrast, and why there is no time.
func (s *Trial) unanswered(t Tested) {
	if l := t.Entry.Trial; l.Speed != nil {
		low, high := l.Speed.Interval(Confidence)
		s.Figures = []Figure{{"speed at " + l.SpeedMinutes.Clock(answerSeconds), speed(l.Speed.Value), interval(low, high, speed)}}
	}
	if t.Failure == nil {
		return
	}
	s.Says = say(capital(t.Failure.Error()) + ".")
	if u := (*sensito.Unanswerable)(nil); errors.As(t.Failure, &u) {
		s.Says = say(capital(strings.TrimSuffix(u.Reason, ".")) + ".")
		if u.Hint != "" {
			s.Advice = []string{capital(printable.Text(u.Hint)) + "."}
		}
	}
}

// timeFigure is a time as an answer tells it, with its interval.
func timeFigure(about string, e *sensito.Estimate[sensito.Minutes]) Figure {
	return timeFigureAt(about, e, Confidence)
}

// timeFigureAt is timeFigure with an interval of a level.
func timeFigureAt(about string, e *sensito.Estimate[sensito.Minutes], level float64) Figure {
	f := Figure{about, clock(e.Value), intervalAt(e, level, clock)}
	if e.AtLeast {
		f.Interval = f.Value + " or longer"
	}
	return f
}

// indexFigure is an index as a meter is set to it, with the exact one and its interval.
func indexFigure(about string, e *sensito.Estimate[sensito.Speed]) Figure {
	return indexFigureAt(about, e, Confidence)
}

// indexFigureAt is indexFigure with an interval of a level.
func indexFigureAt(about string, e *sensito.Estimate[sensito.Speed], level float64) Figure {
	return Figure{about, setting(e.Value), fmt.Sprintf("exactly %s, %s", speed(e.Value), intervalAt(e, level, speed))}
}

// intervalAt returns the interval of an estimate in words.
func intervalAt[Q ~float64](e *sensito.Estimate[Q], level float64, told func(Q) string) string {
	low, high := e.Interval(level)
	return interval(low, high, told)
}

// notes are what is to be done about the trial, how sure the answer is, and what a control
// log says.
func (s *Trial) notes(t Tested, address Addresses) {
	tasks := listing.NewNotebook([]listing.Entry{t.Entry}).ToDo()
	title := TitleOf(t.Entry)
	about := map[listing.TaskKind]string{listing.TaskQuestioned: "Read again.", listing.TaskUnread: "Not read.", listing.TaskStrips: "More strips."}
	for i, task1 := range tasks {
		if i == MostTasks {
			s.Notes = append(s.Notes, Note{About: "And more:", Text: say(fmt.Sprintf("%d further readings; the table below marks them.", len(tasks)-i)), Marked: true})
			break
		}
		sentence := capital(strings.TrimLeft(strings.TrimPrefix(answers.Task(task1), title), ":, "))
		s.Notes = append(s.Notes, Note{About: about[task1.Kind], Text: task(task1, sentence, address(t.Entry.File)), Marked: true})
	}
	if t.Answer == nil {
		return
	}
	s.Notes = append(s.Notes, Note{About: "How sure.", Text: say("The ranges hold the truth in 95 of 100 trials like this one.")})
	if b := t.Beside; b != nil && b.Drift != nil && !b.Drift.InControl {
		words := "has been out of control"
		sentence := answers.Process(b.Drift.Control, b.File) + ". It is not counted here."
		s.Notes = append(s.Notes, Note{About: "The process.", Text: linked(sentence, words, address(b.File)), Marked: true})
	}
}

// ofStrips says when the contrast of ISO 6 is met, and what the table's figures are.
func (s *Trial) ofStrips(f *development.Family) {
	if f != nil && f.ISOMinutes != nil && f.ISOSpeed != nil {
		low, high := f.ISOMinutes.Interval(Confidence)
		set, degrees := f.ISOSpeed.Value.Standard()
		s.OfStrips = append(s.OfStrips, Note{About: "ISO 6", Text: say(fmt.Sprintf("contrast is met at %s (%s). The speed there is %s ±%s, of which the nearest standard speed is %s/%d°.",
			clock(f.ISOMinutes.Value), interval(low, high, clock), speed(f.ISOSpeed.Value), deviation(float64(f.ISOSpeed.StdErr), 0), plain(float64(set)), degrees))})
	}
	if s.Strips != nil {
		s.OfStrips = append(s.OfStrips, Note{About: "±", Text: say("is one standard deviation.")})
	}
}

// strips is the table of the measured strips.
func strips(ms []*curve.Measured, names []string, at string) *Table {
	point := "Speed 0.8/H|Speed"
	if !ms[0].Strip.Trial().Exposures().Absolute() {
		point = "Speed point, relative|Speed point"
	}
	t := &Table{Name: "Table of strips", Heads: heads("min:s", "Base plus fog|Base plus fog", point, "Contrast index|Contrast index",
		"Gamma|Gamma", "Last step|Density", "Scatter")}
	conditions := false
	for _, m := range ms {
		conditions = conditions || !sensito.SameProcess(m.Strip.Process(), m.Strip.Trial().Process())
	}
	if conditions {
		t.Heads = append(t.Heads, Head{Text: "Developed otherwise", Left: true})
	}
	for i, m := range ms {
		scatter, last := none("not known"), none("not known")
		if m.Fit != nil {
			scatter = figure(float64(m.Fit.ResidualSD), 3)
		}
		if m.MaxDensity != nil {
			last = figure(float64(m.MaxDensity.Value), 2)
		}
		speeds := cell(m.Speed, 0)
		if !m.Strip.Trial().Exposures().Absolute() {
			speeds = cell(m.SpeedPoint, 2)
		}
		gamma := none("not known")
		if m.Gamma != nil {
			gamma = figure(m.Gamma.Value, 2)
		}
		row := Row{Head: Cell{Text: names[i], Whole: true, Address: under(at, stepAddress(m.Strip.Number(), 0))},
			Cells: []Cell{cell(m.BaseFog, 3), speeds, cell(m.ContrastIndex, 3), gamma, last, scatter}}
		if conditions {
			row.Cells = append(row.Cells, Cell{Text: printable.Text(m.Strip.Process().Unlike(m.Strip.Trial().Process()).String()), Left: true})
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// toldByTasks is the code of the warnings that notes and marks of the readings tell.
const toldByTasks = "set_aside"

// warnings are those of the strips and of the answer, each once, those of strips after
// the names of the strips that have it.
func warnings(t Tested) []string {
	var out, messages []string
	seen := map[string][]string{}
	names := stripNames(t.Entry.Trial.Strips)
	for i, m := range t.Strips {
		for _, w := range m.Warnings {
			if w.Code == toldByTasks {
				continue
			}
			text := w.Message()
			if seen[text] == nil {
				messages = append(messages, text)
			}
			seen[text] = append(seen[text], names[i])
		}
	}
	for _, text := range messages {
		who := "Strip of " + listed(seen[text])
		switch n := len(seen[text]); {
		case n == len(t.Strips) && n > 1:
			who = "All strips"
		case n > 1:
			who = "Strips of " + listed(seen[text])
		}
		out = append(out, printable.Text(who+": "+text+"."))
	}
	if t.Answer != nil {
		for _, w := range t.Answer.Warnings {
			if text := w.Message(); seen[text] == nil && w.Code != toldByTasks {
				seen[text] = []string{""}
				out = append(out, printable.Text(capital(text)+"."))
			}
		}
	}
	return out
}
