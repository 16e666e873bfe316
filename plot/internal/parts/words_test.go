package parts

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSpeed(t *testing.T) {
	for speed, want := range map[float64]string{400: "400", 10: "10", 9.96: "10.0", 6.02: "6.0", 0.343: "0.34", 0.0456: "0.046", 0: "0"} {
		assert.Equal(t, want, Speed(speed))
	}
}
