package printable

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestWrapped(t *testing.T) {
	for _, c := range []struct {
		columns           int
		first, next, text string
		want              string
	}{
		{20, "", "", "a line of words that is wider than it is high", "a line of words that\nis wider than it is\nhigh\n"},
		{20, "- ", "  ", "one of exactly twent", "- one of exactly\n  twent\n"},
		{22, "- ", "  ", "one of exactly twent", "- one of exactly twent\n"},
		{10, "", "", "°°°°°°°°°° °°°°°°°°°°", "°°°°°°°°°°\n°°°°°°°°°°\n"},
		{10, "! ", "  ", "short a-word-that-is-too-wide end", "! short\n  a-word-that-is-too-wide\n  end\n"},
		{10, "! ", "  ", " blanks\tand \n ends ", "! blanks\n  and ends\n"},
		{10, "! ", "  ", "", "! \n"},
	} {
		assert.Equal(t, c.want, Wrapped(c.columns, c.first, c.next, c.text))
	}
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[a-z°]{1,9}`)).Draw(t, "words")
		columns := rapid.IntRange(11, 40).Draw(t, "columns")
		got := Wrapped(columns, "- ", "  ", strings.Join(words, "  "))
		assert.Equal(t, words, append([]string{}, strings.Fields(got)[1:]...), "no word is lost")
		var last string
		for i, line := range strings.Split(strings.TrimSuffix(got, "\n"), "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), columns)
			if i > 0 { // what begins a line had no room in the one before
				assert.Greater(t, utf8.RuneCountInString(last)+1+utf8.RuneCountInString(strings.Fields(line)[0]), columns)
			}
			last = line
		}
	})
}
