package pictured

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/cmd/sensito/internal/page/screen"
	"sensito/sensito/picture"
	"sensito/sensito/printable"
	"sensito/sensito/report/pictured"
)

// A Screen is the page of a picture, as far as it is asked.
type Screen struct {
	Fault  *screen.Fault
	Lead   string
	Choose *Choose
	Mark   *Mark
	Read   *Read
	Shown  *Shown // the picture alone
	Ask    *Ask
}

// Choose asks for a picture.
type Choose struct {
	Address  string // that one is sent to
	Pictures []screen.Link
}

// Shown is a picture as it is shown.
type Shown struct {
	Source        string
	Width, Height int
	Text          string // in place of it
}

// A Mark asks for a place in the picture.
type Mark struct {
	Heading string
	Says    []string
	Shown   Shown
	Hidden  []screen.Value // what is asked besides
	Missed  bool           // a click came without a place
	Field   string         // where the place is typed, by the name of its flag
	Label   string
	Hint    string
	Actions []screen.Action

	Proposed *Proposed
}

// Proposed are places where rows of steps may lie.
type Proposed struct {
	Shown Shown
	Rows  []Row
	Why   string // there are none; "" where there are
}

// A Row is a place to be taken knowingly.
type Row struct{ Says, Take, Turned string }

// Read is what was read.
type Read struct {
	Answer   string
	Told     []string
	Shown    []Shown
	Strips   []Strip
	Notes    []screen.Note
	Warnings []string
	Actions  []screen.Action
	Add      *Add
	Kept     []string // why nothing is to be added
}

// A Strip is one of them.
type Strip struct {
	ID       string
	Heading  string
	Title    []string
	Table    *screen.Table
	Warnings []string
}

// Add is the form that adds the strips to a trial.
type Add struct {
	Address, Title string
	Sum            string // of what was read
	Doubt          string // why the ends may be off; "" where nothing says so
}

// Ask is what lies in the frame, as a sentence with fields in it.
type Ask struct {
	Hidden []screen.Value
	Parts  []screen.Part
	More   []screen.Part
	Open   bool
	First  bool // its button is the main one
	Notes  []screen.Note
}

// NewRead returns the screen of what was read, as far as the report has it.
func NewRead(r *pictured.Report) *Read {
	w := r.Words()
	out := &Read{Answer: w.Answer, Told: w.Files, Warnings: ended(w.Warnings)}
	for i, s := range r.Strips {
		one := Strip{ID: "strip-" + strconv.Itoa(i+1), Heading: name(s, i, len(r.Strips)), Title: w.Strips[i].Title, Warnings: ended(w.Strips[i].Warnings)}
		if len(s.Densities) > 0 {
			one.Table = table(one.Heading, s.Densities)
		}
		out.Strips = append(out.Strips, one)
	}
	if r.Empty != nil {
		out.Notes = append(out.Notes, screen.Note{About: "Made even", Text: []screen.Run{{Text: "by the empty table of " + printable.Text(r.Empty.Name) + "."}}})
	}
	if w.Common != "" {
		out.Notes = append(out.Notes, screen.Note{About: "How sure.", Text: []screen.Run{{Text: w.Common}}})
	}
	return out
}

// name says which strip it is of so many.
func name(s pictured.Strip, i, of int) string {
	text := "The strip"
	if of > 1 {
		text = fmt.Sprintf("Strip %d", i+1)
	}
	if s.Grade != "" {
		text += ", grade " + s.Grade
	}
	if s.Minutes > 0 {
		text += ", " + s.Minutes.Clock(1)
	}
	return printable.Text(text)
}

// table is that of the steps of a strip.
func table(of string, ds []picture.Density) *screen.Table {
	t := &screen.Table{Name: "Densities of " + of, Fives: true, Heads: []screen.Head{{Text: "Step", Left: true}, {Text: "density", Address: "/help/words#" + screen.TermID("Density")}, {Text: "±"}, {Text: "why not", Left: true}}}
	why := false
	for _, d := range ds {
		row := screen.Row{Head: screen.Cell{Text: strconv.Itoa(d.Step)}}
		if math.IsNaN(d.Value) {
			why = true
			row.Cells = []screen.Cell{{Text: "–", Hidden: "not read", Soft: true}, {}, {Text: printable.Text(cmp.Or(d.Why, "not read")), Left: true}}
		} else {
			row.Cells = []screen.Cell{{Text: fmt.Sprintf("%.3f", d.Value)}, {Text: fmt.Sprintf("%.3f", d.SD), Soft: true}, {Left: true}}
		}
		t.Rows = append(t.Rows, row)
	}
	if !why {
		t.Heads = t.Heads[:3]
		for i := range t.Rows {
			t.Rows[i].Cells = t.Rows[i].Cells[:2]
		}
	}
	return t
}

// ended are sentences with their beginning and their end.
func ended(all []string) []string {
	var out []string
	for _, text := range all {
		out = append(out, strings.ToUpper(text[:1])+text[1:]+".")
	}
	return out
}
