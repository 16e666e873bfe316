package table

import (
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito/internal/lazy"
	"sensito/sensito/notebook/internal/grammar"
)

const sheetColumns = 16384 // of a sheet, by the format

// xlsxSheet is a sheet being read.
type xlsxSheet struct {
	*workbook
	file   string
	grid   *grid
	faults grammar.Errors
	line   int      // number of the row being read
	row    []string // its cells so far
	cells  int      // of the rows so far
}

// xlsxCell is what the format has (ECMA-376 Part 1, 18.3.1.4).
type xlsxCell struct {
	Place   string    `xml:"r,attr"` // such as AB12; if left out, the next one
	Style   int       `xml:"s,attr"`
	Type    string    `xml:"t,attr"`
	Value   string    `xml:"v"`
	Formula *struct{} `xml:"f"`
	Inline  *richText `xml:"is"`
}

// readSheet returns the cells of a sheet, and what is wrong with them.
func (w *workbook) readSheet(file string, entry sheetEntry) (*xlsxSheet, error) {
	s := &xlsxSheet{workbook: w, file: file, grid: &grid{name: file + ", sheet " + entry.Name}}
	err := w.elements(entry.part, func(d *xml.Decoder, start *xml.StartElement) error {
		switch start.Name.Local {
		case "row":
			s.endRow()
			return s.beginRow(start)
		case "c":
			var c xlsxCell
			if err := d.DecodeElement(&c, start); err != nil {
				return err
			}
			return s.cell(c)
		}
		return nil
	})
	s.endRow()
	return s, err
}

func (s *xlsxSheet) beginRow(start *xml.StartElement) error {
	before := s.line
	s.line++ // unless the row has a number
	for _, a := range start.Attr {
		if a.Name.Local == "r" {
			var err error
			if s.line, err = strconv.Atoi(a.Value); err != nil || s.line <= before {
				return fmt.Errorf("row %q follows row %d", clip(a.Value), before)
			}
		}
	}
	return nil
}

func (s *xlsxSheet) cell(c xlsxCell) error {
	column := len(s.row) + 1
	if c.Place != "" {
		column = columnNumber(c.Place)
	}
	if column <= len(s.row) || column > sheetColumns || s.line == 0 {
		return fmt.Errorf("the cell %q of row %d is not in its place", clip(c.Place), s.line)
	}
	if s.cells += column - len(s.row); s.cells > maxCells {
		return tooBig(fmt.Sprintf("row %d brings the sheet to more than %d cells", s.line, maxCells))
	}
	for len(s.row) < column {
		s.row = append(s.row, "")
	}
	text, err := s.text(c)
	if err != nil {
		if len(s.faults) >= maxFaults {
			return tooBig(fmt.Sprintf("has more than %d bad cells", maxFaults))
		}
		s.faults = append(s.faults, &grammar.Error{File: s.file, Line: s.line, Key: columnLetters(column) + strconv.Itoa(s.line), Msg: err.Error()})
		text = "?" // for the row to count as filled
	}
	s.row[column-1] = withoutApostrophe(strings.TrimSpace(text))
	return nil
}

// endRow keeps the row if any of its cells is filled.
func (s *xlsxSheet) endRow() {
	end := len(s.row)
	for end > 0 && s.row[end-1] == "" {
		end--
	}
	if end > 0 {
		s.grid.rows, s.grid.lines = append(s.grid.rows, s.row[:end:end]), append(s.grid.lines, s.line)
	}
	s.row = nil
}

// text returns what a cell holds.
func (s *xlsxSheet) text(c xlsxCell) (string, error) {
	value := c.Value
	switch {
	case c.Inline != nil:
		return unescapeXML(c.Inline.String()), nil
	case value == "" && c.Type == "str": // a formula whose result is no text
		return "", nil
	case value == "" && c.Formula != nil:
		return "", errors.New("has a formula without its result; open the workbook in a spreadsheet and save it again")
	}
	if strings.TrimSpace(value) == "" {
		return "", nil
	}
	switch c.Type {
	case "s":
		i, err := strconv.Atoi(strings.TrimSpace(value))
		if err != nil || i < 0 || i >= len(s.strings) {
			return "", fmt.Errorf("refers to the text %q, which the workbook does not have", clip(value))
		}
		return unescapeXML(s.strings[i]), nil
	case "str", "inlineStr":
		return unescapeXML(value), nil
	case "e":
		return "", fmt.Errorf("holds the error %s", clip(value))
	case "b":
		if value == "0" || value == "false" {
			return "FALSE", nil
		}
		return "TRUE", nil
	case "d":
		return strings.TrimSuffix(value, "T00:00:00"), nil // ISO text already
	case "", "n":
		value = strings.TrimSpace(value)
		number, err := strconv.ParseFloat(value, 64)
		if err != nil || !plainNumber().MatchString(value) {
			return "", fmt.Errorf("holds %q, which is not a number", clip(value))
		}
		if c.Style < 0 || c.Style >= len(s.formats) {
			return decimalText(number), nil
		}
		return s.formats[c.Style].text(number, s.from1904)
	}
	return "", fmt.Errorf("holds a value of the unknown kind %q", clip(c.Type))
}

// decimalText returns a number to 15 digits, as many as a spreadsheet shows and
// lets anybody type. It stores more, and behind them what is left of its
// calculations: 0.49999999999999994 for 0.05 + 3 * 0.15.
func decimalText(x float64) string {
	text := strconv.FormatFloat(x, 'g', 15, 64)
	if short, err := strconv.ParseFloat(text, 64); err == nil { // not beyond the largest number
		x = short
	}
	if a := math.Abs(x); a != 0 && (a < 1e-6 || a >= 1e15) {
		return strconv.FormatFloat(x, 'e', -1, 64)
	}
	return strconv.FormatFloat(x+0, 'f', -1, 64) // never -0
}

// columnNumber returns the column of a cell such as AB12, from 1; 0 if it is no cell.
func columnNumber(cell string) int {
	n := 0
	for i, c := range strings.ToUpper(cell) {
		if c < 'A' || c > 'Z' {
			if _, err := strconv.Atoi(cell[i:]); err != nil {
				return 0
			}
			return n
		}
		if n = 26*n + int(c-'A') + 1; n > sheetColumns {
			return 0
		}
	}
	return 0
}

// columnLetters returns the name of a column, from 1.
func columnLetters(n int) string {
	name := ""
	for ; n > 0; n = (n - 1) / 26 {
		name = string(rune('A'+(n-1)%26)) + name
	}
	return name
}

var xmlEscape = lazy.Regexp(`_x[0-9A-Fa-f]{4}_`)

// unescapeXML replaces what a workbook writes for characters that XML cannot
// hold, such as _x000D_ (ECMA-376 Part 1, 22.9.2.19).
func unescapeXML(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	return xmlEscape().ReplaceAllStringFunc(s, func(e string) string {
		code, _ := strconv.ParseUint(e[2:6], 16, 16) // four hexadecimal digits
		return string(rune(code))
	})
}
