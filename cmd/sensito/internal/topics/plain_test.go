package topics

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPlain(t *testing.T) {
	topic := Topic{Title: "Clocks", Text: "A **clock** shows\nthe `time`.\n\n- one\n  goes on\n- two\n\n## More\n\n```console\n$ sensito ls\n\nx\n```\n\n" +
		"| seen | means | test |\n| --- | --- | --- |\n| thin | too little | `sensito curve` |\n| flat | short | |\n\n| exit | means |\n| --- | --- |\n| 0 | a \\| b |\n"}
	assert.Equal(t, `Clocks

A clock shows the time.

- one goes on
- two

More

    $ sensito ls

    x

thin
    means: too little
    test: sensito curve
flat
    means: short

0
    a | b
`, topic.Plain())
}

// A topic is read on a screen of 80 columns; what a command prints keeps its width,
// set in by four.
func TestTopics(t *testing.T) {
	all := All()
	require.Greater(t, len(all), 1)
	for _, topic := range all {
		assert.NotEmpty(t, topic.Title, topic.Name)
		plain := topic.Plain()
		assert.NotContains(t, plain, "```", topic.Name)
		assert.NotContains(t, plain, "**", topic.Name)
		for line := range strings.Lines(plain) {
			width := len([]rune(strings.TrimRight(line, "\n")))
			if strings.HasPrefix(line, "    ") {
				width -= 4
			}
			if strings.HasPrefix(line, "    $ ") {
				continue // what is typed has no limit
			}
			assert.LessOrEqual(t, width, 80, "%s: %s", topic.Name, line)
		}
	}
}
