// Package demo is an invented notebook: trials of film and paper, a control log, a roll,
// the usual procedure of a session, and a picture of a strip beside a tablet. Begin with Files.
package demo

import (
	"embed"
	"io/fs"
)

//go:embed *.toml *.csv *.png
var files embed.FS

// Procedure is the name of the file that holds the usual steps of a session.
const Procedure = "procedure.toml"

// Files returns the files of the notebook, all in one folder.
func Files() fs.ReadDirFS { return files }

// Read returns what a file of the notebook holds.
func Read(name string) ([]byte, error) { return files.ReadFile(name) }
