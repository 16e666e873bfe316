package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// draftSuffix is that of the hidden file that holds what is known of a file which is
// still being built.
const draftSuffix = ".sensito-draft"

// Draft returns the name of the hidden file that holds the draft of the file at path.
func Draft(path string) string { return beside(path, draftSuffix) }

// ReadDraft returns the draft of the file at path, nil where there is none.
func ReadDraft(path string) []byte {
	data, err := ReadBytes(Draft(path))
	if err != nil {
		return nil
	}
	return data
}

// KeepDraft writes the draft of the file at path, in the way of WriteFile.
func KeepDraft(path string, data []byte) error {
	if err := inFolder(path); err != nil {
		return err
	}
	return WriteFile(Draft(path), data)
}

// ForgetDraft removes the draft of the file at path, if there is one.
func ForgetDraft(path string) error {
	if err := os.Remove(Draft(path)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: %w", Draft(path), Cause(err))
	}
	return nil
}
