package tape

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
)

func TestTape(t *testing.T) {
	var tape Tape
	calls := 0
	read := func(what int, at sensito.LogExposure) float64 {
		return tape.Read(what, at, func() (v, slope float64) {
			calls++
			return 10*float64(what) + float64(at), []float64{3, math.NaN()}[what]
		})
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
	tape.Replay()
	assert.InDelta(t, 5+3*0.002, read(0, 1.002), 1e-12, "a place that moved a little")
	assert.False(t, tape.Elsewhere)
	tape.Still = true
	tape.Replay()
	read(0, 1.002)
	assert.True(t, tape.Elsewhere, "though no place may move")
	tape.Still, tape.Elsewhere = false, false
	tape.Replay()
	read(0, 1)
	read(1, 2.002)
	assert.True(t, tape.Elsewhere, "where no slope is known")
	calls, tape.Elsewhere = 0, false
	tape.Replay()
	read(0, 7)
	assert.True(t, tape.Elsewhere, "what was not kept is seen")
	assert.Equal(t, 1, calls)
}
