package console

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is kept of a long input ends at a limit.
func TestInputCopyIsLimited(t *testing.T) {
	c := &inputCopy{}
	part := make([]byte, maxKeptFile/2+1)
	for range 3 {
		n, err := c.Write(part)
		require.NoError(t, err)
		assert.Equal(t, len(part), n)
	}
	assert.Equal(t, maxKeptFile, c.Len())
}
