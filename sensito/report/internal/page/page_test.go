package page

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A table goes as wide as the screen and is broken there, each part behind the first
// column; sentences are set 80 columns wide at most, and only a screen has emphasis.
func TestWideTable(t *testing.T) {
	set := func(l Layout) string {
		var out strings.Builder
		w := NewWriter(&out, l)
		w.Answer("Develop %s.", strings.Repeat("a ", 45)+"end")
		w.Table([][]string{{"stops", strings.Repeat("1", 30), strings.Repeat("2", 30), "3"}, {"net", "4", "5", "6"}})
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

func TestParagraph(t *testing.T) {
	words := strings.Repeat("word ", 40)
	var out bytes.Buffer
	w := NewWriter(&out, Layout{})
	w.Paragraph("! ", "  ", words)
	lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
	assert.Len(t, lines, 3)
	var got []string
	for i, line := range lines {
		assert.LessOrEqual(t, Width(line), 80)
		indent := "  "
		if i == 0 {
			indent = "! "
		}
		assert.True(t, strings.HasPrefix(line, indent+"word"), line)
		got = append(got, strings.Fields(line[2:])...)
	}
	assert.Equal(t, strings.Fields(words), got, "no word is lost")
}

func TestTableIsAligned(t *testing.T) {
	var out bytes.Buffer
	w := NewWriter(&out, Layout{})
	w.Table([][]string{{"a", "±1", "10"}, {"long", "2", "3 °"}, {"b", "", ""}})
	assert.Equal(t, "a     ±1   10\nlong   2  3 °\nb\n", out.String())
}
