package page

import (
	"crypto/rand"
	"errors"
	"io"
	"os"
	"slices"
	"strings"
	"sync"
)

// sent are files that came to be brought in, until they are: the last few, each under a
// name that nobody guesses.
type sent struct {
	mu    sync.Mutex
	files []sentFile
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
