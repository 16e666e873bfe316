package console

import (
	"bytes"
	"errors"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Results come in the order of the items, errors with them, and only a few are
// ahead of what has been taken.
func TestInOrder(t *testing.T) {
	var items []string
	for i := range 500 {
		items = append(items, strconv.Itoa(i))
	}
	var started, taken, ahead atomic.Int64
	work := func(item string) (int, error) {
		if d := started.Add(1) - taken.Load(); d > ahead.Load() {
			ahead.Store(d)
		}
		n, err := strconv.Atoi(item)
		require.NoError(t, err)
		if n%7 == 0 {
			time.Sleep(time.Millisecond) // the slow ones hold the others up, no more
		}
		if n == 100 {
			return 0, errors.New("one hundred")
		}
		return n, nil
	}
	next := 0
	require.NoError(t, InOrder(items, work, func(i, n int, err error) error {
		assert.Equal(t, next, i)
		if i == 100 {
			assert.EqualError(t, err, "one hundred")
		} else {
			assert.Equal(t, i, n)
		}
		next++
		taken.Add(1)
		return nil
	}))
	assert.Equal(t, len(items), next)
	assert.Less(t, ahead.Load(), int64(40), "results at once")

	stop := errors.New("full disk")
	assert.ErrorIs(t, InOrder(items, work, func(i, n int, err error) error {
		if i == 3 {
			return stop
		}
		return nil
	}), stop)
}

// Progress is for terminals only.
func TestProgressIsQuiet(t *testing.T) {
	var out bytes.Buffer
	p := NewProgress(&out, 1000)
	p.Step(1)
	p.End()
	assert.Empty(t, out.String())
	p.next = time.Now()
	p.Step(7)
	p.End()
	assert.Equal(t, "\rsensito: 7 of 1000 trials\r\x1b[K", out.String())
}
