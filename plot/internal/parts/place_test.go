package parts

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/vg"
)

// A callout stands beside its point where that is free, further away where it is
// not, and nowhere on a canvas that is full.
func TestCallout(t *testing.T) {
	page := Page(200, 100)
	k := Callout{Note: Note{"speed point", "EI 80"}, At: vg.Point{X: 100, Y: 50}}
	free, ok := k.Place(page, []vg.Point{k.At})
	assert.True(t, ok)
	assert.InDelta(t, float64(k.Size().X), float64(free.Size().X), 1e-9)
	assert.Zero(t, Within(free, []vg.Point{k.At}, 2))

	line := Between([]vg.Point{{X: 0, Y: 50}, {X: 200, Y: 50}})
	beside, ok := k.Place(page, line)
	assert.True(t, ok)
	assert.Zero(t, Within(beside, line, 2))
	less, ok := k.Place(page, append(line, Filled(vg.Rectangle{Min: vg.Point{X: 40, Y: 0}, Max: vg.Point{X: 160, Y: 100}})...))
	assert.False(t, ok, "%v", less)
}
