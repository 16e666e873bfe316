package main

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSources walks testdata and fails on a file that testdata/SOURCES.md does
// not list or that is not the one listed there. Golden files that the project's
// own tests write are listed by folder, without a sum.
func TestSources(t *testing.T) {
	const root = "../../testdata"
	text, err := os.ReadFile(filepath.Join(root, "SOURCES.md"))
	require.NoError(t, err)
	sums := map[string]string{}
	for _, m := range regexp.MustCompile("(?m)^\\| `([^`]+)` \\|.*\\| `?([0-9a-f]{64}|own)`? \\|$").FindAllStringSubmatch(string(text), -1) {
		sums[m[1]] = m[2]
	}
	require.NotEmpty(t, sums)

	used := map[string]bool{}
	require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(root, path)
		require.NoError(t, err)
		rel = filepath.ToSlash(rel)
		if rel == "SOURCES.md" {
			return nil
		}
		if folder, _, ok := strings.Cut(rel, "/"); ok && sums[folder+"/"] == "own" {
			used[folder+"/"] = true
			return nil
		}
		want, listed := sums[rel]
		if !assert.True(t, listed, "%s is not in SOURCES.md", rel) {
			return nil
		}
		used[rel] = true
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, want, fmt.Sprintf("%x", sha256.Sum256(data)), "%s has changed", rel)
		return nil
	}))
	for name := range sums {
		assert.True(t, used[name], "%s is in SOURCES.md but not there", name)
	}
}
