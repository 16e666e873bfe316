package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAppend(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.jsonl")
	assert.ErrorIs(t, Append(path, func([]byte) ([]byte, error) { return []byte("1\n"), nil }), os.ErrNotExist)
	require.NoError(t, os.WriteFile(path, []byte("one\ntwo\ntor"), 0o640))
	failed := errors.New("no")
	assert.Equal(t, failed, Append(path, func(lines []byte) ([]byte, error) { return nil, failed }))
	isText(t, path, "one\ntwo\ntor")
	require.NoError(t, Append(path, func(lines []byte) ([]byte, error) {
		assert.Equal(t, "one\ntwo\n", string(lines))
		return []byte("three\n"), nil
	}))
	isText(t, path, "one\ntwo\nthree\n")
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), info.Mode().Perm())
	found, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	assert.Len(t, found, 1, "something is left behind")
	assert.Empty(t, Whole([]byte("torn")))
}

func isText(t *testing.T, path, want string) {
	t.Helper()
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, want, string(got))
}

// Writers take turns: each sees what the others added.
func TestAppendTogether(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.jsonl")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	const writers, lines = 4, 10
	var wg sync.WaitGroup
	for range writers {
		wg.Go(func() {
			for range lines {
				assert.NoError(t, Append(path, func(old []byte) ([]byte, error) {
					return []byte(strings.Repeat("x", strings.Count(string(old), "\n")) + "\n"), nil
				}))
			}
		})
	}
	wg.Wait()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	got := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	require.Len(t, got, writers*lines)
	for i, line := range got {
		require.Len(t, line, i)
	}
}
