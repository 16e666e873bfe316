package tape

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
)

func TestTape(t *testing.T) {
	var tape Tape
	calls := 0
	read := func(what int, at sensito.LogExposure) float64 {
		return tape.Read(what, at, func() float64 { calls++; return 10*float64(what) + float64(at) })
	}
	sum := func() float64 { return read(0, 1) + read(1, 2) + read(0, 1) }
	assert.Equal(t, 14.0, sum())
	assert.Equal(t, 2, calls, "a place is read once")
	assert.Equal(t, []Place{{0, 1}, {1, 2}}, tape.Places)

	tape.Values[0] = 5
	tape.Replay()
	assert.Equal(t, 22.0, sum(), "made again from other values")
	assert.Equal(t, 2, calls)
	assert.False(t, tape.Elsewhere)
	read(0, 7)
	assert.True(t, tape.Elsewhere, "what was not kept is seen")
	assert.Equal(t, 3, calls)
}
