package console

import (
	"strings"
	"unicode/utf8"
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
		words := strings.Fields(line)
		if len(words) == 0 {
			continue
		}
		at, _ := out.WriteString(line[:strings.Index(line, words[0])]) // the indent
		for i, word := range words {
			n := utf8.RuneCountInString(word)
			switch {
			case i > 0 && at+1+n > width:
				out.WriteByte('\n')
				at = 0
			case i > 0:
				out.WriteByte(' ')
				at++
			}
			out.WriteString(word)
			at += n
		}
		out.WriteString(line[len(strings.TrimRight(line, " \n")):])
	}
	return out.String()
}
