package console

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"

	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A trace is what a run has read, none of which it replaces.
type trace struct {
	mu     sync.Mutex
	read   []string     // names of files
	piped  []*inputCopy // what came through pipes that have names
	warned bool         // that there are no locks
}

// OpenInput opens a file to be read, as store.Open does, and remembers it. One
// that standard output goes to is refused. Streams of Within open it their way.
func (s Streams) OpenInput(path string) (io.ReadCloser, error) {
	if s.Confined() {
		return s.open(path)
	}
	info, err := os.Stat(path)
	if err != nil {
		return store.Open(path) // which says why
	}
	if leadsTo(s.Out, info) {
		return nil, Usagef("%s is read, and is where the result goes too; name another file for that", path)
	}
	f, err := store.OpenStat(path, info)
	if err != nil || s.trace == nil {
		return f, err
	}
	s.trace.mu.Lock()
	defer s.trace.mu.Unlock()
	s.trace.read = append(s.trace.read, path)
	if info.Mode().IsRegular() {
		return f, nil
	}
	c := &inputCopy{}
	s.trace.piped = append(s.trace.piped, c)
	return struct {
		io.Reader
		io.Closer
	}{io.TeeReader(f, c), f}, nil
}

// ReadInput reads a file, or standard input for "-", which streams of Within have
// not.
func ReadInput[T any](s Streams, path string, read func(name string, r io.Reader) (T, error)) (T, error) {
	var none T
	if path == "-" {
		if s.Confined() {
			return none, Usagef("- is standard input, which cannot be read here: name a file")
		}
		if f, ok := underlying(s.In).(*os.File); ok {
			if info, err := f.Stat(); err == nil && leadsTo(s.Out, info) {
				return none, Usagef("standard input is where the result goes too; name another file for that")
			}
		}
		return read(StandardInput, s.stdin())
	}
	f, err := s.OpenInput(path)
	if err != nil {
		return none, err
	}
	defer f.Close()
	return read(path, f)
}

// WriteOutput writes a file that the user asked for. One that is there is
// replaced only with force, and what the run reads or wrote before is not
// replaced at all, by whatever name, link or stream it came.
func (s Streams) WriteOutput(path string, data []byte, force bool) error {
	if err := s.Free(path, force); err != nil {
		return err
	}
	write := store.CreateFile
	if force {
		write = store.WriteFile
	}
	return forcible(s.Save(path, func() error { return write(path, data) }))
}

// ReplaceOutput writes a file anew that this run wrote by WriteOutput, such as a drawing of what
// was proposed by one of what was read.
func (s Streams) ReplaceOutput(path string, data []byte) error {
	return s.Save(path, func() error { return store.WriteFile(path, data) })
}

// NoteLocks tells once of a file that is written where there are no locks.
func (s Streams) NoteLocks(path string) {
	if s.trace == nil {
		return
	}
	s.trace.mu.Lock()
	defer s.trace.mu.Unlock()
	if !s.trace.warned && store.Unlocked(path) {
		s.trace.warned = true
		fmt.Fprintf(s.Err, "sensito: note: the disk of %s has no locks: do not write the same file from two computers at once\n", path)
	}
}

// Free returns why WriteOutput would refuse to write a file.
func (s Streams) Free(path string, force bool) error {
	link, err := os.Lstat(path)
	if err != nil || !force {
		return forcible(store.Free(path))
	}
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() {
		return nil // and the error is that of writing
	}
	if what := s.role(path, info); what != "" {
		return Usagef("%s is %s, and is never replaced; name another file", path, what)
	}
	if link.Mode()&os.ModeSymlink != 0 {
		if data, err := store.ReadBytes(path); err == nil && notebook.KindOf(data) != notebook.UnknownKind {
			to, _ := filepath.EvalSymlinks(path)
			return fmt.Errorf("%s is a link to %s, %s; name that file to have it replaced", path, to, notebook.KindOf(data))
		}
	}
	return nil
}

// role says what a file is to this run, "" for nothing.
func (s Streams) role(path string, info os.FileInfo) string {
	switch {
	case leadsTo(s.In, info), s.copied != nil && sameContent(path, s.copied):
		return StandardInput
	case leadsTo(s.Out, info):
		return "where the result goes"
	case leadsTo(s.Terminal, info):
		return "where remarks go"
	case s.trace == nil:
		return ""
	}
	s.trace.mu.Lock()
	defer s.trace.mu.Unlock()
	for _, c := range s.trace.piped {
		if sameContent(path, c) {
			return "what was read through a pipe"
		}
	}
	for _, names := range []struct {
		list []string
		what string
	}{{s.trace.read, "read"}, {s.work.written(), "written"}} {
		for _, name := range names.list {
			if other, err := os.Stat(name); err == nil && os.SameFile(info, other) {
				if filepath.Clean(name) == filepath.Clean(path) {
					return names.what + " by this very command"
				}
				return fmt.Sprintf("%s, %s by this very command", name, names.what)
			}
		}
	}
	return ""
}

// leadsTo says whether a stream is a regular file, the one that is described.
func leadsTo(stream any, info os.FileInfo) bool {
	f, ok := underlying(stream).(*os.File)
	if !ok || !info.Mode().IsRegular() {
		return false
	}
	other, err := f.Stat()
	return err == nil && os.SameFile(info, other)
}

// sameContent says whether a file holds what was read from a stream, which then
// is that file.
func sameContent(path string, c *inputCopy) bool {
	if c.Len() == 0 {
		return false
	}
	data, err := store.ReadBytes(path)
	return err == nil && bytes.Equal(data, c.Bytes())
}

// forcible adds to an error of a name that is taken how to write there.
func forcible(err error) error {
	if taken := (*store.TakenError)(nil); errors.As(err, &taken) {
		return WithHint(err, "--force replaces it")
	}
	return err
}
