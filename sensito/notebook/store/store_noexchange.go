//go:build !linux

package store

import "errors"

// exchange is not to be had here.
func exchange(a, b string) error { return errors.ErrUnsupported }
