package console

import (
	"fmt"
	"io"

	"sensito/sensito/printable"
)

// Streams are what a command reads from and writes to.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer
	Terminal io.Writer  // what Err writes to, for what moves on a screen
	copied   *inputCopy // what was read from In; nil to keep nothing
	work     *work      // what outlasts the command
	trace    *trace     // which files were read; nil to keep nothing

	open func(path string) (io.ReadCloser, error) // by which files are read; nil for those of the disk
}

// New returns streams that lead to these.
func New(in io.Reader, out, errOut io.Writer) Streams {
	messages := &outStream{w: errOut, name: standardError}
	return Streams{In: inStream{in}, Out: &outStream{w: out, name: standardOutput}, Err: messages, Terminal: messages,
		copied: &inputCopy{}, work: &work{}, trace: &trace{}}
}

// Within returns streams that read files by open alone, as those of one folder, and
// nothing from standard input.
func (s Streams) Within(open func(path string) (io.ReadCloser, error)) Streams {
	s.open = open
	return s
}

// Confined says whether files are read by an opener of Within, so that a name says
// nothing of the disk.
func (s Streams) Confined() bool { return s.open != nil }

// stdin returns standard input for a file that is named -, what is read from it
// being kept for the case of a crash.
func (s Streams) stdin() io.Reader {
	if s.copied == nil {
		return s.In
	}
	return io.TeeReader(s.In, s.copied)
}

// Tell writes text for a person to standard output, as messages are written.
func (s Streams) Tell(format string, args ...any) {
	fmt.Fprint(s.Out, printable.Lines(fmt.Sprintf(format, args...)))
}
