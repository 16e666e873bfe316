package curve_test

import (
	"runtime/debug"
	"testing"
)

// TestMain collects garbage seldom: the tests make much of it and keep little, and
// otherwise spend a sixth of their time on it.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	m.Run()
}
