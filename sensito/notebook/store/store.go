package store

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"time"

	"sensito/sensito/notebook/internal/grammar"
)

// ErrChanged says that a file is not what it was when it was read.
var ErrChanged = errors.New("changed on disk since it was read")

// Update replaces the file at path by what change makes of its content, and
// returns that. Other writers are kept out from before the file is read until it
// is replaced; one that is at work is waited for. A program that does not wait,
// such as an editor, may save the file in that time; then change is done anew on
// what it saved. Seen, unless nil, is the content that the caller last saw:
// another on disk is an error that wraps ErrChanged. A file must be there. A
// result equal to the content leaves it untouched, one too large to be read again
// is refused, and an error of change is returned as it is.
//
// The file appears by rename: whoever reads it, even after a crash, finds the
// old content or the new, and when Update has returned, the new one is on the
// disk. The version before is kept for Undo. Permissions stay and, as far as the
// system allows, owner and group. A link stays a link; the file it leads to is
// replaced. What is not a regular file, or is read-only, is refused. After any
// error the file is as it was unless the error says otherwise.
func Update(path string, seen []byte, change func(old []byte) ([]byte, error)) ([]byte, error) {
	var text []byte
	err := locked(path, func(t target) error {
		for start := time.Now(); ; {
			if t.old == nil && time.Since(start) < absence { // an editor may be at work
				time.Sleep(lockPoll)
				var err error
				if t, err = find(path); err != nil {
					return err
				}
				continue
			}
			if t.old == nil {
				if seen != nil {
					return fmt.Errorf("%s was %w: it is gone; nothing was written", path, ErrChanged)
				}
				return &fs.PathError{Op: "open", Path: path, Err: syscall.ENOENT}
			}
			old, err := ReadBytes(path)
			if err != nil {
				return err
			}
			if seen != nil && !bytes.Equal(seen, old) {
				return fmt.Errorf("%s was %w; nothing was written", path, ErrChanged)
			}
			if text, err = change(bytes.Clone(old)); err != nil || bytes.Equal(text, old) {
				return err
			}
			if len(text) > grammar.MaxBytes {
				return fmt.Errorf("%s would become larger than %d MiB; nothing was written", path, grammar.MaxBytes>>20)
			}
			err = t.put(text, t.successor(old))
			if !errors.Is(err, errOvertaken) || time.Since(start) > lockWait {
				return err
			}
			if t, err = find(path); err != nil {
				return err
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return text, nil
}

// absence is how long an editor may take from moving a file out of its way to
// writing another in its place.
const absence = 100 * time.Millisecond

// WriteFile puts data in the file at path, whatever was there, in the way of
// Update. A new file gets the permissions that the umask leaves.
func WriteFile(path string, data []byte) error {
	return locked(path, func(t target) error { return t.put(data, rename) })
}

// CreateFile puts data in a new file at path, in the way of Update. The error is
// that the path is taken, by whatever it is, or that of writing.
func CreateFile(path string, data []byte) error {
	if err := Free(path); err != nil {
		return err
	}
	return locked(path, func(t target) error { return t.put(data, create) })
}

// Free returns an error when a file cannot be created at path because there is
// one, or no folder for it.
func Free(path string) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return fmt.Errorf("%s is not a regular file", path)
	}
	if _, err := os.Lstat(path); err == nil {
		return &TakenError{path}
	}
	return inFolder(path)
}

// A TakenError says that a file cannot be created because its name is taken.
type TakenError struct{ Path string }

func (e *TakenError) Error() string { return e.Path + " is there already: name another file" }

func inFolder(path string) error {
	if path == "" {
		return errors.New("a file needs a name")
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return fmt.Errorf("%s: there is no folder %s", path, filepath.Dir(path))
	}
	return nil
}

// A target is a file that may be written, while its lock is held.
type target struct {
	path string      // as the user named it
	name string      // what a link at path leads to
	old  fs.FileInfo // nil when there is no file
}

// locked does work on the file at path while no other writer can.
func locked(path string, work func(target) error) error {
	t, err := find(path)
	if err != nil {
		return err
	}
	l, err := hold(t)
	if err != nil {
		return err
	}
	defer l.release()
	// Whoever held the lock before may have replaced the file.
	if t, err = find(path); err != nil {
		return err
	}
	return work(t)
}

// find returns the target at path, or why it cannot be one.
func find(path string) (target, error) {
	if err := inFolder(path); err != nil {
		return target{}, err
	}
	name, err := filepath.EvalSymlinks(path)
	if errors.Is(err, fs.ErrNotExist) {
		info, gone := os.Lstat(path)
		if gone != nil {
			return target{path: path, name: path}, nil
		}
		if info.Mode()&fs.ModeSymlink != 0 {
			return target{}, fmt.Errorf("%s is a link that leads nowhere", path)
		}
		// Another writer made the file between the two looks.
		name, err = filepath.EvalSymlinks(path)
	}
	if err != nil {
		if _, why := os.Stat(path); why != nil {
			err = why // in the words of the system
		}
		return target{}, fmt.Errorf("%s: %w", path, Cause(err))
	}
	info, err := os.Stat(name)
	if err != nil {
		return target{}, fmt.Errorf("%s: %w", path, Cause(err))
	}
	if !info.Mode().IsRegular() {
		return target{}, fmt.Errorf("%s is not a regular file", path)
	}
	// A rename would replace a file that its owner made read-only.
	f, err := os.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return target{}, fmt.Errorf("%s cannot be written: %w", path, Cause(err))
	}
	return target{path: path, name: name, old: info}, f.Close()
}

// put writes data beside the target and moves it there.
func (t target) put(data []byte, move func(temporary, name string) error) error {
	err := t.replace(data, move)
	var taken *TakenError
	var displaced displacedError
	switch {
	case errors.As(err, &taken):
		return err
	case errors.As(err, &displaced):
		return fmt.Errorf("%s is written, and what another program saved meanwhile is in %s: %w", t.path, displaced.before, Cause(err))
	case err != nil && t.old != nil:
		return fmt.Errorf("%s: %w; the file is as it was", t.path, Cause(err))
	case err != nil:
		return fmt.Errorf("%s: %w; nothing was written", t.path, Cause(err))
	}
	if err := syncFolder(filepath.Dir(t.name)); err != nil {
		return fmt.Errorf("%s is written, but a power failure may still undo that: %w", t.path, Cause(err))
	}
	return nil
}

// replace puts data on the disk in a temporary file and moves that to the target.
func (t target) replace(data []byte, move func(temporary, name string) error) error {
	temporary := beside(t.name, temporarySuffix)
	mode := fs.FileMode(0o666)
	if t.old != nil {
		mode = 0o600 // until it is that of the old file
	}
	f, err := os.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	defer os.Remove(temporary) // unless it was moved
	if t.old != nil {
		err = like(f, t.old)
	}
	if err == nil {
		_, err = f.Write(data)
	}
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	return move(temporary, t.name)
}

// like gives f the owner, where that is possible, and the permissions of another
// file.
func like(f *os.File, old fs.FileInfo) error {
	keepOwner(f, old)
	info, err := f.Stat()
	if err != nil || info.Mode().Perm() == old.Mode().Perm() {
		return err
	}
	return f.Chmod(old.Mode().Perm())
}

// rename moves a file to where another may be. On Windows, where one that is
// being read cannot be replaced, it tries for a while.
func rename(from, to string) error {
	err := os.Rename(from, to)
	for tries := 0; err != nil && runtime.GOOS == "windows" && tries < 20; tries++ {
		time.Sleep(50 * time.Millisecond)
		err = os.Rename(from, to)
	}
	return err
}

// create moves a file to where none is.
func create(from, to string) error {
	// A link, other than a renamed file, does not replace what is there.
	if err := os.Link(from, to); err == nil {
		os.Remove(from)
		return nil
	}
	if err := Free(to); err != nil {
		return err
	}
	return rename(from, to) // where there are no hard links
}

// Cause returns an error without the name of a file that the user does not know.
func Cause(err error) error {
	var at *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &at):
		return at.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
