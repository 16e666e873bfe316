package parts

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/vg"
)

func TestStopTicks(t *testing.T) {
	for _, c := range []struct {
		unit   float64
		lo, hi float64
		want   string
	}{
		{120, -1, 0.7, "-0.9 -0.6 -0.3 0.0 0.3 0.6"},
		{45, -1, 0.7, "  -0.6   0.0   0.6"}, // every other is a line without a label
	} {
		var got []string
		for _, tick := range NewStopTicks(vg.Length(c.unit)).Ticks(c.lo, c.hi) {
			if tick.Label != "" {
				got = append(got, tick.Label)
			}
		}
		assert.Equal(t, c.want, strings.Join(got, " "))
	}
}
