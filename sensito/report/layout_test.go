package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A table goes as wide as the screen and is broken there, each part behind the first
// column; sentences are set 80 columns wide at most, and only a screen has emphasis.
func TestWideTable(t *testing.T) {
	set := func(l Layout) string {
		var out strings.Builder
		w := newWriter(&out, l)
		w.answer("Develop %s.", strings.Repeat("a ", 45)+"end")
		w.table([][]string{{"stops", strings.Repeat("1", 30), strings.Repeat("2", 30), "3"}, {"net", "4", "5", "6"}})
		return out.String()
	}
	narrow := set(Layout{Width: 60})
	assert.Contains(t, narrow, "net                                 4\n\nstops  2222", "the second part begins with the first column")
	for line := range strings.Lines(narrow) {
		assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 60)
	}
	wide := set(Layout{Width: 120})
	assert.NotContains(t, wide, "\n\n", "one part")
	assert.Equal(t, set(Layout{}), wide, "80 columns suffice")
	assert.Equal(t, set(Layout{Width: 1}), set(Layout{Width: 40}), "a table keeps its sense")

	bold := set(Layout{Bold: true})
	assert.True(t, strings.HasPrefix(bold, "\x1b[1mDevelop "))
	assert.Contains(t, bold, "end.\x1b[0m\n")
	assert.NotContains(t, wide, "\x1b")
}
