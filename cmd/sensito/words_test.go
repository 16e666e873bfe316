package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWords fails on a term of the glossary that README.md does not use before it, in
// what commands print (TestReadme holds that) or in the text about them, and on one
// that is explained twice.
func TestWords(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	before, words, found := strings.Cut(string(text), "\n## Words\n")
	require.True(t, found)
	words, _, found = strings.Cut(words, "\n## ")
	require.True(t, found)
	used := strings.Join(strings.Fields(before), " ") // a term may be broken over two lines

	terms := regexp.MustCompile(`\*\*([^*]+)\*\*`).FindAllStringSubmatch(words, -1)
	require.Greater(t, len(terms), 20)
	seen := map[string]bool{}
	for _, m := range terms {
		term := m[1]
		assert.False(t, seen[strings.ToLower(term)], "%s is explained twice", term)
		seen[strings.ToLower(term)] = true
		whole := regexp.MustCompile(`(?i)(^|[^\pL\pN])` + regexp.QuoteMeta(term) + `($|[^\pL\pN])`)
		assert.Regexp(t, whole, used, "README.md does not use %q before it explains it", term)
	}
}
