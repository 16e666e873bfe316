package printable

import (
	"encoding/json"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestPrintable(t *testing.T) {
	for text, want := range map[string]string{
		"":                       "",
		"Harrow Quay, 20 °C – ½": "Harrow Quay, 20 °C – ½",
		"\u00a0海 نور می\u200cشود 👩\u200d🔬": "\u00a0海 نور می\u200cشود 👩\u200d🔬",
		"a\nb\tc\r":                       `a\nb\tc\r`,
		"\x1b[31m\x00\x7f\u009b":          `\x1b[31m\x00\x7f\u009b`,
		"\u202eb\u2066\u200e\ufeff\u2028": `\u202eb\u2066\u200e\ufeff\u2028`,
		"\xff\xc3":                        `\xff\xc3`,
		"\ufffd \\n \"q\"":                "\ufffd \\n \"q\"",
		"\U000e0041":                      `\U000e0041`,
	} {
		assert.Equal(t, want, Text(text))
	}
	assert.Equal(t, "a\nb\tc\\r\\x1b", Lines("a\nb\tc\r\x1b"))
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(t, "s")
		assert.False(t, strings.ContainsFunc(Text(s), func(r rune) bool { return unicode.In(r, unicode.Cc, unicode.Bidi_Control, unicode.Zl, unicode.Zp) }))
		assert.NoError(t, CheckLine(Text(s), 1<<20))
		assert.Equal(t, CheckLine(s, 1<<20) == nil, Text(s) == s)
		brief := Brief(s, 20)
		assert.LessOrEqual(t, len([]rune(brief)), 20)

		encoded, err := json.Marshal(s)
		require.NoError(t, err)
		var plain, escaped string
		require.NoError(t, json.Unmarshal(encoded, &plain))
		require.NoError(t, json.Unmarshal([]byte(JSON(string(encoded))), &escaped))
		assert.Equal(t, plain, escaped)
		assert.NoError(t, CheckLine(JSON(string(encoded)), 1<<20))
	})
	assert.Equal(t, "Harrow Q ... ay light", Brief("Harrow Quay lighthouse, the harbour and the quay light", 21))
}

// The limits hold to the character, and what is wrong is shown where it is.
func TestCheckText(t *testing.T) {
	assert.NoError(t, CheckLine(strings.Repeat("ü", 200), MaxName))
	assert.EqualError(t, CheckLine(strings.Repeat("ü", 201), MaxName), `"`+strings.Repeat("ü", 37)+" ... "+strings.Repeat("ü", 37)+`" is longer than 200 characters`)
	assert.NoError(t, CheckNote(strings.Repeat("line\r\n\t", 285)))
	assert.ErrorContains(t, CheckNote(strings.Repeat("x", 2001)), "is longer than 2000 characters")
	assert.EqualError(t, CheckNote("a\x1bb"), `"a\x1bb" holds the character U+001B, which does not print`)
	assert.EqualError(t, CheckLine("a\nb", 9), `"a\nb" has more than one line`)
	assert.EqualError(t, CheckLine("a\tb", 9), `"a\tb" holds the character U+0009, which does not print`)
	assert.EqualError(t, CheckLine("a\xff", 9), `"a\xff" is not text in UTF-8`)
	far := strings.Repeat("x", 90) + "\u202e" + strings.Repeat("y", 90)
	assert.EqualError(t, CheckLine(far, MaxName), `"`+strings.Repeat("x", 40)+`\u202e`+strings.Repeat("y", 40)+`" holds the character U+202E, which does not print`)
}

func TestCounted(t *testing.T) {
	assert.Equal(t, []string{"0 strips", "1 strip", "2 strips"}, []string{Counted(0, "strip"), Counted(1, "strip"), Counted(2, "strip")})
}
