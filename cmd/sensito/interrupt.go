package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"

	"github.com/spf13/cobra"
)

// work is what a command has done that outlasts it.
type work struct {
	saving  sync.Mutex                   // held while a file is written, which an interruption waits for
	heeds   atomic.Bool                  // the command watches its context, and ends by itself when that is cancelled
	stopped atomic.Pointer[interruption] // by which nothing more is written
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

// save writes a file. An interruption waits for the end of it, and is the error of
// this and every later save.
func (s streams) save(path string, write func() error) error {
	s.work.saving.Lock()
	defer s.work.saving.Unlock()
	if why := s.work.stopped.Load(); why != nil {
		return *why
	}
	if err := write(); err != nil {
		return err
	}
	s.work.wrote(path)
	s.noteLocks(path)
	if why := s.work.stopped.Load(); why != nil {
		return *why
	}
	return nil
}

// An interruption is a signal that ends a command.
type interruption struct{ signal syscall.Signal }

func (interruption) Error() string { return "interrupted" }

// interruptions are the signals that end a command in good order.
var interruptions = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}

// attended is execute for a process: a signal ends the command once what it is
// writing is written, a second one at once.
func attended(newRoot func(streams) *cobra.Command, args []string, in, out, errOut *os.File) int {
	signals := make(chan os.Signal, len(interruptions))
	for _, sig := range interruptions {
		if !signal.Ignored(sig) { // by nohup, or in the background of a script
			signal.Notify(signals, sig)
		}
	}
	// That nobody reads the output is then an error of writing like others.
	signal.Ignore(syscall.SIGPIPE)

	s := newStreams(in, out, errOut)
	ctx, cancel := context.WithCancelCause(context.Background())
	defer cancel(nil)
	ended := make(chan int, 1)
	go func() { ended <- s.execute(ctx, newRoot, args) }()
	var why interruption
	select {
	case code := <-ended:
		return code
	case sig := <-signals:
		why.signal = sig.(syscall.Signal)
	}
	cancel(why)
	if !s.work.heeds.Load() {
		s.work.stopped.Store(&why)
		go func() {
			s.work.saving.Lock()
			ended <- s.end(why)
		}()
	}
	select {
	case code := <-ended:
		return code
	case <-signals:
		return exitSignal + int(why.signal)
	}
}
