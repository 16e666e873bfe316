package screen

import (
	"fmt"
	"strings"

	"sensito/sensito/answers"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// A Report is a notebook on one page that stands alone.
type Report struct {
	Lead        string
	Contents    []Chapter
	Trials      []ReportTrial
	Papers      []ReportPaper
	Controls    []ReportControl
	Comparisons []*Compare
	Log         *Log     // nil where nothing was developed on a date
	Left        []string // files that are left out, and why
}

// A Chapter of a report has a place in its contents.
type Chapter struct{ ID, Title, Told string }

// A ReportTrial is a trial of film in a report.
type ReportTrial struct {
	Chapter         Chapter
	Trial           *Trial
	Tones, Card     *Table // nil without an answer
	OfTones, OfCard []Note
	Cannot          []string // rows of the card without a time, and why
}

// A ReportPaper is a trial of paper in a report.
type ReportPaper struct {
	Chapter Chapter
	Paper   *Paper
}

// A ReportControl is a control log in a report.
type ReportControl struct {
	Chapter Chapter
	Control *Control // nil where the strips do not tell
	Why     string   // then
}

// Told returns what the contents say of a trial of film: its time and its index.
func (s *Trial) Told() string {
	var told []string
	for i, f := range s.Figures {
		if i == 1 {
			f.Value = "EI " + f.Value
		}
		told = append(told, f.Value)
	}
	return strings.Join(told, ", ")
}

// Told returns what the contents say of a control log.
func (s *Control) Told() string {
	if len(s.Figures) > 0 && strings.HasPrefix(s.Figures[0].About, "develop ") {
		return s.Figures[0].Value + " " + strings.Fields(s.Figures[0].About)[1]
	}
	return strings.ToLower(strings.TrimSuffix(s.State, "."))
}

// Tones returns the table of where the tones of a scene land on the negative.
func Tones(a *scene.Answer) *Table {
	t := &Table{Name: "Table of tones", Heads: heads("Stops from the meter|Stop", "Net density|Net density")}
	for _, tone := range a.Tones {
		t.Rows = append(t.Rows, Row{Head: Cell{Text: signed(tone.Stops)}, Cells: []Cell{cell(tone.NetDensity, 2)}})
	}
	return t
}

// TonesNote explains the table of tones.
func TonesNote() Note {
	return Note{About: "Net density", Text: say("is above base plus fog, flare of the camera included, at the time and the index of the answer.")}
}

// Card returns the table of times and indices for scenes of several ranges, the notes that
// explain it, and what is to be said of the scenes that have no time.
func Card(c *scene.Card, made string) (t *Table, notes []Note, cannot []string) {
	t = &Table{Name: "Table of times and indices", Heads: heads("Scene|N", "Stops|Stop", "Develop", "95 % sure", "Set the meter to|EI")}
	extrapolated := false
	for _, row := range c.Rows {
		name := normalName(row.N)
		if row.Answer == nil {
			t.Rows = append(t.Rows, Row{Head: Cell{Text: name}, Cells: []Cell{{Text: plain(row.Stops)}, none("no time"), none("no time"), none("no index")}})
			cannot = append(cannot, printable.Text(capital(stops(row.Stops))+": "+strings.TrimSuffix(row.Reason, ".")+"."))
			continue
		}
		a := row.Answer
		f := timeFigure("", &a.Minutes)
		if a.Extrapolated {
			f.Value, extrapolated = "* "+f.Value, true
		}
		index := none("not known")
		if a.ExposureIndex != nil {
			index = Cell{Text: setting(a.ExposureIndex.Value)}
		}
		t.Rows = append(t.Rows, Row{Head: Cell{Text: name}, Cells: []Cell{{Text: plain(row.Stops)}, {Text: f.Value}, {Text: f.Interval}, index}})
	}
	notes = []Note{{About: "For", Text: say(c.Scene.AimText() + "; " + strings.Replace(c.Family.Trial.Process().String(), " °", space+"°", 1) + ".")}}
	if extrapolated {
		notes = append(notes, Note{About: "With *", Text: say("the time lies outside the tested ones: test a strip there before you rely on it.")})
	}
	notes = append(notes, Note{About: "Made", Text: say(fmt.Sprintf("on %s. A starting point: verify it.", answers.DateOf(made)))})
	return t, notes, cannot
}

// normalName names a development by how many stops it expands: N, N+1, N−1.
func normalName(n float64) string {
	if n == 0 {
		return "N"
	}
	return "N" + signed(n)
}
