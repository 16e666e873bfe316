package cputime

import (
	"syscall"
	"testing"
	"time"
)

// Used returns the time of the processor that the program has taken.
func Used(tb testing.TB) time.Duration {
	self, err := syscall.GetCurrentProcess()
	if err != nil {
		tb.Fatal(err)
	}
	var created, ended, kernel, user syscall.Filetime
	if err := syscall.GetProcessTimes(self, &created, &ended, &kernel, &user); err != nil {
		tb.Fatal(err)
	}
	ticks := func(t syscall.Filetime) int64 { return int64(t.HighDateTime)<<32 + int64(t.LowDateTime) }
	return time.Duration(100 * (ticks(kernel) + ticks(user)))
}
