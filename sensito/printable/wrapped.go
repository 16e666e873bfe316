package printable

import (
	"strings"
	"unicode/utf8"
)

// Wrapped returns words in lines of so many columns, behind the given first and following
// indents, with the end of the last line. Each character is one column wide; a word that is
// wider than a line has one to itself.
func Wrapped(columns int, first, next, text string) string {
	var out strings.Builder
	out.WriteString(first)
	at := utf8.RuneCountInString(first)
	for i, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case i > 0 && at+1+n > columns:
			out.WriteString("\n" + next)
			at = utf8.RuneCountInString(next)
		case i > 0:
			out.WriteByte(' ')
			at++
		}
		out.WriteString(word)
		at += n
	}
	out.WriteByte('\n')
	return out.String()
}
