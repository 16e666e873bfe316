package store

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPrivate(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "secret")
	require.NoError(t, CreatePrivate(path, []byte("one")))
	if runtime.GOOS != "windows" {
		info, err := os.Stat(path)
		require.NoError(t, err)
		assert.Equal(t, fs.FileMode(0o600), info.Mode())
	}
	require.ErrorIs(t, CreatePrivate(path, []byte("two")), fs.ErrExist)
	assert.Equal(t, "one", content(t, path))
	require.NoError(t, WritePrivate(path, []byte("three")))
	assert.Equal(t, "three", content(t, path))
	only(t, dir, "secret")
}
