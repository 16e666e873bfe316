package console

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
)

// work is what a command has done that outlasts it.
type work struct {
	saving  sync.Mutex                   // held while a file is written, which an interruption waits for
	heeds   atomic.Bool                  // the command watches its context, and ends by itself when that is cancelled
	stopped atomic.Pointer[Interruption] // by which nothing more is written
	ending  sync.Once                    // it is said once how the command ended

	mu    sync.Mutex
	files []string // that were written
}

// heed says that the command ends by itself when its context is cancelled, until
// the function returned is called.
func (w *work) heed() (end func()) {
	w.heeds.Store(true)
	return func() { w.heeds.Store(false) }
}

// Heed says that the command ends by itself when its context is cancelled, until
// the function returned is called.
func (s Streams) Heed() (end func()) { return s.work.heed() }

// Wrote notes a file that was written otherwise than by Save.
func (s Streams) Wrote(path string) { s.work.wrote(path) }

// wrote notes a file that was written.
func (w *work) wrote(path string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if !slices.Contains(w.files, path) {
		w.files = append(w.files, path)
	}
}

// written returns the files that were written.
func (w *work) written() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.files)
}

// saved returns the names of the files that were written, "" for none.
func (w *work) saved() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	const most = 3
	if n := len(w.files); n > most {
		return fmt.Sprintf("%s and %d more files", strings.Join(w.files[:most], ", "), n-most)
	}
	return strings.Join(w.files, ", ")
}

// Save writes a file. An interruption waits for the end of it, and is the error of
// this and every later save.
func (s Streams) Save(path string, write func() error) error {
	s.work.saving.Lock()
	defer s.work.saving.Unlock()
	if why := s.work.stopped.Load(); why != nil {
		return *why
	}
	if err := write(); err != nil {
		return err
	}
	s.work.wrote(path)
	s.NoteLocks(path)
	if why := s.work.stopped.Load(); why != nil {
		return *why
	}
	return nil
}

// An Interruption is a signal that ends a command.
type Interruption struct{ signal syscall.Signal }

func (Interruption) Error() string { return "interrupted" }
