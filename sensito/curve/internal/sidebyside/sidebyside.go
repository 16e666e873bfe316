// Package sidebyside does work on all cores that are free.
//
// Begin with Do.
package sidebyside

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
)

// working counts the goroutines that Do has at work, for all its callers, who
// may themselves be side by side: more than there are cores would be of no use.
var working atomic.Int64

// Do does work on 0 to n-1, each once, on as many cores as nobody else has at
// work. It passes on a panic of work, with where that began.
func Do(n int, work func(i int)) {
	if n == 1 { // which takes no help
		working.Add(1)
		defer working.Add(-1)
		work(0)
		return
	}
	var next atomic.Int64
	rest := func() {
		for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
			work(int(i))
		}
	}
	var helpers sync.WaitGroup
	var crash atomic.Value
	working.Add(1)
	defer working.Add(-1)
	for range n - 1 {
		if working.Add(1) > int64(runtime.GOMAXPROCS(0)) {
			working.Add(-1)
			break
		}
		helpers.Go(func() {
			defer working.Add(-1)
			defer func() {
				if v := recover(); v != nil {
					crash.Store(fmt.Sprintf("%v\n%s", v, debug.Stack()))
				}
			}()
			rest()
		})
	}
	func() {
		defer helpers.Wait() // after a panic too
		rest()
	}()
	if c := crash.Load(); c != nil {
		panic(c)
	}
}
