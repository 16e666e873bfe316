package store

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// mostNames is how many names are tried for a file that is received.
const mostNames = 1000

// Receive puts what r has in a new file of the folder dir, bit by bit, and returns the name that it has there. No file
// is replaced: where the name is taken by a file of the same content, that one is it, else a number goes before the
// ending. Check sees the whole before it has a name; its error is returned as it is, and nothing stays then. Other errors
// are those of r, and of writing.
func Receive(dir, name string, r io.Reader, check func(r io.ReaderAt, size int64) error) (string, error) {
	if name == "" || strings.HasPrefix(name, ".") || strings.ContainsAny(name, `/\`+"\x00") {
		return "", fmt.Errorf("%q is no name for a file", name)
	}
	kept := ""
	// Under a name that nobody has, so that nobody waits while it comes; what a killed receiver leaves is swept.
	err := locked(filepath.Join(dir, "received-"+rand.Text()), func(t target) (err error) {
		kept, err = t.receive(name, r, check)
		return err
	})
	return kept, err
}

func (t target) receive(name string, r io.Reader, check func(r io.ReaderAt, size int64) error) (string, error) {
	temporary := beside(t.name, temporarySuffix)
	f, err := os.OpenFile(temporary, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return "", fmt.Errorf("%s: %w; nothing was kept", name, Cause(err))
	}
	defer os.Remove(temporary) // unless it was moved
	sum := sha256.New()
	size, err := io.Copy(io.MultiWriter(f, sum), r)
	if err == nil {
		err = check(f, size)
	}
	if err != nil {
		f.Close()
		return "", err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return "", fmt.Errorf("%s: %w; nothing was kept", name, Cause(err))
	}
	dir, ending := filepath.Dir(t.name), filepath.Ext(name)
	for n := 1; n <= mostNames; n++ {
		as := name
		if n > 1 {
			as = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ending), n, ending)
		}
		path := filepath.Join(dir, as)
		if isCopy(path, size, sum.Sum(nil)) {
			return as, nil
		}
		if _, err := os.Lstat(path); err == nil {
			continue
		}
		err := create(temporary, path)
		if taken := (*TakenError)(nil); errors.As(err, &taken) || errors.Is(err, os.ErrExist) {
			continue
		}
		if err == nil {
			err = syncFolder(dir)
		}
		if err != nil {
			return "", fmt.Errorf("%s: %w", as, Cause(err))
		}
		return as, nil
	}
	return "", &TakenError{name}
}

// isCopy says whether the file at path has this size and this sum.
func isCopy(path string, size int64, sum []byte) bool {
	info, err := os.Lstat(path)
	if err != nil || !info.Mode().IsRegular() || info.Size() != size {
		return false
	}
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	is := sha256.New()
	_, err = io.Copy(is, f)
	return err == nil && bytes.Equal(is.Sum(nil), sum)
}
