package main

import (
	"errors"
	"io/fs"
)

// A cutOffError says that a command had to end before all was read or done.
type cutOffError struct{ error }

func (c cutOffError) Unwrap() error { return c.error }

// cutOff makes an error one of a command that broke off.
func cutOff(err error) error { return cutOffError{err} }

// A hinted error comes with what can be done.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

// withHint adds to an error what can be done.
func withHint(err error, hint string) error { return hinted{err, hint} }

// A streamError says that a standard stream failed.
type streamError struct {
	stream string
	cause  error
}

// Error names the stream of a failed output. Whoever reads input names it.
func (e *streamError) Error() string {
	if e.stream == standardInput {
		return e.cause.Error()
	}
	return e.stream + ": " + e.cause.Error()
}

func (e *streamError) Unwrap() error { return e.cause }

// newStreamError leaves out the name that the system has for the stream.
func newStreamError(stream string, err error) *streamError {
	if at := (*fs.PathError)(nil); errors.As(err, &at) {
		err = at.Err
	}
	return &streamError{stream, err}
}
