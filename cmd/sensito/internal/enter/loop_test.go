package enter

import (
	"context"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/instrument"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
)

// fourSteps is a trial of which every step is read.
const fourSteps = `[film]
name = "Tern 400"
[exposure]
kind = "contact"
illuminance_lx = 2
seconds = 1
wedge = [1.0, 1.3, 1.6, 1.9]
[[strip]]
minutes = 8
density = [1.21, 1.10, 0.97, 0.86]
`

// An interruption also ends the lines, in either order; it is never told as an
// input that was cut off.
func TestInterruptedIsNotCutOff(t *testing.T) {
	trial, err := notebook.Read("few.toml", strings.NewReader(fourSteps))
	require.NoError(t, err)
	why := console.Interruption{}
	ctx, cancel := context.WithCancelCause(context.Background())
	cancel(why)
	typed, measured := make(chan typedLine), make(chan instrument.Reading)
	close(typed)
	close(measured)
	for range 50 { // which of two is seen first is a matter of chance
		for _, e := range []*enterer{{talk: &talk{typed: typed}}, {talk: &talk{}, meter: &instrument.Readings{Lines: measured}}} {
			e.Keying, e.file, e.streams = entry.NewKeying(trial, 1), &kept{trial: trial}, console.New(nil, io.Discard, io.Discard)
			assert.Equal(t, why, e.run(ctx))
		}
	}
}
