package report

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/scene"
)

// A scene of spot readings begins at zone I, four stops below the metered tone,
// whatever sets the index.
func TestRollPlacement(t *testing.T) {
	f := demoFamily(t)
	ranged, metered := scene.Frame{Name: "Lamp room", Stops: 7}, scene.Frame{Name: "Gallery", Stops: 7, Metering: spots()}
	for _, c := range []struct {
		shadow float64
		frames []scene.Frame
		says   string
	}{
		{3.34, []scene.Frame{ranged}, "an even tone 3.34 stops below the metered one, without flare, on the speed point; the darkest tone with detail is that far below. !"},
		{3.34, []scene.Frame{ranged, metered}, "the darkest tone with detail is that far below. In a scene of spot readings it is 4 stops below."},
		{3.34, []scene.Frame{metered}, "3.34 stops below the metered one, without flare, on the speed point; the darkest tone with detail is 4 stops below."},
		{4, []scene.Frame{ranged, metered}, "the darkest tone with detail is that far below. !"},
	} {
		r, err := scene.ForRoll(f, scene.Scene{ShadowStops: c.shadow}, c.frames)
		require.NoError(t, err)
		assert.Contains(t, oneLine(text(t, NewRoll(r, DefaultConfidence))), c.says)
	}
}
