package table

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"sensito/sensito/notebook/internal/grammar"
)

// maxCells is how many cells a table may have: no notebook comes near it.
const maxCells = 1_000_000

// separators are what may part the cells of a table, in the order in which they
// are tried: a comma may be a decimal mark as well.
var separators = []struct {
	mark rune
	name string
}{{'\t', "tab"}, {';', "semicolon"}, {',', "comma"}}

// readCSV returns the cells of a table in text whose lines end in any way. Cells
// in double quotes are taken as they are, others without the blanks around them.
// Lines that begin with # and lines without a filled cell are passed over. A
// separator of 0 is found from the text; the one used is returned. The error is
// of type Errors.
func readCSV(name, text string, separator rune) (*grid, rune, error) {
	if separator == 0 {
		const enough = 256 << 10 // bytes, of a table that is alike all the way down
		separator = guessSeparator(text[:min(len(text), enough)])
	}
	p := &csvParser{text: text, separator: separator, line: 1, grid: &grid{name: name}}
	if err := p.parse(); err != nil {
		return nil, 0, grammar.Errors{err}
	}
	return p.grid, separator, nil
}

// guessSeparator returns the first separator that stands outside quotes in at
// least half of the lines, a comma where none does.
func guessSeparator(text string) rune {
	lines, with := 0, map[rune]int{}
	seen, start, quoted, closed, filled, comment := map[rune]bool{}, true, false, false, false, false
	newline := true
	end := func() {
		if filled && !comment {
			lines++
			for mark := range seen {
				with[mark]++
			}
		}
		clear(seen)
		start, filled, comment, newline = true, false, false, true
	}
	for _, c := range text {
		switch {
		case quoted:
			quoted, closed = c != '"', c == '"'
			continue
		case closed && c == '"': // a quote within quotes
			quoted = true
		case c == '\n' || c == '\r':
			end()
		case c == '"' && start && !comment:
			quoted, start, filled = true, false, true
		case c == '#' && newline:
			comment = true
		case c == '\t' || c == ';' || c == ',':
			seen[c], start = true, true
		case c != ' ':
			start, filled = false, true
		}
		closed = false
		if c != '\n' && c != '\r' {
			newline = false
		}
	}
	end()
	for _, s := range separators {
		if n := with[s.mark]; n > 0 && 2*n >= lines {
			return s.mark
		}
	}
	return ','
}

// csvParser reads a table character by character.
type csvParser struct {
	text      string
	separator rune // one byte
	line      int
	grid      *grid
	cells     int
}

func (p *csvParser) parse() *grammar.Error {
	for p.text != "" {
		line := p.line
		if p.text[0] == '#' {
			p.text = p.text[p.lineEnd():]
			p.newline()
			continue
		}
		row, filled, err := p.row()
		if err != nil {
			return err
		}
		if filled {
			p.grid.rows, p.grid.lines = append(p.grid.rows, row), append(p.grid.lines, line)
		}
	}
	return nil
}

// lineEnd returns where the line ends.
func (p *csvParser) lineEnd() int {
	if i := strings.IndexAny(p.text, "\r\n"); i >= 0 {
		return i
	}
	return len(p.text)
}

// newline passes over the end of a line and says whether there was one.
func (p *csvParser) newline() bool {
	switch {
	case strings.HasPrefix(p.text, "\r\n"):
		p.text = p.text[2:]
	case strings.HasPrefix(p.text, "\n"), strings.HasPrefix(p.text, "\r"):
		p.text = p.text[1:]
	default:
		return false
	}
	p.line++
	return true
}

func (p *csvParser) row() (row []string, filled bool, err *grammar.Error) {
	for {
		cell, err := p.cell()
		if err != nil {
			return nil, false, err
		}
		row, filled = append(row, cell), filled || cell != ""
		if p.cells++; p.cells > maxCells {
			return nil, false, p.fault(p.line, "brings the table to more than %d cells", maxCells)
		}
		switch {
		case p.text == "" || p.newline():
			return row, filled, nil
		default:
			p.text = p.text[1:] // the separator
		}
	}
}

// cell reads one cell, up to the separator or the end of the line.
func (p *csvParser) cell() (string, *grammar.Error) {
	p.blanks()
	if !strings.HasPrefix(p.text, `"`) {
		end := 0 // a search of the whole line for every cell would take its square
		for end < len(p.text) && p.text[end] != byte(p.separator) && p.text[end] != '\n' && p.text[end] != '\r' {
			end++
		}
		cell := p.text[:end]
		p.text = p.text[end:]
		return withoutApostrophe(strings.TrimSpace(cell)), nil
	}
	opened := p.line
	var b strings.Builder
	for p.text = p.text[1:]; ; {
		i := strings.IndexByte(p.text, '"')
		if i < 0 {
			return "", p.fault(opened, "has a quote that is not closed")
		}
		b.WriteString(p.text[:i])
		p.line += lineEnds(p.text[:i])
		p.text = p.text[i+1:]
		if !strings.HasPrefix(p.text, `"`) {
			break
		}
		b.WriteByte('"')
		p.text = p.text[1:]
	}
	p.blanks()
	if c, _ := utf8.DecodeRuneInString(p.text); p.text != "" && c != p.separator && c != '\n' && c != '\r' {
		return "", p.fault(p.line, "has %q behind the closing quote of a cell; a quote within quotes is written twice", c)
	}
	return withoutApostrophe(b.String()), nil
}

// blanks passes over blanks that part no cells.
func (p *csvParser) blanks() {
	for strings.HasPrefix(p.text, " ") || p.separator != '\t' && strings.HasPrefix(p.text, "\t") {
		p.text = p.text[1:]
	}
}

func (p *csvParser) fault(line int, format string, args ...any) *grammar.Error {
	return &grammar.Error{File: p.grid.name, Line: line, Msg: fmt.Sprintf(format, args...)}
}

// lineEnds counts the ends of lines, of whatever kind.
func lineEnds(s string) int {
	return strings.Count(s, "\n") + strings.Count(s, "\r") - strings.Count(s, "\r\n")
}

// writeCSV returns a table with commas between its cells, in quotes where they
// are needed for readCSV to give the same cells back. A text that a spreadsheet
// would take for a formula has an apostrophe before it.
func writeCSV(rows [][]string) []byte {
	var b bytes.Buffer
	for _, row := range rows {
		for i, cell := range row {
			if i > 0 {
				b.WriteByte(',')
			}
			if isFormula(cell) {
				cell = "'" + cell
			}
			if plainCell(cell) {
				b.WriteString(cell)
			} else {
				b.WriteString(`"` + strings.ReplaceAll(cell, `"`, `""`) + `"`)
			}
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// plainCell says whether a cell needs no quotes, in a spreadsheet either.
func plainCell(s string) bool {
	return s == strings.TrimSpace(s) && !strings.HasPrefix(s, "#") && !strings.ContainsAny(s, ",;\t\"\r\n")
}

// isFormula says whether a spreadsheet would compute a text, or would but for
// apostrophes before it. A number with its sign stays a number. Some programs pass
// over blanks, and take the wide signs of Asian keyboards (common practice, no
// source).
func isFormula(cell string) bool {
	bare := strings.TrimLeftFunc(strings.TrimLeft(cell, "'"), unicode.IsSpace)
	sign, _ := utf8.DecodeRuneInString(bare)
	return bare != "" && strings.ContainsRune("=+-@＝＋－＠", sign) && !plainNumber().MatchString(cell)
}

// withoutApostrophe undoes what writeCSV does to formulas.
func withoutApostrophe(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && isFormula(cell) {
		return rest
	}
	return cell
}
