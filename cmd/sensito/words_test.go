package main

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/topics"
)

// screensOnce are the screens, once they were made.
var screensOnce []string

// screens are what the commands print of the demo, whole.
func screens(t *testing.T) []string {
	if screensOnce != nil {
		return screensOnce
	}
	var out []string
	t.Chdir(t.TempDir())
	require.NoError(t, writeNotebook("."))
	for _, line := range []string{
		"curve " + demoMain, "family " + demoMain, "scene " + demoMain + " --range 7 --paper slate.toml --grade 2 --at 22",
		"scene " + demoMain + " --roll harbour.csv", "card " + demoMain, "paper slate.toml", "tone " + demoMain + " --range 7 --paper slate.toml --grade 2",
		"compare " + demoMain + " " + demoShoulder, "control control.toml --trial " + demoMain, "plan " + demoMain + " --range 5",
	} {
		out = append(out, printed(t, line), printed(t, line+" --full"))
	}
	for _, line := range []string{"flare " + demoMain + " --hollow 0.24 --field 1.52 --minutes 6:00", "mix 1+19 --total 1l --films 4x4x5in", "sheet " + demoMain + " --range 7", "ls"} {
		out = append(out, printed(t, line))
	}
	screensOnce = out
	return out
}

// glossary returns the terms that `sensito help words` explains, and all that is said
// elsewhere in README.md and the topics.
func glossary(t *testing.T) (terms []string, elsewhere string) {
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	for _, topic := range topics.All() {
		if topic.Name != "words" {
			text = append(text, topic.Text...)
			continue
		}
		for _, m := range regexp.MustCompile(`\*\*([^*]+)\*\*`).FindAllStringSubmatch(topic.Text, -1) {
			terms = append(terms, m[1])
		}
	}
	require.Greater(t, len(terms), 20)
	return terms, string(text)
}

// whole finds a term that is not part of another word.
func whole(term string) *regexp.Regexp {
	return regexp.MustCompile(`(?i)(^|[^\pL\pN])` + regexp.QuoteMeta(term) + `($|[^\pL\pN])`)
}

// TestWords fails on a term of the glossary that no screen and no other text uses, and
// on one that is explained twice.
func TestWords(t *testing.T) {
	terms, used := glossary(t)
	used += strings.Join(screens(t), "\n")
	used = strings.Join(strings.Fields(used), " ") // a term may be broken over two lines
	seen := map[string]bool{}
	for _, term := range terms {
		assert.False(t, seen[strings.ToLower(term)], "%s is explained twice", term)
		seen[strings.ToLower(term)] = true
		assert.True(t, whole(term).MatchString(used), "no screen, nor README.md, nor a topic uses %q", term)
	}
}

// everyday are labels of screens that need no explanation.
var everyday = regexp.MustCompile(`^(developed|develop|time|as tested|wanted|now|stops|again|limit|water|total|concentrate|strips|scatter of readings|missing readings)\b`)

// ownNames are of files and of the frames of the demo's roll.
var ownNames = regexp.MustCompile(`\.toml$|\.csv$|^(Foghorn|Gallery at noon|Harbour in fog|Lamp room|Landing stage|D)$`)

// TestLabels fails on a label of a row of numbers that is neither an everyday word nor
// has a term of the glossary in it.
func TestLabels(t *testing.T) {
	terms, _ := glossary(t)
	row := regexp.MustCompile(`(?m)^ {0,4}(\pL[\pL .,/+-]*?) {2,}[-+>*]? ?\d`)
	found := 0
	for _, screen := range screens(t) {
		for _, m := range row.FindAllStringSubmatch(screen, -1) {
			label := m[1]
			if everyday.MatchString(label) || ownNames.MatchString(label) {
				continue
			}
			found++
			assert.True(t, slices.ContainsFunc(terms, func(term string) bool { return whole(term).MatchString(label) }), "sensito help words does not explain %q", label)
		}
	}
	assert.Greater(t, found, 50)
}

// TestTopicNames fails on a topic that is called as a command, which help would show in
// its place, and on one that README.md does not name.
func TestTopicNames(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	root := newRootCmd(console.Streams{})
	for _, topic := range topics.All() {
		found, _, err := root.Find([]string{topic.Name})
		require.NoError(t, err)
		assert.True(t, found.IsAdditionalHelpTopicCommand(), "%s is a command too", topic.Name)
		assert.Contains(t, string(readme), "internal/topics/"+topic.Name+".md", "README.md does not name the topic")
	}
}
