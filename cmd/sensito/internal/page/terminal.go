package page

import (
	"path/filepath"

	"sensito/cmd/sensito/internal/console"
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
	return console.InShell(filepath.Join(filepath.Base(s.dir), file))
}
