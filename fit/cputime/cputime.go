// Package cputime measures benchmarks by the time of the processor, which other work on
// the machine hardly changes: begin with Bench. It is for tests alone.
package cputime

import (
	"testing"
	"time"
)

// Bench runs a benchmark and reports the time of the processor that one run takes, that of
// the collector of garbage included. An error of run ends it.
func Bench(b *testing.B, run func() error) {
	b.Helper()
	begun := Used(b)
	for b.Loop() {
		if err := run(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((Used(b)-begun).Seconds()*1e3/float64(b.N), "cpu-ms/op")
}

// Least returns the least time of the processor that run takes, of so many runs.
func Least(tb testing.TB, runs int, run func() error) time.Duration {
	tb.Helper()
	var least time.Duration
	for k := range runs {
		begun := Used(tb)
		if err := run(); err != nil {
			tb.Fatal(err)
		}
		if took := Used(tb) - begun; k == 0 || took < least {
			least = took
		}
	}
	return least
}
