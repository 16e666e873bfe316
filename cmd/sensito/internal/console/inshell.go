package console

import (
	"strings"

	"sensito/sensito/printable"
)

// InShell returns a word as a shell takes it, in quotes where it needs them.
func InShell(word string) string {
	const safe = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_./+-,:=@%"
	if word != "" && strings.Trim(word, safe) == "" {
		return word
	}
	return "'" + strings.ReplaceAll(printable.Text(word), "'", `'\''`) + "'"
}
