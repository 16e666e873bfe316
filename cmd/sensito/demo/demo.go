// Package demo is an invented notebook: trials of film and paper, a control log, a roll and
// the usual procedure of a session. Begin with Files.
package demo

import (
	"embed"
	"io/fs"
)

//go:embed *.toml *.csv
var files embed.FS

// Procedure is the name of the file that holds the usual steps of a session.
const Procedure = "procedure.toml"

// Files returns the files of the notebook, all in one folder.
func Files() fs.ReadDirFS { return files }

// Read returns what a file of the notebook holds.
func Read(name string) ([]byte, error) { return files.ReadFile(name) }
