package console

import (
	"io"
	"os"
	"sync"

	"github.com/charmbracelet/x/term"
)

// StandardInput and the others name the streams in messages.
const (
	StandardInput  = "standard input"
	standardOutput = "standard output"
	standardError  = "standard error"
)

// An outStream is standard output or standard error. It remembers the first
// failure, since not everybody who writes looks, and takes nothing after it.
type outStream struct {
	w    io.Writer
	name string

	mu     sync.Mutex
	failed error // a *StreamError
}

// Write writes p, or returns the first failure, a *StreamError, once there was one.
func (o *outStream) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.failed != nil {
		return 0, o.failed
	}
	n, err := o.w.Write(p)
	if err != nil {
		o.failed = newStreamError(o.name, err)
	}
	return n, o.failed
}

// failure returns the first error of writing, nil for none.
func (o *outStream) failure() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.failed
}

// close closes the stream where that can be done, since some file systems tell
// only then that there is no room.
func (o *outStream) close() {
	c, ok := o.w.(io.Closer)
	if !ok {
		return
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if err := c.Close(); err != nil && o.failed == nil {
		o.failed = newStreamError(o.name, err)
	}
}

func (o *outStream) underlying() any { return o.w }

// An inStream is standard input; its errors say so.
type inStream struct{ r io.Reader }

func (i inStream) Read(p []byte) (int, error) {
	n, err := i.r.Read(p)
	if err != nil && err != io.EOF {
		err = newStreamError(StandardInput, err)
	}
	return n, err
}

func (i inStream) underlying() any { return i.r }

// underlying returns what a stream was made of.
func underlying(stream any) any {
	if s, ok := stream.(interface{ underlying() any }); ok {
		return s.underlying()
	}
	return stream
}

// IsTerminal says whether a stream is one that a person sits at.
func IsTerminal(stream any) bool {
	f, ok := underlying(stream).(*os.File)
	return ok && term.IsTerminal(f.Fd())
}

// Emphasised says whether text on a stream may be emphasised: a person sits at it who
// has not asked for none.
func Emphasised(stream any) bool {
	return IsTerminal(stream) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}

// Columns returns how wide the terminal is that a stream leads to; 0 where it is
// none, or one that text may not be fitted to.
func Columns(stream any) int {
	f, ok := underlying(stream).(*os.File)
	if !ok || !Emphasised(stream) {
		return 0
	}
	width, _, err := term.GetSize(f.Fd())
	if err != nil {
		return 0
	}
	return width
}

// IsFile says whether a stream is a file on the disk.
func IsFile(stream any) bool {
	f, ok := underlying(stream).(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode().IsRegular()
}
