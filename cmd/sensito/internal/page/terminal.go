package page

import (
	"path/filepath"
	"strings"

	"sensito/sensito/printable"
)

// terminal returns the command that gives what a page does, of a file of the notebook or,
// for "", of the whole.
func (s *Server) terminal(command, file string) string {
	return "sensito " + command + " " + inShell(filepath.Join(filepath.Base(s.dir), file))
}

// inShell returns a word as a shell takes it, in quotes where it needs them.
func inShell(word string) string {
	const safe = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_./+-"
	if word != "" && strings.Trim(word, safe) == "" {
		return word
	}
	return "'" + strings.ReplaceAll(printable.Text(word), "'", `'\''`) + "'"
}
