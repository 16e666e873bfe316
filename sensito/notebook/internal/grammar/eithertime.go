package grammar

import (
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/lazy"
)

// perhapsEither finds files without such a number fast, which are nearly all.
var perhapsEither = lazy.Regexp(`minutes"?\s*[=:]\s*\d+\.[1-5]0\b`)

// EitherTimes returns the numbers of minutes in a file of TOML that can mean two
// times, such as 5.30, as they are written, by key; nil for none.
func EitherTimes(data []byte) map[string]string {
	if !perhapsEither().Match(data) {
		return nil
	}
	written := map[string]string{}
	walk(data, func(key, text string) { NoteEither(written, key, text) })
	return written
}

// NoteEither notes a number of minutes that can mean two times.
func NoteEither(written map[string]string, key, text string) {
	if strings.HasSuffix(key, "minutes") && sensito.EitherTime(text) != nil {
		written[key] = text
	}
}

// EitherTime says what can be written in place of such a number.
func EitherTime(text string) string {
	whole, tenths, _ := strings.Cut(text, ".")
	return text + ` can be ` + whole + ":" + tenths + " or " + whole + "." + tenths[:1] + ` minutes; write "` + whole + ":" + tenths + `" in quotes or ` + whole + "." + tenths[:1]
}
