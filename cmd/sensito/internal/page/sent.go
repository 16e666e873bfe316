package page

import (
	"crypto/rand"
	"errors"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync"
)

// sent are files that came to be brought in, until they are: the last few, each under a
// name that nobody guesses.
type sent struct {
	mu     sync.Mutex
	files  []sentFile
	closed bool
}

type sentFile struct{ id, name, path string }

// mostSent is how many are kept.
const mostSent = 8

// keep writes what r has to a temporary file and returns its name in addresses.
func (s *sent) keep(name string, r io.Reader) (string, error) {
	f, err := os.CreateTemp("", "sensito-sent-")
	if err != nil {
		return "", err
	}
	n, err := io.Copy(f, r)
	if err = errors.Join(err, f.Close()); err == nil && n == 0 {
		err = &badRequestError{"Nothing was sent: choose a file, or paste a table."}
	}
	if err != nil {
		return "", errors.Join(err, os.Remove(f.Name()))
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return "", errors.Join(errors.New("sensito is ending: nothing was brought in"), os.Remove(f.Name()))
	}
	id := "sent-" + strings.ToLower(rand.Text())
	s.files = append(s.files, sentFile{id, name, f.Name()})
	for len(s.files) > mostSent {
		os.Remove(s.files[0].path)
		s.files = s.files[1:]
	}
	return id, nil
}

func (s *sent) find(id string) (sentFile, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := slices.IndexFunc(s.files, func(f sentFile) bool { return f.id == id })
	if i < 0 {
		return sentFile{}, false
	}
	return s.files[i], true
}

// drop removes a file that was brought in.
func (s *sent) drop(id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.files = slices.DeleteFunc(s.files, func(f sentFile) bool {
		if f.id == id {
			os.Remove(f.path)
		}
		return f.id == id
	})
}

// close removes all of them. The error is that of removing one that is there.
func (s *sent) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var faults []error
	for _, f := range s.files {
		if err := os.Remove(f.path); !errors.Is(err, fs.ErrNotExist) {
			faults = append(faults, err)
		}
	}
	s.files, s.closed = nil, true
	return errors.Join(faults...)
}
