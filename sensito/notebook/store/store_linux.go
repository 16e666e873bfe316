package store

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// exchange gives each of two files the name of the other, at once. Where the
// file system has no such thing the error is an errors.ErrUnsupported.
func exchange(a, b string) error {
	err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
	if err == nil {
		return nil
	}
	if errors.Is(err, unix.EINVAL) {
		err = errors.ErrUnsupported
	}
	return &os.LinkError{Op: "exchange", Old: a, New: b, Err: err}
}
