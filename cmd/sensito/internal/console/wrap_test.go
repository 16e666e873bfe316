package console

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWrapped(t *testing.T) {
	assert.Equal(t, "a line of words that\nis wider than it is\nhigh\n", Wrapped("a line of words that is wider than it is high\n", 20))
	assert.Equal(t, "one of exactly twent\n", Wrapped("one of exactly twent\n", 20))
	assert.Equal(t, "°°°°°°°°°°°°°°°°°°°°\n", Wrapped("°°°°°°°°°°°°°°°°°°°°\n", 20))
	assert.Equal(t, "  a-word-that-is-too-wide\nhere: ", Wrapped("  a-word-that-is-too-wide here: ", 20))
	assert.Equal(t, "narrow, or no terminal at all", Wrapped("narrow, or no terminal at all", 0))
}
