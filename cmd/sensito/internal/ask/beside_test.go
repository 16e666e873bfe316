package ask

import (
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/demo"
	"sensito/cmd/sensito/internal/console"
)

// A question that is confined to a folder finds the control log beside its trial there, and
// in a folder below by the name with which it asks for the trial; an opener that cannot
// list a folder finds none, and a scene is answered all the same.
func TestBesideWithin(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, demo.Files()))
	require.NoError(t, os.CopyFS(filepath.Join(dir, "older"), demo.Files()))
	require.NoError(t, os.Remove(filepath.Join(dir, "control.toml")))
	folder, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer folder.Close()
	t.Chdir(t.TempDir()) // so that a name says nothing of the disk
	open := func(path string) (io.ReadCloser, error) { return folder.Open(path) }
	ask := func(open func(string) (io.ReadCloser, error), trial string, flags ...string) *SceneAnswer {
		a, err := flagged(t, &Scene{}, append(flags, "range=7")...).Ask(console.New(nil, io.Discard, io.Discard).Within(open), trial)
		require.NoError(t, err)
		return a
	}
	a := ask(open, "older/larkfield-brinewater.toml")
	require.NotNil(t, a.Beside)
	require.NotNil(t, a.Beside.Drift)
	assert.Equal(t, "2026-04-16", a.Beside.Drift.Since)
	assert.Equal(t, filepath.Join("older", "control.toml"), a.BesideLog)
	assert.Nil(t, ask(open, "larkfield-brinewater.toml").Beside.Drift, "the log of another folder")
	assert.Nil(t, ask(open, "older/larkfield-brinewater.toml", "control=older/control.toml").Beside)

	alone := func(path string) (io.ReadCloser, error) {
		f, err := folder.Open(path)
		return struct{ io.ReadCloser }{f}, err
	}
	b := ask(alone, "older/larkfield-brinewater.toml").Beside
	assert.Nil(t, b.Drift)
	assert.Empty(t, b.Warnings)
}
