package table

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// originator is who files of measurement data come from. In those of sensito,
// text escapes what the format has no place for.
const originator = "sensito"

// exportCGATS returns a trial as measurement data. A row is a reading; step 0 is
// unexposed film. What holds for the trial, the exposures among it, is in the
// header. A step that was not read has no row, but for the first step of a strip
// that has no reading at all.
func exportCGATS(trial *sensito.Trial, date string) ([]byte, error) {
	t := tabulate(trial)
	title := trial.Title()
	if title == "" {
		title = trial.Film().Name
	}
	names := t.stripColumns()
	table := newCGATSTable(title, date)
	for _, c := range t.constants {
		table.Header = append(table.Header, CGATSKeyword{Keyword: strings.ToUpper(c.name), Value: escaped(c.text)})
	}
	table.Header = append(table.Header, CGATSKeyword{Keyword: strings.ToUpper(t.exposure), Value: strings.Join(t.exposures, " ")})
	table.Fields = []string{"SAMPLE_ID", "STRIP", "STEP", "D_VIS"}
	for _, name := range names {
		table.Fields = append(table.Fields, strings.ToUpper(name))
	}
	for i, s := range t.strips {
		before := len(table.Rows)
		add := func(step int, density string) {
			row := []string{strconv.Itoa(len(table.Rows) + 1), strconv.Itoa(i + 1), strconv.Itoa(step), density}
			for _, name := range names {
				row = append(row, escaped(t.of[i][name]))
			}
			table.Rows = append(table.Rows, row)
		}
		for _, d := range s.BaseFog {
			add(0, grammar.Hundredths(d))
		}
		for j := range t.exposures {
			for _, d := range readings(s, j+1) {
				add(j+1, grammar.Hundredths(d))
			}
		}
		if len(table.Rows) == before {
			add(1, "")
		}
	}
	return table.file()
}

// TableCGATS returns a table of results as measurement data. Headings become
// field names in upper case. Date is when it is made.
func TableCGATS(title, date string, headings []string, rows [][]string) ([]byte, error) {
	table := newCGATSTable(title, date)
	for _, h := range headings {
		if h == colDensity {
			h = "d_vis"
		}
		table.Fields = append(table.Fields, strings.ToUpper(h))
	}
	for _, row := range rows {
		cells := make([]string, len(row))
		for i, c := range row {
			cells[i] = escaped(c)
		}
		table.Rows = append(table.Rows, cells)
	}
	return table.file()
}

func newCGATSTable(title, date string) *CGATSTable {
	return &CGATSTable{Header: []CGATSKeyword{
		{Keyword: "ORIGINATOR", Value: originator},
		{Keyword: "DESCRIPTOR", Value: escaped(title)},
		{Keyword: "CREATED", Value: date},
	}}
}

func (t *CGATSTable) file() ([]byte, error) {
	var b bytes.Buffer
	err := (&CGATS{Tables: []CGATSTable{*t}}).Write(&b)
	return b.Bytes(), err
}

// escaped writes as \u and four digits what a string of measurement data cannot
// hold, and a backslash as two.
func escaped(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\\':
			b.WriteString(`\\`)
		case r < ' ' || r == '"' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// unescaped undoes escaped.
func unescaped(s string) string {
	var b strings.Builder
	for s != "" {
		i := strings.IndexByte(s, '\\')
		if i < 0 || i+1 == len(s) {
			break
		}
		b.WriteString(s[:i])
		s = s[i:]
		n, code := 2, uint64('\\')
		if s[1] == 'u' && len(s) >= 6 {
			if v, err := strconv.ParseUint(s[2:6], 16, 16); err == nil && !utf16.IsSurrogate(rune(v)) {
				n, code = 6, v
			}
		}
		if n == 2 && s[1] != '\\' {
			n, code = 1, '\\' // nothing that escaped writes
		}
		b.WriteRune(rune(code))
		s = s[n:]
	}
	return b.String() + s
}
