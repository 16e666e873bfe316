//go:build !windows

package notebook

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func content(t *testing.T, path string) string {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

// only fails when the folder holds anything else, such as a temporary file.
func only(t *testing.T, dir string, names ...string) {
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	assert.ElementsMatch(t, names, got)
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "larkfield.toml")
	require.NoError(t, WriteFile(path, []byte("one")))
	assert.Equal(t, "one", content(t, path))

	require.NoError(t, os.Chmod(path, 0o600))
	before, err := os.Stat(path)
	require.NoError(t, err)
	held, err := os.Open(path) // a reader of the old file
	require.NoError(t, err)
	defer held.Close()
	require.NoError(t, WriteFile(path, []byte("two")))
	assert.Equal(t, "two", content(t, path))
	after, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), after.Mode().Perm())
	assert.False(t, os.SameFile(before, after), "the file was written in place")
	old := make([]byte, 3)
	_, err = held.Read(old)
	require.NoError(t, err)
	assert.Equal(t, "one", string(old))
	only(t, dir, "larkfield.toml")
}

func TestWriteFileThroughLink(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "kept"), 0o755))
	target, link := filepath.Join(dir, "kept", "a.toml"), filepath.Join(dir, "a.toml")
	require.NoError(t, os.WriteFile(target, []byte("one"), 0o644))
	require.NoError(t, os.Symlink(filepath.Join("kept", "a.toml"), link))
	require.NoError(t, WriteFile(link, []byte("two")))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink)
	assert.Equal(t, "two", content(t, target))
	only(t, dir, "kept", "a.toml")
	only(t, filepath.Join(dir, "kept"), "a.toml")
}

func TestWriteFileRefuses(t *testing.T) {
	dir := t.TempDir()
	link := filepath.Join(dir, "lost.toml")
	require.NoError(t, os.Symlink("nowhere.toml", link))
	assert.EqualError(t, WriteFile(link, nil), link+" is a link that leads nowhere")
	assert.EqualError(t, WriteFile(dir, nil), dir+" is not a regular file")
	assert.EqualError(t, WriteFile(os.DevNull, nil), os.DevNull+" is not a regular file")
	none := filepath.Join(dir, "none")
	assert.EqualError(t, WriteFile(filepath.Join(none, "a.toml"), nil), filepath.Join(none, "a.toml")+": there is no folder "+none)
	only(t, dir, "lost.toml")
}
