package sidebyside

import (
	"runtime"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Each place is worked on once, whoever else is at work, and a panic comes back with
// where it began.
func TestDo(t *testing.T) {
	before := working.Load()
	for _, n := range []int{0, 1, 2, 50} {
		did := make([]atomic.Int64, n)
		Do(n, func(i int) {
			did[i].Add(1)
			Do(3, func(int) { runtime.Gosched() })
		})
		for i := range did {
			assert.EqualValues(t, 1, did[i].Load(), "%d of %d", i, n)
		}
	}
	assert.Panics(t, func() {
		Do(20, func(i int) {
			if i >= 5 {
				panic("beyond five")
			}
		})
	})
	assert.Equal(t, before, working.Load(), "all have ended")
}
