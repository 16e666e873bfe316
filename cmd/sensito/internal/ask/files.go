package ask

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
	"sensito/sensito/scene"
)

// Files are what questions read from.
type Files struct{ console.Streams }

// Trial reads a trial of film or paper from a file, from standard input for
// "-", or from the folder that holds no other.
func (s Files) Trial(path string) (*sensito.Trial, error) {
	path, err := s.Only(path, notebook.FilmKind, notebook.PaperKind)
	if err != nil {
		return nil, err
	}
	return s.trial(path)
}

// trial is Trial of a path of Only.
func (s Files) trial(path string) (*sensito.Trial, error) {
	return console.ReadInput(s.Streams, path, notebook.Read)
}

// Film reads a trial of film, named as for Trial.
func (s Files) Film(path string) (*sensito.Trial, error) {
	return s.Of(path, notebook.FilmKind)
}

// Of reads a trial of one material, named as for Trial.
func (s Files) Of(path string, kind notebook.Kind) (*sensito.Trial, error) {
	trial, err := s.trial(path)
	if err != nil && errors.As(err, new(*store.FolderError)) {
		if path, err = s.Only(path, kind); err != nil {
			return nil, err
		}
		trial, err = s.trial(path)
	}
	if err != nil {
		return nil, err
	}
	is := notebook.FilmKind
	if trial.Material() == sensito.PaperMaterial {
		is = notebook.PaperKind
	}
	if is != kind {
		if path == "-" {
			path = console.StandardInput
		}
		return nil, fmt.Errorf("%s %s", path, is.Instead(kind.String()))
	}
	return trial, nil
}

// Only returns the file that a path stands for: itself or, of a folder, the one
// file of the kinds in it; "-" is standard input.
func (s Files) Only(path string, kinds ...notebook.Kind) (string, error) {
	if path == "-" {
		return path, nil
	}
	files, folder, err := s.expand(path, kinds...)
	switch {
	case err != nil:
		return "", err
	case !folder || len(files) == 1:
		return files[0], nil
	case len(files) == 0:
		return "", fmt.Errorf("%s holds no file that is %s; see: sensito ls %s", path, alternatives(kinds), path)
	}
	for i, f := range files {
		files[i] = filepath.Base(f)
	}
	return "", console.Usagef("%s holds %d %s: name one, %s", path, len(files), kinds[0].Plural(), strings.Join(files, ", "))
}

func alternatives(kinds []notebook.Kind) string {
	var names []string
	for _, k := range kinds {
		names = append(names, k.String())
	}
	return strings.Join(names, " or ")
}

// expand returns the files of the kinds in a folder, sorted by name; a path that
// is not a folder stands for itself, and so does every path of streams that are
// confined.
func (s Files) expand(path string, kinds ...notebook.Kind) (files []string, folder bool, err error) {
	if s.Confined() {
		return []string{path}, false, nil
	}
	if info, err := os.Stat(path); err != nil || !info.IsDir() {
		return []string{path}, false, nil
	}
	entries, err := notebook.List(path)
	if err != nil {
		return nil, true, err
	}
	for _, e := range entries {
		if slices.Contains(kinds, e.Kind) {
			files = append(files, e.Path)
		}
	}
	return files, true, nil
}

// Films returns the trials of film that paths name, those in folders included.
func (s Files) Films(paths []string) ([]string, error) {
	var all []string
	for _, path := range paths {
		files, _, err := s.expand(path, notebook.FilmKind)
		if err != nil {
			return nil, err
		}
		if len(files) == 0 {
			return nil, fmt.Errorf("%s holds no file that is %s; see: sensito ls %s", path, notebook.FilmKind, path)
		}
		all = append(all, files...)
	}
	return all, nil
}

// once returns an error of usage for a trial that paths, which name no folders, name twice.
func (s Files) once(paths []string) error {
	var seen []os.FileInfo // nil of what is not a file on the disk
	for i, path := range paths {
		var info os.FileInfo
		if path != "-" && !s.Confined() {
			info, _ = os.Stat(path)
		}
		for k, before := range paths[:i] {
			switch {
			case path == "-" && before == path:
				return console.Usagef("standard input is one trial: name files for the others")
			case path == before:
				return console.Usagef("%s is named twice: name each trial once, by itself or with its folder", path)
			case info != nil && seen[k] != nil && os.SameFile(info, seen[k]):
				return console.Usagef("%s and %s are one file: name each trial once", before, path)
			}
		}
		seen = append(seen, info)
	}
	return nil
}

// Control reads a log of control strips, named as for Trial.
func (s Files) Control(path string) (*control.Log, error) {
	path, err := s.Only(path, notebook.ControlKind)
	if err != nil {
		return nil, err
	}
	return console.ReadInput(s.Streams, path, notebook.ReadControl)
}

// Roll reads the scenes of a roll; index was set on the meter that read them.
func (s Files) Roll(path string, index sensito.Speed) ([]scene.Frame, error) {
	path, err := s.Only(path, notebook.RollKind)
	if err != nil {
		return nil, err
	}
	frames, err := console.ReadInput(s.Streams, path, notebook.ReadRoll)
	for _, frame := range frames {
		if frame.Metering != nil {
			frame.Metering.Index = index
		}
	}
	return frames, err
}
