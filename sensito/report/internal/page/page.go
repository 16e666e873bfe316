// Package page sets the text of results: sentences and tables as wide as the screen, the
// Answer so that it stands out, and the cautions that end a screen.
//
// Begin with NewWriter.
package page

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

// TextWidth is how wide text is set where the screen has room; tables go further.
const TextWidth = 80

// Columns returns how wide a table may be.
func (l Layout) Columns() int {
	const least = 40 // below which a table loses its sense
	if l.Width == 0 {
		return TextWidth
	}
	return max(l.Width, least)
}

// A Writer sets text, and collects the first error of a run of prints. What does
// not print leaves it escaped.
type Writer struct {
	Layout
	w   io.Writer
	Err error
}

// NewWriter returns a writer to out; the first error is in Err.
func NewWriter(out io.Writer, l Layout) *Writer { return &Writer{Layout: l, w: out} }

func (w *Writer) Printf(format string, args ...any) {
	w.raw(printable.Lines(fmt.Sprintf(format, args...)))
}

// raw writes text that is known to print.
func (w *Writer) raw(text string) {
	if w.Err == nil {
		_, w.Err = io.WriteString(w.w, text)
	}
}

// Answer writes the first lines of a screen, which stand out.
func (w *Writer) Answer(format string, args ...any) {
	text := printable.Lines(printable.Wrapped(w.Prose(), "", "", fmt.Sprintf(format, args...)))
	if w.Bold {
		text = "\x1b[1m" + strings.TrimSuffix(text, "\n") + "\x1b[0m\n"
	}
	w.raw(text)
}

// Prose returns how wide sentences are set.
func (l Layout) Prose() int { return min(l.Columns(), TextWidth) }

// Table writes rows of cells in columns: the first flush left, the others
// flush right. One that is wider than the screen is broken between columns, each
// part behind the first column.
func (w *Writer) Table(rows [][]string) {
	widths := ColumnWidths(rows)
	if len(widths) == 0 {
		return
	}
	for first := 1; ; {
		end := first
		for all := widths[0]; end < len(widths); end++ {
			if all += 2 + widths[end]; all > w.Columns() && end > first {
				break
			}
		}
		if first > 1 {
			w.Printf("\n")
		}
		w.tablePart(rows, widths, first, end)
		if first = end; first >= len(widths) {
			return
		}
	}
}

// tablePart writes the first column of a table and those from first up to end.
func (w *Writer) tablePart(rows [][]string, widths []int, first, end int) {
	for _, row := range rows {
		var b strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", widths[i]-Width(cell))
			switch {
			case i == 0:
				b.WriteString(cell + pad)
			case i >= first && i < end:
				b.WriteString("  " + pad + cell)
			}
		}
		w.Printf("%s\n", strings.TrimRight(b.String(), " "))
	}
}

// ColumnWidths returns how wide the columns of a table are.
func ColumnWidths(rows [][]string) []int {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], Width(cell))
		}
	}
	return widths
}

// Width counts characters, each taken as one column wide.
func Width(s string) int { return len([]rune(s)) }

// Warnings writes warnings as a list.
func (w *Writer) Warnings(list sensito.Warnings) {
	for _, warning := range list {
		w.Paragraph("! ", "  ", warning.Message())
	}
}

// Closing ends a screen that tells a time: its warnings, and the cautions.
func (w *Writer) Closing(list sensito.Warnings) {
	w.Printf("\n")
	w.Warnings(list)
	if len(list) > 0 {
		w.Printf("\n")
	}
	w.Lines(StartingPoint)
}

// Paragraph writes words wrapped to the screen, as Paragraph does.
func (w *Writer) Paragraph(first, next, text string) {
	w.Printf("%s", printable.Wrapped(w.Prose(), first, next, text))
}

// Lines writes text that has lines of its own, each wrapped to the screen.
func (w *Writer) Lines(text string) {
	for paragraph := range strings.SplitSeq(text, "\n") {
		w.Paragraph("", "", paragraph)
	}
}

// Paragraph returns words wrapped to 80 columns behind the given first and
// following indents, with the end of the last line.
func Paragraph(first, next, text string) string {
	return printable.Wrapped(TextWidth, first, next, text)
}

// StartingPoint is said wherever a development time is.
const StartingPoint = "A computed time is a starting point: verify it on your own process.\n" + Hazards

// Hazards is said wherever somebody is told to mix or pour.
const Hazards = "Chemicals are hazardous: gloves, eye protection, ventilation; never mix acids or bleach with fixer; read the product's safety sheet and dispose by local rules."
