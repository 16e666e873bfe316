package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"syscall"
	"time"

	"sensito/sensito/notebook/internal/grammar"
)

// Open opens a file to be read, as every reader of files here does, and clears
// what a killed writer of it left. A folder is refused, and a pipe that nobody
// writes to ends with an error.
func Open(path string) (io.ReadCloser, error) {
	info, err := os.Stat(path)
	if err != nil {
		if at := (*fs.PathError)(nil); errors.As(err, &at) {
			at.Op = "open"
		}
		return nil, err
	}
	return OpenStat(path, info)
}

// FolderError says that a folder stands where a file was wanted.
type FolderError struct{ Path string }

// Error names the folder.
func (e *FolderError) Error() string { return e.Path + " is a folder, not a file" }

// OpenStat is Open of a file that os.Stat has described.
func OpenStat(path string, info fs.FileInfo) (io.ReadCloser, error) {
	switch {
	case info.IsDir():
		return nil, &FolderError{path}
	case info.Mode()&fs.ModeNamedPipe != 0:
		return openPipe(path)
	}
	if !info.Mode().IsRegular() {
		return os.Open(path)
	}
	name := beside(path, lockSuffix)
	if _, err := os.Lstat(name); err == nil {
		if l, _ := tryLock(name); l != nil {
			l.release()
		}
	}
	return openAtOnce(path)
}

// openAtOnce opens a file without waiting, as for a writer of a pipe, who may never come.
// Of a file it spares the system the question whether it can be waited for.
func openAtOnce(path string) (*os.File, error) {
	return os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
}

// pipeWait is how long a pipe may be without a writer before its first byte.
var pipeWait = 2 * time.Second

// A pipe is a named one, or that of a process in the shell's <(...).
type pipe struct {
	*os.File
	began bool
}

func openPipe(path string) (io.ReadCloser, error) {
	f, err := openAtOnce(path)
	if err != nil {
		return nil, err
	}
	return &pipe{File: f}, nil
}

func (p *pipe) Read(b []byte) (int, error) {
	n, err := p.File.Read(b)
	for end := time.Now().Add(pipeWait); !p.began && n == 0 && errors.Is(err, io.EOF); n, err = p.File.Read(b) {
		if time.Now().After(end) {
			return 0, errors.New("nobody writes to this pipe")
		}
		time.Sleep(lockPoll)
	}
	p.began = p.began || n > 0
	return n, err
}

// ReadBytes returns the content of the file at path, such as Update takes for
// what was seen. Errors are those of Open, of reading, and that the file is
// larger than a notebook may be.
func ReadBytes(path string) ([]byte, error) {
	f, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return ReadAll(path, f)
}

// ReadAll returns what is in r, which stands for the file of a name, and
// refuses more than a notebook has.
func ReadAll(name string, r io.Reader) ([]byte, error) {
	const usual = 4096 // more than a strip and all that is said of it
	b := bytes.NewBuffer(make([]byte, 0, usual))
	if _, err := b.ReadFrom(io.LimitReader(r, grammar.MaxBytes+1)); err != nil {
		return nil, fmt.Errorf("%s: %w", name, Cause(err))
	}
	data := b.Bytes()
	if len(data) > grammar.MaxBytes {
		return nil, grammar.Errors{{File: name, Line: 1, Msg: fmt.Sprintf("the file is larger than %d MiB", grammar.MaxBytes>>20)}}
	}
	return data, nil
}
