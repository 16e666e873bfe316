package store

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"

	"sensito/sensito/notebook/internal/grammar"
)

// Append adds lines to the file at path, whose lines are only ever added, and returns
// when they are on the disk. Add gets the whole lines that are there and returns those
// that are added, each with its end; other writers are kept out meanwhile. What a
// writer that was killed left of a line, without its end, is taken away first. An
// error of add, or a result of nothing, leaves the file untouched.
func Append(path string, add func(lines []byte) ([]byte, error)) error {
	return locked(path, func(t target) error {
		if t.old == nil {
			return &fs.PathError{Op: "open", Path: path, Err: syscall.ENOENT}
		}
		data, err := ReadBytes(path)
		if err != nil {
			return err
		}
		whole := Whole(data)
		more, err := add(bytes.Clone(whole))
		if err != nil || len(more) == 0 {
			return err
		}
		if more[len(more)-1] != '\n' {
			panic("store: a line that is added has no end")
		}
		if len(whole)+len(more) > grammar.MaxBytes {
			return fmt.Errorf("%s would become larger than %d MiB; nothing was written", path, grammar.MaxBytes>>20)
		}
		if len(whole) < len(data) {
			if err := os.Truncate(t.name, int64(len(whole))); err != nil {
				return fmt.Errorf("%s: %w", path, Cause(err))
			}
		}
		f, err := os.OpenFile(t.name, os.O_WRONLY|os.O_APPEND, 0)
		if err != nil {
			return fmt.Errorf("%s: %w", path, Cause(err))
		}
		if _, err = f.Write(more); err == nil {
			err = f.Sync()
		}
		if err = errors.Join(err, f.Close()); err != nil {
			return fmt.Errorf("%s: %w; the last line may be lost", path, Cause(err))
		}
		return nil
	})
}

// Whole returns the lines of data that have their end.
func Whole(data []byte) []byte { return data[:bytes.LastIndexByte(data, '\n')+1] }
