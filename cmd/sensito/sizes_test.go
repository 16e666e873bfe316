package main

import (
	"bytes"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// largeRooms are the packages of many small and like files, such as a handler for each
// screen, which may have more of them than others.
var largeRooms = []string{"sensito/sensito/notebook/table", "sensito/sensito/report", "sensito/plot", "sensito/cmd/sensito", "sensito/cmd/sensito/internal/page"}

// TestSizes fails on a package that is too large to be known: of more than 20
// files or 3,000 lines, 35 and 5,000 in the large rooms, where blank lines and
// lines of comment alone do not count.
func TestSizes(t *testing.T) {
	own := 0
	packages := listed(t)
	for _, path := range slices.Sorted(maps.Keys(packages)) {
		p := packages[path]
		if p.Module == nil || !p.Module.Main {
			continue
		}
		own++
		files, lines := 20, 3000
		if slices.Contains(largeRooms, path) {
			files, lines = 35, 5000
		}
		n := 0
		for _, name := range p.GoFiles {
			text, err := os.ReadFile(filepath.Join(p.Dir, name))
			require.NoError(t, err)
			for line := range bytes.Lines(text) {
				if line = bytes.TrimSpace(line); len(line) > 0 && !bytes.HasPrefix(line, []byte("//")) {
					n++
				}
			}
		}
		assert.LessOrEqual(t, len(p.GoFiles), files, "files of %s", path)
		assert.LessOrEqual(t, n, lines, "lines of %s", path)
	}
	require.Greater(t, own, 20, "packages of this module")
}
