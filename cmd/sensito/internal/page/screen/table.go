package screen

import (
	"strings"

	"sensito/sensito"
)

// Confidence is the level of the intervals of a page.
const Confidence = 0.95

// A Table is one with its heads, ready to be set.
type Table struct {
	Name  string // for who does not see it, and to scroll to it
	About string // what stands above it; "" for nothing
	Fives bool   // rows stand in fives
	Heads []Head
	First []Row // stand apart, before the rows
	Rows  []Row
}

// A Head is that of a column.
type Head struct {
	Text    string
	Address string // of the word in the glossary; "" for none
	Left    bool   // the column is of text
}

// A Row begins with its own head.
type Row struct {
	Head  Cell
	Cells []Cell
}

// A Cell is one of a table. The zero value is empty.
type Cell struct {
	Text    string
	Error   string // behind it, smaller: "±0.006"
	Hidden  string // before it, for who does not see it: "questioned, "
	Address string // of a link; "" for none
	Span    *Span  // drawn in place of a text; nil for none
	Soft    bool
	Whole   bool // kept on one line
	Left    bool // text, not a figure
}

// none is the cell of what cannot be had.
func none(why string) Cell { return Cell{Text: "–", Hidden: why, Soft: true} }

// cell returns an estimate to so many places, with its standard deviation; what is known to
// one side alone is said so.
func cell[Q ~float64](e *sensito.Estimate[Q], places int) Cell {
	if e == nil || !e.Known(Confidence) {
		return none("not known")
	}
	c := Cell{Text: fixed(float64(e.Value), places)}
	switch {
	case e.AtLeast:
		c.Text += " or more"
	case e.AtMost:
		c.Text += " or less"
	default:
		c.Error = "±" + deviation(float64(e.StdErr), places)
	}
	return c
}

// deviation returns a standard deviation to so many places; what is smaller than the last
// of them is one of it.
func deviation(sd float64, places int) string {
	text := fixed(sd, places)
	if strings.ContainsAny(text, "123456789") || places == 0 {
		return text
	}
	return text[:len(text)-1] + "1"
}

// figure returns a number as a cell.
func figure(v float64, places int) Cell { return Cell{Text: fixed(v, places)} }

// heads returns those of columns of figures; one whose word the glossary has is a link
// there. The first is of text.
func heads(words ...string) []Head {
	var out []Head
	for i, w := range words {
		text, known, _ := strings.Cut(w, "|")
		h := Head{Text: text, Left: i == 0}
		if known != "" {
			h.Address = term(known)
		}
		out = append(out, h)
	}
	return out
}
