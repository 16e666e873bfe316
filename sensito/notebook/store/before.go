package store

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"
)

// beforeSuffix is that of the hidden file that holds the version of a file which
// the last Update replaced.
const beforeSuffix = ".sensito-before"

// Before returns the name of the hidden file that holds the version before of
// the file at path.
func Before(path string) string { return beside(path, beforeSuffix) }

// errOvertaken says that a program which takes no lock saved the file while it
// was being written here.
var errOvertaken = errors.New("is saved over and over by another program")

// A displacedError says that what another program saved is in the version before.
type displacedError struct {
	before string
	error
}

func (e displacedError) Unwrap() error { return e.error }

// swap exchanges two files. A test stands in for a system that cannot.
var swap = exchange

// successor returns the move that puts a file in the place of the target, which
// must still hold old, and keeps that as the version before. Where the target
// was replaced or changed it stays, and the error is errOvertaken.
//
// The look at the target comes just before the move, and where files can be
// exchanged another comes just after, at what the move took away. A program that
// saves between the two and reads the file at once, within microseconds, can
// still find ours in place of its own.
func (t target) successor(old []byte) func(temporary, name string) error {
	return func(temporary, name string) error {
		ours, err := os.Stat(temporary)
		if err != nil {
			return err
		}
		same := func(name string) bool { return unchanged(name, t.old) && holds(name, old) }
		if !same(name) {
			return errOvertaken
		}
		before := beside(name, beforeSuffix)
		switch err := swap(temporary, name); {
		case errors.Is(err, errors.ErrUnsupported):
			keep(before, name, old, ours)
			if !same(name) { // it took a while to keep it
				return errOvertaken
			}
			if err := rename(temporary, name); err != nil {
				return err
			}
			stamp(before, ours)
			return nil
		case errors.Is(err, fs.ErrNotExist):
			return errOvertaken // it was removed
		case err != nil:
			return err
		}
		if !same(temporary) {
			if err := giveBack(temporary, name, ours); err != nil {
				_ = rename(temporary, before)
				return displacedError{before, err}
			}
			return errOvertaken
		}
		stamp(temporary, ours)
		_ = rename(temporary, before) // the file is saved even when this fails
		return nil
	}
}

// unchanged says whether a name leads to a file as it was.
func unchanged(name string, was fs.FileInfo) bool {
	is, err := os.Lstat(name)
	return err == nil && os.SameFile(is, was) && is.Size() == was.Size() && is.ModTime().Equal(was.ModTime())
}

// holds says whether a file has a content.
func holds(name string, content []byte) bool {
	data, err := os.ReadFile(name)
	return err == nil && bytes.Equal(data, content)
}

// giveBack puts what another program saved, which is in the temporary file, back
// in its place, where ours is. That program may save again meanwhile; its latest
// version stays.
func giveBack(temporary, name string, ours fs.FileInfo) error {
	for last := ours; ; {
		theirs, err := os.Stat(temporary)
		if err == nil {
			err = swap(temporary, name)
		}
		if errors.Is(err, fs.ErrNotExist) { // it was removed
			return create(temporary, name)
		}
		if err != nil {
			return err
		}
		if out, err := os.Stat(temporary); err != nil || os.SameFile(out, last) {
			return err
		}
		last = theirs
	}
}

// keep makes old, the content of the file of a name, the version before. A save
// does not fail when it cannot.
func keep(before, name string, old []byte, next fs.FileInfo) {
	if err := os.Remove(before); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return
	}
	if os.Link(name, before) != nil {
		f, err := os.OpenFile(before, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return
		}
		_, err = f.Write(old)
		if errors.Join(err, like(f, next), f.Sync(), f.Close()) != nil {
			os.Remove(before)
		}
	}
}

// stamp gives a version the time of the one that replaces it, by which Undo
// knows the two for neighbours.
func stamp(before string, next fs.FileInfo) { _ = os.Chtimes(before, time.Time{}, next.ModTime()) }

// Undo puts the version before back in the file at path: what Update or Undo
// replaced last, so that a second Undo takes back the first. It returns the
// contents that it found and that it wrote, which are equal where there was
// nothing to undo. The error is that there is no version before, that the file
// has changed since, by its time, or that of writing, as for Update.
func Undo(path string) (from, to []byte, err error) {
	err = locked(path, func(t target) error {
		name := Before(t.name)
		before, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s has no version before: %s is not there", path, name)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", name, Cause(err))
		}
		if t.old == nil || !t.old.ModTime().Equal(before.ModTime()) {
			return fmt.Errorf("%s has changed since the last save that can be undone; the version before that save is in %s: compare the two, and copy it if it is the one you want",
				path, name)
		}
		if to, err = ReadBytes(name); err != nil {
			return err
		}
		if from, err = ReadBytes(path); err != nil || bytes.Equal(from, to) {
			return err
		}
		return t.put(to, t.successor(from))
	})
	if err != nil {
		return nil, nil, err
	}
	return from, to, nil
}
