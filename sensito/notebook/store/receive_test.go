//go:build unix

package store

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A file that comes has the name it came with, or one with a number where another file, a link or a folder has that;
// the same file twice is kept once, and of what is refused, or ends too early, nothing stays.
func TestReceive(t *testing.T) {
	dir := t.TempDir()
	receive := func(name, text string) (string, error) {
		return Receive(dir, name, strings.NewReader(text), func(r io.ReaderAt, size int64) error {
			got := make([]byte, size)
			_, err := r.ReadAt(got, 0)
			require.NoError(t, err)
			assert.Equal(t, text, string(got))
			if text == "bad" {
				return errRefused
			}
			return nil
		})
	}
	require.NoError(t, os.Mkdir(filepath.Join(dir, "folder.tif"), 0o777))
	require.NoError(t, os.Symlink("nowhere", filepath.Join(dir, "link.tif")))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "kept.tif"), []byte("old"), 0o444))
	for _, c := range []struct{ name, text, as string }{
		{"a.tif", "one", "a.tif"}, {"a.tif", "one", "a.tif"}, {"a.tif", "two", "a-2.tif"}, {"a.tif", "six", "a-3.tif"}, {"a.tif", "two", "a-2.tif"},
		{"folder.tif", "one", "folder-2.tif"}, {"link.tif", "one", "link-2.tif"}, {"kept.tif", "new", "kept-2.tif"}, {"plain", "x", "plain"}, {"plain", "y", "plain-2"},
	} {
		as, err := receive(c.name, c.text)
		require.NoError(t, err)
		assert.Equal(t, c.as, as)
		assert.Equal(t, c.text, content(t, filepath.Join(dir, as)))
	}
	assert.Equal(t, "old", content(t, filepath.Join(dir, "kept.tif")))
	before := listing(t, dir)
	_, err := receive("b.tif", "bad")
	require.ErrorIs(t, err, errRefused)
	_, err = Receive(dir, "b.tif", io.MultiReader(bytes.NewReader(make([]byte, 1<<20)), torn{}), func(io.ReaderAt, int64) error { return nil })
	require.ErrorIs(t, err, errRefused)
	for _, name := range []string{"", "../b.tif", ".hidden", `a\b`, "a\x00"} {
		_, err := receive(name, "one")
		assert.Error(t, err, name)
	}
	assert.Equal(t, before, listing(t, dir))
}

var errRefused = errors.New("refused")

// torn is what ends with an error.
type torn struct{}

func (torn) Read([]byte) (int, error) { return 0, errRefused }

// listing returns the names of all that is in a folder, what is hidden too.
func listing(t *testing.T, dir string) []string {
	t.Helper()
	found, err := os.ReadDir(dir)
	require.NoError(t, err)
	var out []string
	for _, f := range found {
		out = append(out, f.Name())
	}
	return out
}
