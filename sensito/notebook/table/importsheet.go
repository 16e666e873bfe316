package table

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook/internal/grammar"
)

// sheet is a table that is being imported.
type sheet struct {
	*grid
	separator rune // 0 where none was needed
	constants []constant

	line     int // of the headings
	headings []string
	columns  []*column // of each heading, nil where none is known
	units    []string
	without  map[int]bool // columns that are to be left out

	strips map[int]*draftStrip // by column, where a column is a strip
	steps  map[int]int         // by column, where a column is a step
}

// maxHeadings leaves room for a column for each step, and others.
const maxHeadings = grammar.MaxSteps + 100

// headingAt returns the place of a heading.
func (t *sheet) headingAt(column int) place {
	name := clip(t.headings[column])
	if name == "" {
		name = fmt.Sprintf("column %d", column+1)
	}
	return place{t.line, name}
}

// at returns the place of a cell.
func (t *sheet) at(row, column int) place { return place{t.lines[row], t.headingAt(column).name} }

func (t *sheet) cell(row, column int) cell {
	c := cell{place: t.at(row, column)}
	if column < len(t.rows[row]) {
		c.text = t.rows[row][column]
	}
	return c
}

// find returns which column of the table has one of the names, -1 for none.
func (t *sheet) find(names ...string) int {
	return slices.IndexFunc(t.columns, func(c *column) bool { return c != nil && slices.Contains(names, c.name) })
}

// strippedTimes takes a column of strips whose cells tell a time, such as "Strip 1
// (4:00)", for that of the times where there is no other.
func (t *sheet) strippedTimes() {
	j := t.find(colStrip)
	if j < 0 || t.find(colMinutes) >= 0 {
		return
	}
	for i := range t.rows {
		if text := t.cell(i, j).text; text != "" {
			if w := readStripWords(text); w.time == "" || plainTime().MatchString(w.time) {
				return // a number of a strip
			}
		}
	}
	t.columns[j] = columnNamed(colMinutes)
}

// minuteWords are headings of a column of times that have a unit.
var minuteWords = lazy.Regexp(`(?i)^\W*min(ute)?s?\W*$`)

// strange says what is wrong with headings of which none is understood.
func (t *sheet) strange() string {
	for i, c := range t.columns {
		if near := nearColumn(t.headings[i]); c == nil && near != "" {
			return fmt.Sprintf("%q is not a column; did you mean %q?", clip(t.headings[i]), near)
		}
	}
	var names []string
	for j := range t.headings {
		names = append(names, strconv.Quote(t.headingAt(j).name))
	}
	const most = 12
	if more := len(names) - most; more > 0 {
		names = append(names[:most], fmt.Sprintf("and %d more", more))
	}
	text := noDensity + "; its columns are " + strings.Join(names, ", ")
	if t.find(append([]string{colStep, colMinutes}, exposureColumns...)...) < 0 {
		text += "; if they are named further down, take away the lines above"
	}
	return text
}

const noDensity = "names no column density, and no column headed by a development time like 5:30"
