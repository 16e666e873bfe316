package console

import (
	"errors"
	"io/fs"
)

// A CutOffError says that a command had to end before all was read or done.
type CutOffError struct{ error }

func (c CutOffError) Unwrap() error { return c.error }

// CutOff makes an error one of a command that broke off.
func CutOff(err error) error { return CutOffError{err} }

// A hinted error comes with what can be done.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

// WithHint adds to an error what can be done.
func WithHint(err error, hint string) error { return hinted{err, hint} }

// A StreamError says that a standard stream failed.
type StreamError struct {
	stream string
	cause  error
}

// Error names the stream of a failed output. Whoever reads input names it.
func (e *StreamError) Error() string {
	if e.stream == StandardInput {
		return e.cause.Error()
	}
	return e.stream + ": " + e.cause.Error()
}

func (e *StreamError) Unwrap() error { return e.cause }

// newStreamError leaves out the name that the system has for the stream.
func newStreamError(stream string, err error) *StreamError {
	if at := (*fs.PathError)(nil); errors.As(err, &at) {
		err = at.Err
	}
	return &StreamError{stream, err}
}
