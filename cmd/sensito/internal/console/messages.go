package console

import (
	"io"
	"strings"

	"sensito/sensito/printable"
)

// messages writes to a person: it escapes what does not print, as the name of a
// file may have, and cuts what is very long. Each Write is of whole messages.
type messages struct {
	w io.Writer

	// odd are words of the command line with characters that do not print: an end
	// of a line in the name of a file is not that of a message.
	odd []string
}

// longestLine is how many characters a line of a message may have: beyond that it
// repeats a value that should not have been.
const longestLine = 1000

func newMessages(w io.Writer, args []string) *messages {
	m := &messages{w: w}
	for _, arg := range args {
		if _, value, ok := strings.Cut(arg, "="); ok && strings.HasPrefix(arg, "--") {
			arg = value
		}
		if printable.Text(arg) != arg && strings.TrimSpace(arg) != "" {
			m.odd = append(m.odd, arg)
		}
	}
	return m
}

// plain returns text with what does not print of the command line escaped, ends of
// lines too.
func (m *messages) plain(text string) string {
	for _, word := range m.odd {
		text = strings.ReplaceAll(text, word, printable.Text(word))
	}
	return text
}

func (m *messages) Write(b []byte) (int, error) {
	text := m.plain(string(b))
	var out strings.Builder
	for line := range strings.Lines(printable.Lines(text)) {
		if len(line) > longestLine {
			body, end := strings.CutSuffix(line, "\n")
			line = printable.Brief(body, longestLine)
			if end {
				line += "\n"
			}
		}
		out.WriteString(line)
	}
	if _, err := io.WriteString(m.w, out.String()); err != nil {
		return 0, err
	}
	return len(b), nil
}
