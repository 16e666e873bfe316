package main

import (
	"fmt"
	"io"

	"sensito/sensito/printable"
)

// Streams are what a command reads from and writes to.
type Streams struct {
	in       io.Reader
	out, err io.Writer
	terminal io.Writer  // what err writes to, for what moves on a screen
	copied   *inputCopy // what was read from in; nil to keep nothing
	work     *work
	trace    *trace // which files were read; nil to keep nothing
}

// newStreams returns streams that lead to these.
func newStreams(in io.Reader, out, errOut io.Writer) Streams {
	messages := &outStream{w: errOut, name: standardError}
	return Streams{in: inStream{in}, out: &outStream{w: out, name: standardOutput}, err: messages, terminal: messages,
		copied: &inputCopy{}, work: &work{}, trace: &trace{}}
}

// stdin returns standard input for a file that is named -, what is read from it
// being kept for the case of a crash.
func (s Streams) stdin() io.Reader {
	if s.copied == nil {
		return s.in
	}
	return io.TeeReader(s.in, s.copied)
}

// tell writes text for a person to standard output, as messages are written.
func (s Streams) tell(format string, args ...any) {
	fmt.Fprint(s.out, printable.Lines(fmt.Sprintf(format, args...)))
}
