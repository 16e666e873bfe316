package grammar

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// No file of so few bytes is crowded, whatever is in it, so that it need not be looked at.
func TestFewBytesAreNotCrowded(t *testing.T) {
	fill := func(with string) []byte { return []byte(strings.Repeat(with, tooFew)[:tooFew]) }
	for _, with := range []string{"=", "a=", "{=", "{", "x={a=1}\n", "[\n", "[[a]]\n", "[[a]]\nb=1\n", "a", "a."} {
		assert.Zero(t, crowded(fill(with)), with)
		assert.Zero(t, Crowded(fill(with)), with)
	}
	assert.NotZero(t, Crowded([]byte("x"+strings.Repeat("=", 2*tooFew))))
}
