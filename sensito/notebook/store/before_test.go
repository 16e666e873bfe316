//go:build unix

package store

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// withoutExchange makes files be replaced as on a system that cannot exchange two.
func withoutExchange(t *testing.T) {
	before := swap
	swap = func(string, string) error { return errors.ErrUnsupported }
	t.Cleanup(func() { swap = before })
}

// editorSaves replaces a file as an editor does, which takes no lock.
func editorSaves(t *testing.T, path, text string) {
	own := filepath.Join(filepath.Dir(path), "editor")
	fill(t, own, text)
	require.NoError(t, os.Rename(own, path))
}

// eitherWay runs a test with and without the exchange of files.
func eitherWay(t *testing.T, test func(t *testing.T)) {
	t.Run("exchange", test)
	t.Run("rename", func(t *testing.T) {
		withoutExchange(t)
		test(t)
	})
}

// What an editor saves between the look at a file and its replacement is not
// lost: the change is done anew on that.
func TestEditorSavesMeanwhile(t *testing.T) {
	eitherWay(t, func(t *testing.T) {
		dir := t.TempDir()
		path := fill(t, filepath.Join(dir, "a.toml"), "one")
		saves := 0
		text, err := Update(path, nil, func(old []byte) ([]byte, error) {
			if saves++; saves <= 3 {
				editorSaves(t, path, fmt.Sprintf("edited %d", saves))
			}
			return append(old, " and ours"...), nil
		})
		require.NoError(t, err)
		assert.Equal(t, "edited 3 and ours", string(text))
		assert.Equal(t, "edited 3 and ours", content(t, path))
		assert.Equal(t, "edited 3", content(t, Before(path)))

		// Who says what it saw is told instead.
		_, err = Update(path, text, func([]byte) ([]byte, error) {
			editorSaves(t, path, "edited again")
			return []byte("ours"), nil
		})
		assert.ErrorIs(t, err, ErrChanged)
		assert.Equal(t, "edited again", content(t, path))
		only(t, dir, "a.toml")
	})
}

// An editor that never rests is told of, and its last version stays.
func TestEditorNeverRests(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	waitAtMost(t, 30*time.Millisecond)
	last := ""
	_, err := Update(path, nil, func(old []byte) ([]byte, error) {
		last = fmt.Sprint(time.Now().UnixNano())
		editorSaves(t, path, last)
		return append(old, '!'), nil
	})
	assert.EqualError(t, err, path+": is saved over and over by another program; the file is as it was")
	assert.Equal(t, last, content(t, path))
	only(t, dir, "a.toml")
}

// An editor may save even while what it saved before is put back in its place.
func TestEditorSavesWhileGivenBack(t *testing.T) {
	for saves := range 4 {
		dir := t.TempDir()
		path := fill(t, filepath.Join(dir, "a.toml"), "one")
		exchanges, before := 0, swap
		swap = func(a, b string) error {
			if exchanges++; exchanges <= saves+1 {
				editorSaves(t, path, fmt.Sprintf("edited %d", exchanges))
			}
			return exchange(a, b)
		}
		text, err := Update(path, nil, func(old []byte) ([]byte, error) { return append(old, " and ours"...), nil })
		swap = before
		require.NoError(t, err)
		want := fmt.Sprintf("edited %d and ours", saves+1)
		assert.Equal(t, want, string(text))
		assert.Equal(t, want, content(t, path))
		only(t, dir, "a.toml")
	}
}

// Without an exchange the editor may save while the version before is kept.
func TestEditorSavesBeforeRename(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	before, saves := swap, 0
	swap = func(string, string) error {
		if saves++; saves <= 2 {
			editorSaves(t, path, fmt.Sprintf("edited %d", saves))
		}
		return errors.ErrUnsupported
	}
	t.Cleanup(func() { swap = before })
	_, err := Update(path, nil, func(old []byte) ([]byte, error) { return append(old, " and ours"...), nil })
	require.NoError(t, err)
	assert.Equal(t, "edited 2 and ours", content(t, path))
	assert.Equal(t, "edited 2", content(t, Before(path)))
	only(t, dir, "a.toml")
}

// An editor that saves by rename now and then loses nothing to a writer that
// updates the file all the time.
func TestEditorAgainstWriter(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "")
	done := make(chan struct{})
	var wg sync.WaitGroup
	updates := 0
	wg.Go(func() {
		for {
			select {
			case <-done:
				return
			default:
			}
			_, err := Update(path, nil, func(old []byte) ([]byte, error) { return append(old, '.'), nil })
			assert.NoError(t, err)
			updates++
		}
	})
	saves := times("SENSITO_SAVES", 30)
	for i := range saves {
		time.Sleep(rand.N(20 * time.Millisecond))
		editorSaves(t, path, content(t, path)+fmt.Sprintf("<%d>", i))
	}
	close(done)
	wg.Wait()
	text := content(t, path)
	lost := 0
	for i := range saves {
		if !strings.Contains(text, fmt.Sprintf("<%d>", i)) {
			lost++
		}
	}
	t.Logf("%d saves by rename against %d updates: %d lost", saves, updates, lost)
	assert.Zero(t, lost)
	assert.Greater(t, updates, 3)
	only(t, dir, "a.toml")
}

// A file that is out of the way for a moment is waited for.
func TestEditorMovesFileAway(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	require.NoError(t, os.Rename(path, path+"~"))
	go func() {
		time.Sleep(20 * time.Millisecond)
		os.Rename(path+"~", path)
	}()
	_, err := Update(path, nil, func(old []byte) ([]byte, error) { return append(old, " two"...), nil })
	require.NoError(t, err)
	assert.Equal(t, "one two", content(t, path))
	only(t, dir, "a.toml")
}

func TestUndo(t *testing.T) {
	eitherWay(t, func(t *testing.T) {
		dir := t.TempDir()
		path := fill(t, filepath.Join(dir, "a.toml"), "one")
		_, _, err := Undo(path)
		assert.EqualError(t, err, path+" has no version before: "+Before(path)+" is not there")
		require.NoError(t, os.Chmod(path, 0o604))
		for _, text := range []string{"two", "three"} {
			_, err = Update(path, nil, become(text))
			require.NoError(t, err)
		}
		for _, want := range [][2]string{{"three", "two"}, {"two", "three"}, {"three", "two"}} {
			from, to, err := Undo(path)
			require.NoError(t, err)
			assert.Equal(t, want, [2]string{string(from), string(to)})
			assert.Equal(t, want[1], content(t, path))
			assert.Equal(t, want[0], content(t, Before(path)))
			assert.Equal(t, os.FileMode(0o604), permissions(t, path))
		}

		// What others did since is not undone with it.
		editorSaves(t, path, "edited")
		_, _, err = Undo(path)
		changed := path + " has changed since the last save that can be undone; the version before that save is in " + Before(path) +
			": compare the two, and copy it if it is the one you want"
		assert.EqualError(t, err, changed)
		assert.Equal(t, "edited", content(t, path))
		require.NoError(t, os.Remove(path))
		_, _, err = Undo(path)
		assert.EqualError(t, err, changed)
		only(t, dir, filepath.Base(Before(path)))
	})
}
