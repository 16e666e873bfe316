package console

import (
	"strings"
	"unicode/utf8"

	"sensito/sensito/printable"
)

// Wrapped parts lines that are wider than a terminal between words; width 0 parts
// none.
func Wrapped(text string, width int) string {
	const narrow = 20 // in which nothing is gained
	if width < narrow {
		return text
	}
	var out strings.Builder
	for line := range strings.Lines(text) {
		if utf8.RuneCountInString(strings.TrimRight(line, "\n")) <= width {
			out.WriteString(line)
			continue
		}
		if words := strings.TrimLeft(line, " \t"); strings.TrimSpace(words) != "" {
			indent := line[:len(line)-len(words)]
			out.WriteString(strings.TrimSuffix(printable.Wrapped(width, indent, "", words), "\n"))
			out.WriteString(line[len(strings.TrimRight(line, " \n")):])
		}
	}
	return out.String()
}
