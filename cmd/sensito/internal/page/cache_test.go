package page

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
)

type nobody struct{ Gate }

func (nobody) FormToken(*http.Request) string { return "" }

func written(t *testing.T, path, text string, at time.Time) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, []byte(text), 0o666))
	require.NoError(t, os.Chtimes(path, at, at))
}

// What a file comes to is found once, by as many as ask for it, until its bytes are
// others; that they are written at the same time and are as many does not matter.
func TestCache(t *testing.T) {
	dir := t.TempDir()
	s, err := New(dir, nobody{})
	require.NoError(t, err)
	path := filepath.Join(dir, "t.toml")
	at := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	written(t, path, notebooktest.Good, at)
	var wait sync.WaitGroup
	found := make([]*file, 8)
	for i := range found {
		wait.Go(func() {
			f, err := s.file("t", notebook.FilmKind)
			if assert.NoError(t, err) {
				_, err = f.trial()
				assert.NoError(t, err)
				found[i] = f
			}
		})
	}
	wait.Wait()
	f, err := s.file("t", notebook.FilmKind)
	require.NoError(t, err)
	for _, other := range found {
		a, _ := f.trial()
		b, _ := other.trial()
		assert.Equal(t, f.hash(), other.hash())
		assert.Equal(t, a.Title(), b.Title())
	}
	again, err := s.file("t", notebook.FilmKind)
	require.NoError(t, err)
	assert.Same(t, f, again)

	written(t, path, `title = "U"`+notebooktest.Good[len(`title = "U"`):], at)
	other, err := s.file("t", notebook.FilmKind)
	require.NoError(t, err)
	assert.NotSame(t, f, other)
	trial, err := other.trial()
	require.NoError(t, err)
	assert.Equal(t, "U", trial.Title())
}

// The notebook is put together once for the same files, and again when one of them is
// another; a file that is gone is forgotten.
func TestCacheOfNotebook(t *testing.T) {
	dir := t.TempDir()
	s, err := New(dir, nobody{})
	require.NoError(t, err)
	at := time.Now()
	for _, name := range []string{"a.toml", "b.toml"} {
		written(t, filepath.Join(dir, name), notebooktest.Good, at)
	}
	written(t, filepath.Join(dir, "c.toml"), notebooktest.GoodControl, at)
	list := func() []*file {
		entries, err := notebook.List(dir)
		require.NoError(t, err)
		return s.kept.all(entries)
	}
	first, err := s.kept.notebook(context.Background(), list())
	require.NoError(t, err)
	second, err := s.kept.notebook(context.Background(), list())
	require.NoError(t, err)
	assert.Same(t, first, second)
	require.NoError(t, os.Remove(filepath.Join(dir, "b.toml")))
	files := list()
	third, err := s.kept.notebook(context.Background(), files)
	require.NoError(t, err)
	assert.Len(t, first.Entries, 3)
	assert.Len(t, third.Entries, 2)
	assert.Len(t, s.kept.files, 2)
	for i, e := range third.Entries { // the notebook writes into its own entry of a log
		if e.Control != nil {
			assert.NotSame(t, files[1].listed().Control, third.Entries[i].Control)
		}
	}

	left, cancel := context.WithCancel(context.Background())
	cancel()
	written(t, filepath.Join(dir, "d.toml"), notebooktest.Good, at)
	_, err = s.kept.notebook(left, list())
	assert.ErrorIs(t, err, context.Canceled)
}
