package screen

import (
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
	t, _, _ := tonesTable(a)
	return t
}

// TonesNote explains the table of tones.
func TonesNote() Note {
	return Note{About: "Net density", Text: say("is above base plus fog, flare of the camera included, at the time and the index of the answer.")}
}

// Times returns the table of times and indices for scenes of several ranges, which a card has,
// the notes that explain it, and what is to be said of the scenes that have no time.
func Times(c *scene.Card, made string) (t *Table, notes []Note, cannot []string) {
	t = cardRows(c)
	for _, row := range c.Rows {
		if row.Reason != "" {
			cannot = append(cannot, printable.Text(rowName(row.N)+": "+strings.TrimSuffix(row.Reason, ".")+"."))
		}
	}
	notes = []Note{{About: "For", Text: say(c.Scene.AimText() + "; " + processText(c) + ".")}}
	if outside := answers.OutsideOnCard(c); outside != "" {
		notes = append(notes, Note{About: "With *", Text: say("the time lies " + outside + ": test a strip there before you rely on it.")})
	}
	return t, append(notes, Note{About: "Dates.", Text: say(dated(c, made))}), cannot
}
