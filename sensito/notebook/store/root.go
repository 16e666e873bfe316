package store

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
)

// A Root is the folder of a notebook, out of which no name leads: neither one with
// a separator in it nor a link. It is for names that come from elsewhere, such as
// an address of the local page.
type Root struct {
	dir  string
	root *os.Root
}

// OpenRoot opens a folder. It stays the same one when it is renamed meanwhile, but
// for Path.
func OpenRoot(dir string) (*Root, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, Cause(err))
	}
	return &Root{dir, root}, nil
}

// ErrLeaves says that a link is not followed.
var ErrLeaves = errors.New("is a link that leads out of the notebook, and is not followed")

// Folder opens a folder of the folder. The error is fs.ErrNotExist where there is none,
// ErrLeaves for a link out of the folder, or that it is none.
func (r *Root) Folder(name string) (*Root, error) {
	if err := r.check(name); err != nil {
		return nil, err
	}
	path := filepath.Join(r.dir, name)
	root, err := r.root.OpenRoot(name)
	if err != nil {
		return nil, r.leaving(name, path, err)
	}
	return &Root{path, root}, nil
}

// leaving returns the error of opening a name, which is ErrLeaves where that is a link out
// of the folder; shown is what the name is called in it.
func (r *Root) leaving(name, shown string, err error) error {
	info, no := r.root.Lstat(name)
	if no == nil && info.Mode()&fs.ModeSymlink != 0 && !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, syscall.ELOOP) {
		return fmt.Errorf("%s %w", shown, ErrLeaves)
	}
	return fmt.Errorf("%s: %w", shown, Cause(err))
}

// Close closes the folder.
func (r *Root) Close() error { return r.root.Close() }

// FS returns the folder as a file system, out of which no link leads.
func (r *Root) FS() fs.FS { return r.root.FS() }

// Names returns, sorted, the names of the files in the folder that do not begin
// with a point. A name that leads nowhere, or out of the folder, is among them:
// Open says what is wrong with it.
func (r *Root) Names() ([]string, error) {
	d, err := r.root.Open(".")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.dir, Cause(err))
	}
	defer d.Close()
	found, err := d.Readdirnames(-1)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.dir, Cause(err))
	}
	names := []string{}
	for _, name := range found {
		if strings.HasPrefix(name, ".") {
			continue
		}
		if info, err := r.root.Stat(name); err == nil && !info.Mode().IsRegular() {
			continue
		}
		names = append(names, name)
	}
	slices.Sort(names)
	return names, nil
}

// Open opens a file of the folder to be read. Refused are a name with a separator
// in it, one that begins with a point, a link that leaves the folder, and what is
// no regular file.
func (r *Root) Open(name string) (io.ReadCloser, error) {
	if err := r.check(name); err != nil {
		return nil, err
	}
	f, err := r.root.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0) // a pipe without a writer would wait
	if err != nil {
		return nil, r.leaving(name, name, err)
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s is not a regular file", name)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// Path returns the path of a file of the folder for Update and Undo, which take
// paths; the file is one that Open opens at this moment.
func (r *Root) Path(name string) (string, error) {
	f, err := r.Open(name)
	if err != nil {
		return "", err
	}
	return filepath.Join(r.dir, name), f.Close()
}

// check refuses what is not the plain name of a file that is listed.
func (r *Root) check(name string) error {
	if name == "" || strings.HasPrefix(name, ".") || strings.ContainsAny(name, `/\`+"\x00") {
		return fmt.Errorf("%q is not the name of a file in %s", name, r.dir)
	}
	return nil
}
