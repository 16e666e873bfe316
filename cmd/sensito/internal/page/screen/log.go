package screen

import (
	"cmp"
	"strings"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/listing"
	"sensito/sensito/logbook"
	"sensito/sensito/printable"
)

// A Log is the screen of what was developed.
type Log struct {
	ID string // before the identifiers of its parts, where a page has several

	Latest   []Entry // the last time with each film and developer
	Figure   *plot.OnPage
	Groups   []Group
	Controls [][]Run
	Left     []string // what is left out, and why
}

// A Group is what was developed of one film in one developer.
type Group struct {
	Title string
	Table *Table
}

// NewLog returns the screen of a log; broken are files that cannot be read, and the
// figure may be nil.
func NewLog(l *logbook.Log, broken []listing.Entry, figure *plot.OnPage, address Addresses) *Log {
	s := &Log{Figure: figure}
	for _, d := range l.Latest() {
		s.Latest = append(s.Latest, Entry{Day: d.Date, Date: answers.DateOf(d.Date), Title: printable.Text(d.Pair().String()), Address: address(d.File),
			Text: say(capital(strings.TrimPrefix(d.String(), d.Date+", ")) + ".")})
	}
	for _, g := range l.Groups() {
		title, batches := g.Heading()
		title = printable.Text(title)
		s.Groups = append(s.Groups, Group{title, developments(title, g, batches, address)})
	}
	for _, c := range l.Controls {
		s.Controls = append(s.Controls, linked(c.String()+".", c.File, address(c.File)))
	}
	if n := len(l.Undated); n > 0 {
		s.Left = append(s.Left, answers.Counted(n, "test strip")+" without the date of development.")
	}
	for _, e := range broken {
		s.Left = append(s.Left, printable.Text(e.File+": "+answers.Entry(e)))
	}
	return s
}

// developments is the table of a group of the title, a row a development.
func developments(of string, g logbook.Group, batches bool, address Addresses) *Table {
	planned := false
	for _, d := range g.Developments {
		planned = planned || d.Planned != 0
	}
	t := &Table{Name: "Developments of " + of, Heads: heads("Date", "min:s")}
	if planned {
		t.Heads = append(t.Heads, Head{Text: "Planned"})
	}
	t.Heads = append(t.Heads, Head{Text: "Temperature", Left: true}, Head{Text: "What", Left: true})
	for _, d := range g.Developments {
		row := Row{Head: Cell{Text: answers.DateOf(d.Date), Whole: true, Address: address(d.File)}, Cells: []Cell{{Text: d.Minutes.Clock(1)}}}
		if planned {
			row.Cells = append(row.Cells, plannedCell(d.Planned))
		}
		row.Cells = append(row.Cells, Cell{Text: cmp.Or(d.Temperature(), "–"), Left: true}, Cell{Text: printable.Text(d.What(batches)), Left: true})
		t.Rows = append(t.Rows, row)
	}
	return t
}

func plannedCell(m sensito.Minutes) Cell {
	if m == 0 {
		return none("not planned")
	}
	return Cell{Text: m.Clock(1)}
}
