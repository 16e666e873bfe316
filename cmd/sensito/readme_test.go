package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
)

var update = flag.Bool("update", false, "rewrite what the commands of README.md and of the topics print")

// TestReadme runs every sensito command shown in README.md and in the topics of
// help, in a folder that holds the demo notebook as harrow-quay, and compares what
// it prints.
func TestReadme(t *testing.T) {
	was := today
	today = func() string { return "2026-06-10" } // the last day that README tells of
	t.Cleanup(func() { today = was })
	texts, err := filepath.Glob("internal/topics/*.md")
	require.NoError(t, err)
	require.NotEmpty(t, texts)
	for _, name := range append(texts, "../../README.md") {
		t.Run(filepath.Base(name), func(t *testing.T) {
			path, err := filepath.Abs(name)
			require.NoError(t, err)
			blocks := checkReadme(t, path, *update)
			if filepath.Base(name) == "README.md" {
				require.NotZero(t, blocks, "%s shows no sensito command", path)
			}
		})
	}
}

// checkReadme returns how many blocks there are.
func checkReadme(t *testing.T, path string, update bool) int {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	blocks := sensitoBlocks(string(text))
	if len(blocks) == 0 {
		return 0
	}
	t.Chdir(t.TempDir())
	require.NoError(t, writeNotebook("harrow-quay"))

	var fresh strings.Builder
	end := 0
	for _, b := range blocks {
		fresh.WriteString(string(text[end:b.start]))
		end = b.end
		shown := string(text[b.start:b.end])
		got, err := b.run()
		require.NoError(t, err, "%s:%d", path, b.line)
		switch {
		case update && !b.abridged():
			fresh.WriteString(got)
		default:
			fresh.WriteString(shown)
			assert.True(t, alike(shown, got), "%s:%d shows\n%s\nand it prints\n%s", path, b.line, shown, got)
		}
	}
	fresh.WriteString(string(text[end:]))
	if update && fresh.String() != string(text) {
		require.NoError(t, os.WriteFile(path, []byte(fresh.String()), 0o644))
	}
	return len(blocks)
}

// block is a console block of sensito commands with what they print.
type block struct {
	start, end int // of its lines in the file, fences left out
	line       int // of the first command, from 1
	lines      []string
}

var consoleBlock = regexp.MustCompile("(?ms)^```console\n(\\$ sensito .*?)^```$")

func sensitoBlocks(text string) []block {
	var blocks []block
	for _, m := range consoleBlock.FindAllStringSubmatchIndex(text, -1) {
		blocks = append(blocks, block{start: m[2], end: m[3], line: 1 + strings.Count(text[:m[2]], "\n"),
			lines: slices.Collect(strings.Lines(text[m[2]:m[3]]))})
	}
	return blocks
}

// leftOut is a line that stands for one or more lines left out.
const leftOut = "...\n"

func (b block) abridged() bool { return slices.Contains(b.lines, leftOut) }

// run carries out the commands of a block and returns what a terminal shows:
// each command, then what it prints to either stream.
func (b block) run() (string, error) {
	var shown bytes.Buffer
	for _, line := range b.lines {
		command, is := strings.CutPrefix(line, "$ ")
		if !is {
			continue
		}
		words := word.FindAllString(command, -1)
		for i, w := range words {
			words[i] = strings.Trim(w, `"`)
		}
		if words[0] != "sensito" || strings.ContainsAny(command, "|<>&;'\\$*`") {
			return "", fmt.Errorf("%q is more than a plain sensito command", strings.TrimSpace(command))
		}
		shown.WriteString(line)
		if code := run(words[1:], strings.NewReader(""), &shown, &shown); code == console.ExitUsage {
			return "", fmt.Errorf("%q is not understood:\n%s", strings.TrimSpace(command), &shown)
		}
	}
	return shown.String(), nil
}

// word is one of a command, with blanks where it stands in double quotes.
var word = regexp.MustCompile(`"[^"]*"|\S+`)

// alike says whether a text is the one shown, with one or more lines of it
// standing behind each line "...".
func alike(shown, got string) bool {
	want := slices.Collect(strings.Lines(shown))
	have := slices.Collect(strings.Lines(got))
	return match(want, have)
}

func match(want, have []string) bool {
	for i, line := range want {
		if line == leftOut {
			for n := i + 1; n <= len(have); n++ {
				if match(want[i+1:], have[n:]) {
					return true
				}
			}
			return false
		}
		if i >= len(have) || have[i] != line {
			return false
		}
	}
	return len(want) == len(have)
}

// fixture is a small README; what its first block prints is left to -update.
const fixture = `# A page

Text with $ sensito curve in it.

` + "```console\n$ sensito scene harrow-quay/larkfield-camera.toml --range 3\nstale\n```" + `

` + "```console\n$ sensito card harrow-quay/larkfield-camera.toml\n...\nAim: a density range of 1.05; flare takes 0.40\n...\n```" + `

` + "```sh\n$ sensito nonsense\n```" + `

` + "```console\n$ go test ./...\nok\n```\n"

func TestReadmeUpdate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "README.md")
	require.NoError(t, os.WriteFile(path, []byte(fixture), 0o644))
	checkReadme(t, path, true)
	text, err := os.ReadFile(path)
	require.NoError(t, err)

	before, after, found := strings.Cut(fixture, "stale\n")
	require.True(t, found)
	got := string(text)
	require.True(t, strings.HasPrefix(got, before) && strings.HasSuffix(got, after), "all else stays:\n%s", got)
	printed := strings.TrimSuffix(strings.TrimPrefix(got, before), after)
	assert.Contains(t, printed, "sensito: ")
	assert.Contains(t, printed, "sensito: hint: ")
	assert.NotContains(t, printed, "stale")
	checkReadme(t, path, false)
}

func TestReadmeBlocks(t *testing.T) {
	blocks := sensitoBlocks(fixture)
	require.Len(t, blocks, 2)
	assert.Equal(t, 6, blocks[0].line)
	assert.False(t, blocks[0].abridged())
	assert.True(t, blocks[1].abridged())
	assert.Equal(t, "$ sensito scene harrow-quay/larkfield-camera.toml --range 3\nstale\n", fixture[blocks[0].start:blocks[0].end])
	assert.Empty(t, sensitoBlocks("# A page\n\n```toml\n[film]\n```\n"))

	_, err := block{lines: []string{"$ sensito curve --colour\n"}}.run()
	assert.ErrorContains(t, err, "not understood")
	_, err = block{lines: []string{"$ sensito help | head\n"}}.run()
	assert.ErrorContains(t, err, "more than a plain sensito command")
	_, err = block{lines: []string{"$ sensito help\n", "$ rm -r notebook\n"}}.run()
	assert.ErrorContains(t, err, "more than a plain sensito command")
}

func TestReadmeLeftOut(t *testing.T) {
	for _, c := range []struct {
		shown, got string
		want       bool
	}{
		{"a\nb\n", "a\nb\n", true},
		{"a\nb\n", "a\nb\nc\n", false},
		{"a\nb\nc\n", "a\nb\n", false},
		{"a\nb\n", "a\nb", false},
		{"a\n...\n", "a\nb\nc\n", true},
		{"a\n...\n", "a\n", false},
		{"...\nc\n", "a\nb\nc\n", true},
		{"a\n...\nd\n", "a\nb\nc\nd\n", true},
		{"a\n...\nd\n", "a\nd\n", false},
		{"a\n...\nb\n", "a\nb\nc\nb\n", true},
		{"a\n...\nb\n...\nd\n", "a\nx\nb\ny\nb\nd\n", true},
		{"a\n...\nc\n...\n", "a\nb\nd\ne\n", false},
		{"", "", true},
	} {
		assert.Equal(t, c.want, alike(c.shown, c.got), "%q for %q", c.shown, c.got)
	}
}
