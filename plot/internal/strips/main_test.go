package strips

import (
	"runtime/debug"
	"testing"
)

// TestMain collects garbage only when 256 MB are full: the tests make much of it and keep
// little, and otherwise spend a fifth of their time on it.
func TestMain(m *testing.M) {
	debug.SetGCPercent(-1)
	debug.SetMemoryLimit(256 << 20)
	m.Run()
}
