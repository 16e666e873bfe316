package page

import (
	"path/filepath"
	"strings"

	"sensito/sensito/printable"
)

// terminal returns the command that gives what a page does, of files of the notebook or,
// for "" alone, of the whole.
func (s *Server) terminal(command string, files ...string) string {
	text := "sensito " + command
	for _, file := range files {
		text += " " + s.inTerminal(file)
	}
	return text
}

// inTerminal returns the path of a file of the notebook as a shell takes it, from the folder
// that the notebook is in.
func (s *Server) inTerminal(file string) string {
	return inShell(filepath.Join(filepath.Base(s.dir), file))
}

// inShell returns a word as a shell takes it, in quotes where it needs them.
func inShell(word string) string {
	const safe = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_./+-"
	if word != "" && strings.Trim(word, safe) == "" {
		return word
	}
	return "'" + strings.ReplaceAll(printable.Text(word), "'", `'\''`) + "'"
}
