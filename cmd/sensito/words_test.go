package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/topics"
)

// TestWords fails on a term of the glossary that neither README.md nor another topic
// uses, in what commands print (TestReadme holds that) or in the text about them, and
// on one that is explained twice.
func TestWords(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	words := ""
	for _, topic := range topics.All() {
		if topic.Name == "words" {
			words = topic.Text
		} else {
			text = append(text, topic.Text...)
		}
	}
	used := strings.Join(strings.Fields(string(text)), " ") // a term may be broken over two lines

	terms := regexp.MustCompile(`\*\*([^*]+)\*\*`).FindAllStringSubmatch(words, -1)
	require.Greater(t, len(terms), 20)
	seen := map[string]bool{}
	for _, m := range terms {
		term := m[1]
		assert.False(t, seen[strings.ToLower(term)], "%s is explained twice", term)
		seen[strings.ToLower(term)] = true
		whole := regexp.MustCompile(`(?i)(^|[^\pL\pN])` + regexp.QuoteMeta(term) + `($|[^\pL\pN])`)
		assert.Regexp(t, whole, used, "neither README.md nor a topic uses %q", term)
	}
}
