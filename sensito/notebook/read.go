// Package notebook reads and writes the files a photographer keeps: a folder
// of small TOML files, one trial each. A file is read whole or not at all; what
// is wrong with it is told with its line.
//
// Begin with ReadFile for a trial; ReadControlFile, ReadProcedureFile and
// ReadRollFile are the same for the other kinds of file, and Import for tables of
// another program. Format writes a trial, AppendStrip adds to what a person wrote,
// and Update saves a file so that nothing is lost.
package notebook

import (
	"bytes"
	"io"
	"slices"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
	"sensito/sensito/notebook/store"
)

// ReadFile returns the trial in the file at path. Errors are as for Read. It is
// where a program that uses the library begins; the commands of sensito take Read,
// since they keep account of every input.
func ReadFile(path string) (*sensito.Trial, error) {
	return readFile(path, Read)
}

// readFile opens the file at path for read.
func readFile[T any](path string, read func(name string, r io.Reader) (T, error)) (T, error) {
	f, err := store.Open(path)
	if err != nil {
		var none T
		return none, err
	}
	defer f.Close()
	return read(path, f)
}

// Read returns the trial written in TOML in r; name stands for the file in
// errors. The error is of type
// Errors and names every fault of the file, or only the first one when the file
// is not well-formed TOML; a failure of r itself is wrapped.
func Read(name string, r io.Reader) (*sensito.Trial, error) {
	return decode(name, r, trialfile.Trial, "a trial", FilmKind, PaperKind)
}

// decode reads a file of TOML whole and hands it to read, whose result counts
// only when it noted no fault. A file that is clearly of another kind than the
// ones wanted is refused as such.
func decode[T any](name string, r io.Reader, read func(root *grammar.Table) *T, wanted string, kinds ...Kind) (*T, error) {
	data, err := store.ReadAll(name, r)
	if err != nil {
		return nil, err
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if k := KindOf(data); k != UnknownKind && !slices.Contains(kinds, k) {
		return nil, Errors{{File: name, Line: 1, Msg: k.Instead(wanted)}}
	}
	root, err := grammar.Read(name, data)
	if err != nil {
		return nil, err
	}
	out := read(root)
	if err := root.Located(name, data); err != nil {
		return nil, err
	}
	return out, nil
}
