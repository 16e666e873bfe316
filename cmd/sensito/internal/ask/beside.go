package ask

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"

	"sensito/sensito/development"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
)

// besideOf finds what a control log in the folder of a trial of film says of its process, and
// the path of that log; nil for a trial that comes from standard input.
func (s Files) besideOf(trial string, f *development.Family) (b *listing.Beside, log string) {
	file, err := s.Only(trial, notebook.FilmKind)
	if file == "-" || err != nil {
		return nil, ""
	}
	dir := filepath.Dir(file)
	folder := os.DirFS(dir)
	if s.Confined() {
		folder = openedFolder{s, filepath.ToSlash(dir)}
	}
	name, found, faults := notebook.ControlOf(folder, f.Trial)
	return listing.NewBeside(f, name, found, faults), filepath.Join(dir, name)
}

// openedFolder is a folder of streams that are confined, as far as their opener shows it.
type openedFolder struct {
	Files
	dir string
}

// Open opens a file of the folder, or the folder itself for ".".
func (f openedFolder) Open(name string) (fs.File, error) {
	opened, err := f.OpenInput(path.Join(f.dir, name))
	if err != nil {
		return nil, err
	}
	file, ok := opened.(fs.File)
	if !ok {
		opened.Close()
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	return file, nil
}
