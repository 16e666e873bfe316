//go:build unix

package store

import (
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a name leads to is in the folder, or refused, and nothing of a file outside
// is read.
func TestRootStaysInFolder(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "notebook")
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "folder"), 0o700))
	fill(t, filepath.Join(top, "secret.toml"), "secret")
	fill(t, filepath.Join(dir, "folder", "below.toml"), "below")
	fill(t, filepath.Join(dir, "larkfield.toml"), "larkfield")
	fill(t, filepath.Join(dir, ".hidden"), "hidden")
	for name, to := range map[string]string{
		"inside.toml": "larkfield.toml", "outside.toml": "../secret.toml", "absolute.toml": filepath.Join(top, "secret.toml"),
		"twice.toml": "outside.toml", "nowhere.toml": "gone.toml", "around.toml": "../notebook/larkfield.toml", "up": "..", "round": "round",
	} {
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Skip("no links here: ", err)
		}
	}
	r, err := OpenRoot(dir)
	require.NoError(t, err)
	defer r.Close()

	for name, want := range map[string]string{"larkfield.toml": "larkfield", "inside.toml": "larkfield"} {
		f, err := r.Open(name)
		require.NoError(t, err)
		text, err := io.ReadAll(f)
		require.NoError(t, err)
		require.NoError(t, f.Close())
		assert.Equal(t, want, string(text))
		path, err := r.Path(name)
		require.NoError(t, err)
		assert.Equal(t, filepath.Join(dir, name), path)
	}
	for name, why := range map[string]string{
		"outside.toml": "is a link that leads out of the notebook", "absolute.toml": "is a link that leads out of the notebook", "twice.toml": "is a link that leads out of the notebook", "around.toml": "is a link that leads out of the notebook", "up": "is a link that leads out of the notebook",
		"nowhere.toml": "no such file", "gone.toml": "no such file", "round": "too many", "folder": "not a regular file",
		"": "is not the name", ".": "is not the name", "..": "is not the name", ".hidden": "is not the name", "../secret.toml": "is not the name",
		"folder/below.toml": "is not the name", `folder\below.toml`: "is not the name", "/etc/passwd": "is not the name",
		filepath.Join(dir, "larkfield.toml"): "is not the name", "larkfield.toml\x00": "is not the name",
	} {
		f, err := r.Open(name)
		assert.ErrorContains(t, err, why, "%q", name)
		assert.Nil(t, f, "%q", name)
		_, err = r.Path(name)
		assert.ErrorContains(t, err, why, "%q", name)
	}
	names, err := r.Names()
	require.NoError(t, err)
	assert.Equal(t, []string{"absolute.toml", "around.toml", "inside.toml", "larkfield.toml", "nowhere.toml", "outside.toml", "round", "twice.toml", "up"}, names)
}

// A folder that is put in the place of another does not take over its names.
func TestRootIsOneFolder(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "notebook")
	require.NoError(t, os.Mkdir(dir, 0o700))
	fill(t, filepath.Join(dir, "a.toml"), "first")
	r, err := OpenRoot(dir)
	require.NoError(t, err)
	defer r.Close()
	if err := os.Rename(dir, dir+"-before"); err != nil {
		t.Skip("a folder in use cannot be renamed here: ", err)
	}
	require.NoError(t, os.Mkdir(dir, 0o700))
	fill(t, filepath.Join(dir, "a.toml"), "second")
	f, err := r.Open("a.toml")
	require.NoError(t, err)
	defer f.Close()
	text, err := io.ReadAll(f)
	require.NoError(t, err)
	assert.Equal(t, "first", string(text))

	_, err = OpenRoot(filepath.Join(top, "gone"))
	assert.ErrorContains(t, err, "no such file")
}

// A pipe that nobody writes to is refused at once.
func TestRootRefusesPipe(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe.toml"), 0o600))
	r, err := OpenRoot(dir)
	require.NoError(t, err)
	defer r.Close()
	_, err = r.Open("pipe.toml")
	assert.EqualError(t, err, "pipe.toml is not a regular file")
	names, err := r.Names()
	require.NoError(t, err)
	assert.Empty(t, names)
}

// A folder of the folder is opened, through a link within too; one that leaves is refused,
// and says so.
func TestRootFolder(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "notebook")
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "sessions"), 0o700))
	require.NoError(t, os.Mkdir(filepath.Join(top, "outside"), 0o700))
	fill(t, filepath.Join(dir, "sessions", "one.jsonl"), "one")
	fill(t, filepath.Join(top, "outside", "two.jsonl"), "two")
	fill(t, filepath.Join(dir, "file"), "file")
	for name, to := range map[string]string{"within": "sessions", "out": "../outside", "far": filepath.Join(top, "outside"), "nowhere": "gone"} {
		require.NoError(t, os.Symlink(to, filepath.Join(dir, name)))
	}
	require.NoError(t, os.Symlink("../../outside/two.jsonl", filepath.Join(dir, "sessions", "two.jsonl")))
	r, err := OpenRoot(dir)
	require.NoError(t, err)
	defer r.Close()
	for _, name := range []string{"sessions", "within"} {
		in, err := r.Folder(name)
		require.NoError(t, err, name)
		f, err := in.Open("one.jsonl")
		require.NoError(t, err, name)
		require.NoError(t, f.Close())
		_, err = in.Open("two.jsonl")
		assert.ErrorIs(t, err, ErrLeaves, name)
		require.NoError(t, in.Close())
	}
	for _, name := range []string{"out", "far"} {
		_, err := r.Folder(name)
		assert.EqualError(t, err, filepath.Join(dir, name)+" is a link that leads out of the notebook, and is not followed")
		assert.ErrorIs(t, err, ErrLeaves)
	}
	for _, name := range []string{"gone", "nowhere"} {
		_, err := r.Folder(name)
		assert.ErrorIs(t, err, os.ErrNotExist, name)
	}
	for _, name := range []string{"file", "..", "a/b", ""} {
		_, err := r.Folder(name)
		assert.Error(t, err, name)
		assert.NotErrorIs(t, err, ErrLeaves, name)
	}
}
