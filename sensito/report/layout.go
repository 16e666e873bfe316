package report

import (
	"fmt"
	"io"
	"strings"

	"sensito/sensito"
	"sensito/sensito/printable"
)

// A Layout says how text is set. The zero value is that of a pipe: the answer and
// what a photographer uses, 80 columns wide, without emphasis.
type Layout struct {
	Full  bool // all that is known, which JSON always has
	Width int  // columns of the screen; 0 is 80
	Bold  bool // the answer stands out
}

// textWidth is how wide text is set where the screen has room; tables go further.
const textWidth = 80

// columns returns how wide a table may be.
func (l Layout) columns() int {
	const least = 40 // below which a table loses its sense
	if l.Width == 0 {
		return textWidth
	}
	return max(l.Width, least)
}

// A writer sets text, and collects the first error of a run of prints. What does
// not print leaves it escaped.
type writer struct {
	Layout
	w   io.Writer
	err error
}

func newWriter(out io.Writer, l Layout) *writer { return &writer{Layout: l, w: out} }

func (w *writer) printf(format string, args ...any) {
	w.raw(printable.Lines(fmt.Sprintf(format, args...)))
}

// raw writes text that is known to print.
func (w *writer) raw(text string) {
	if w.err == nil {
		_, w.err = io.WriteString(w.w, text)
	}
}

// answer writes the first lines of a screen, which stand out.
func (w *writer) answer(format string, args ...any) {
	text := printable.Lines(wrapped(w.prose(), "", "", fmt.Sprintf(format, args...)))
	if w.Bold {
		text = "\x1b[1m" + strings.TrimSuffix(text, "\n") + "\x1b[0m\n"
	}
	w.raw(text)
}

// prose returns how wide sentences are set.
func (l Layout) prose() int { return min(l.columns(), textWidth) }

// table writes rows of cells in columns: the first flush left, the others
// flush right. One that is wider than the screen is broken between columns, each
// part behind the first column.
func (w *writer) table(rows [][]string) {
	widths := columnWidths(rows)
	if len(widths) == 0 {
		return
	}
	for first := 1; ; {
		end := first
		for all := widths[0]; end < len(widths); end++ {
			if all += 2 + widths[end]; all > w.columns() && end > first {
				break
			}
		}
		if first > 1 {
			w.printf("\n")
		}
		w.tablePart(rows, widths, first, end)
		if first = end; first >= len(widths) {
			return
		}
	}
}

// tablePart writes the first column of a table and those from first up to end.
func (w *writer) tablePart(rows [][]string, widths []int, first, end int) {
	for _, row := range rows {
		var b strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", widths[i]-width(cell))
			switch {
			case i == 0:
				b.WriteString(cell + pad)
			case i >= first && i < end:
				b.WriteString("  " + pad + cell)
			}
		}
		w.printf("%s\n", strings.TrimRight(b.String(), " "))
	}
}

// columnWidths returns how wide the columns of a table are.
func columnWidths(rows [][]string) []int {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], width(cell))
		}
	}
	return widths
}

// width counts characters, each taken as one column wide.
func width(s string) int { return len([]rune(s)) }

// warnings writes warnings as a list.
func (w *writer) warnings(list sensito.Warnings) {
	for _, warning := range list {
		w.paragraph("! ", "  ", warning.Message())
	}
}

// closing ends a screen that tells a time: its warnings, and the cautions.
func (w *writer) closing(list sensito.Warnings) {
	w.printf("\n")
	w.warnings(list)
	if len(list) > 0 {
		w.printf("\n")
	}
	w.lines(startingPoint)
}

// paragraph writes words wrapped to the screen, as Paragraph does.
func (w *writer) paragraph(first, next, text string) {
	w.printf("%s", wrapped(w.prose(), first, next, text))
}

// lines writes text that has lines of its own, each wrapped to the screen.
func (w *writer) lines(text string) {
	for paragraph := range strings.SplitSeq(text, "\n") {
		w.paragraph("", "", paragraph)
	}
}

// Paragraph returns words wrapped to 80 columns behind the given first and
// following indents, with the end of the last line.
func Paragraph(first, next, text string) string { return wrapped(textWidth, first, next, text) }

// wrapped is Paragraph for so many columns.
func wrapped(columns int, first, next, text string) string {
	var out strings.Builder
	line := first
	for i, word := range strings.Fields(text) {
		if i > 0 && width(line)+1+width(word) > columns {
			out.WriteString(line + "\n")
			line = next + word
			continue
		}
		if i > 0 {
			line += " "
		}
		line += word
	}
	return out.String() + line + "\n"
}
