package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// CreatePrivate puts data in a new file that its owner alone may read, whole or not at
// all, with no version before and no lock: for what a program keeps for itself beside the
// notebook. The error is fs.ErrExist where there is a file.
func CreatePrivate(path string, data []byte) error {
	return writePrivate(path, data, func(temporary string) error {
		err := os.Link(temporary, path) // does not replace, as a rename would
		if err != nil && !errors.Is(err, fs.ErrExist) {
			return os.Rename(temporary, path) // no hard links here
		}
		return err
	})
}

// WritePrivate is CreatePrivate, whatever was there.
func WritePrivate(path string, data []byte) error {
	return writePrivate(path, data, func(temporary string) error { return os.Rename(temporary, path) })
}

// writePrivate puts data in a temporary file, 0600, on the disk, and has it moved.
func writePrivate(path string, data []byte, move func(temporary string) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // unless it was moved
	_, err = f.Write(data)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return move(f.Name())
}
