package screen

import (
	"cmp"
	"slices"
	"strings"

	"sensito/plot"
	"sensito/sensito/answers"
	"sensito/sensito/listing"
	"sensito/sensito/paper"
	"sensito/sensito/printable"
)

// A Paper is the screen of a trial of paper.
type Paper struct {
	ID string // before the identifiers of its parts, where a page has several

	Conditions string
	Change     string
	Says       string // what a negative needs
	Grades     *Table
	Notes      []Note
	Curves     *plot.OnPage
	Warnings   []string
	Readings   *Table
	OfRead     []Note
}

// NewPaper returns the screen of a trial of paper, of its file's entry; curves may be nil.
func NewPaper(p *paper.Paper, e listing.Entry, curves *plot.OnPage, address Addresses) *Paper {
	at := address(e.File)
	l := e.Trial
	s := &Paper{Conditions: conditions(p.Trial, l.Developed), Change: under(keying(at), "/change"), Curves: curves, Says: needed(p),
		Readings: readings(p.Trial, l.Strips, at), OfRead: readNotes(l.Strips), Grades: grades(p)}
	by := "ISO 6846"
	if pictured(p) {
		by = "Range and speed"
	}
	s.Notes = []Note{
		{About: "The density range", Text: say("is what a negative must span to fill the paper, with a diffusion enlarger. A condenser enlarger prints harder: divide by its Callier coefficient.")},
		{About: by, Text: say("The range runs from 0.04 over white to 90 % of the net maximum density; speed is 1000/H at 0.60 over white.")},
		{About: "±", Text: say("is one standard deviation.")},
	}
	if at != "" {
		s.Notes = append(s.Notes, Note{About: "In the print", Text: []Run{{Text: "a scene through film and paper", Address: query("/tone", "paper", named(at))}, {Text: "."}}})
	}
	for _, m := range p.Strips {
		for _, w := range m.Warnings {
			s.Warnings = append(s.Warnings, printable.Text(capital(gradeName(m))+": "+w.Message()+"."))
		}
	}
	for _, w := range p.Warnings {
		s.Warnings = append(s.Warnings, printable.Text(capital(w.Message())+"."))
	}
	return s
}

// pictured says whether a strip was read in a picture, whose range is not an ISO range.
func pictured(p *paper.Paper) bool {
	return slices.ContainsFunc(p.Strips, (*paper.Strip).Pictured)
}

// diffusion is the Callier coefficient of a diffusion enlarger.
const diffusion = 1

// needed says what density range a negative needs for each grade.
func needed(p *paper.Paper) string {
	var told []string
	for _, m := range p.Strips {
		n := m.Negative(diffusion)
		if n == nil {
			continue
		}
		text := fixed(float64(n.Value), 2)
		if n.AtLeast {
			text += " or more"
		}
		if m.Grade != "" {
			text += " under " + m.Grade
		}
		told = append(told, text)
	}
	name := p.Trial.Film().Name
	if len(told) == 0 {
		return printable.Text("The strips do not tell what a negative for " + name + " needs.")
	}
	return printable.Text("A negative for " + name + " wants a density range of " + listed(told) + ".")
}

// grades is the table of the grades or filters.
func grades(p *paper.Paper) *Table {
	ranged := "ISO range|ISO range"
	if pictured(p) {
		ranged = "Range|ISO range"
	}
	t := &Table{Name: "Table of grades", Heads: heads("Grade|Grade", ranged, "Density range|Density range", "As of grade|Grade",
		"White|White", "Black|White", "Gradient|Gradient", "Speed|Speed")}
	for _, m := range p.Strips {
		iso, as := none("not known"), none("none")
		if l := m.LogRange; l != nil {
			iso = Cell{Text: strings.Replace(answers.PaperRange(m), " ", space, 1)}
			if grade, ok := paper.GradeOf(l.Value); ok {
				as = Cell{Text: grade}
				if l.AtLeast {
					as.Text += " or softer"
				}
			}
		}
		t.Rows = append(t.Rows, Row{Head: Cell{Text: gradeName(m)}, Cells: []Cell{iso, cell(m.Negative(diffusion), 2), as,
			cell(m.MinDensity, 2), cell(m.MaxDensity, 2), cell(m.AverageGradient, 2), cell(m.Speed, 0)}})
	}
	return t
}

// gradeName is the grade or filter of a strip, or its number.
func gradeName(m *paper.Strip) string {
	return printable.Text(cmp.Or(m.Grade, "strip "+fixed(float64(m.Strip.Number()), 0)))
}
