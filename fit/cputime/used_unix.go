//go:build unix

package cputime

import (
	"syscall"
	"testing"
	"time"
)

// Used returns the time of the processor that the program has taken.
func Used(tb testing.TB) time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}
