//go:build unix

package store

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/internal/grammar"
)

func content(t *testing.T, path string) string {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

func fill(t *testing.T, path, text string) string {
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

// only fails when the folder holds anything else, such as a temporary file; but
// the versions before may be there.
func only(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var got []string
	for _, e := range entries {
		if !slices.ContainsFunc(names, func(name string) bool { return e.Name() == Before(name) }) {
			got = append(got, e.Name())
		}
	}
	assert.ElementsMatch(t, names, got)
}

// become is a change that does not care what was there.
func become(text string) func([]byte) ([]byte, error) {
	return func([]byte) ([]byte, error) { return []byte(text), nil }
}

func TestUpdate(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "larkfield.toml"), "one")
	text, err := Update(path, nil, func(old []byte) ([]byte, error) { return append(old, " two"...), nil })
	require.NoError(t, err)
	assert.Equal(t, "one two", string(text))
	assert.Equal(t, "one two", content(t, path))
	only(t, dir, "larkfield.toml")

	before, err := os.Stat(path)
	require.NoError(t, err)
	_, err = Update(path, nil, become("one two"))
	require.NoError(t, err)
	after, err := os.Stat(path)
	require.NoError(t, err)
	assert.True(t, os.SameFile(before, after), "nothing changed, and the file was replaced")

	own := errors.New("of the caller")
	_, err = Update(path, nil, func(old []byte) ([]byte, error) { clear(old); return nil, own })
	assert.Equal(t, own, err)
	assert.PanicsWithValue(t, "of the caller", func() {
		_, _ = Update(path, nil, func([]byte) ([]byte, error) { panic("of the caller") })
	})
	_, err = Update(path, nil, become(strings.Repeat(" ", grammar.MaxBytes+1)))
	assert.EqualError(t, err, path+" would become larger than 16 MiB; nothing was written")
	assert.Equal(t, "one two", content(t, path))
	only(t, dir, "larkfield.toml")
}

func TestUpdateOfChanged(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	text, err := Update(path, []byte("one"), become("two"))
	require.NoError(t, err)
	_, err = Update(path, text, become("three"))
	require.NoError(t, err)

	_, err = Update(path, text, become("four"))
	assert.ErrorIs(t, err, ErrChanged)
	assert.EqualError(t, err, path+" was changed on disk since it was read; nothing was written")
	assert.Equal(t, "three", content(t, path))
	_, err = Update(path, []byte{}, become("four"))
	assert.ErrorIs(t, err, ErrChanged, "an empty file was seen")

	require.NoError(t, os.Remove(path))
	_, err = Update(path, []byte("three"), become("four"))
	assert.ErrorIs(t, err, ErrChanged)
	assert.EqualError(t, err, path+" was changed on disk since it was read: it is gone; nothing was written")
	_, err = Update(path, nil, become("four"))
	assert.EqualError(t, err, "open "+path+": no such file or directory")
	assert.ErrorIs(t, err, fs.ErrNotExist)
	only(t, dir, ".a.toml.sensito-before")
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "larkfield.toml")
	umask := syscall.Umask(0o027)
	err := WriteFile(path, []byte("one"))
	syscall.Umask(umask)
	require.NoError(t, err)
	assert.Equal(t, "one", content(t, path))
	assert.Equal(t, fs.FileMode(0o640), permissions(t, path), "of a new file")

	require.NoError(t, os.Chmod(path, 0o606))
	before, err := os.Stat(path)
	require.NoError(t, err)
	held, err := os.Open(path) // a reader of the old file
	require.NoError(t, err)
	defer held.Close()
	require.NoError(t, WriteFile(path, []byte("two")))
	assert.Equal(t, "two", content(t, path))
	after, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o606), permissions(t, path), "of a replaced file")
	assert.False(t, os.SameFile(before, after), "the file was written in place")
	old := make([]byte, 3)
	_, err = held.Read(old)
	require.NoError(t, err)
	assert.Equal(t, "one", string(old))
	only(t, dir, "larkfield.toml")
}

func permissions(t *testing.T, path string) fs.FileMode {
	info, err := os.Stat(path)
	require.NoError(t, err)
	return info.Mode().Perm()
}

func TestOwnerStays(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("only root may give files away")
	}
	path := fill(t, filepath.Join(t.TempDir(), "a.toml"), "one")
	require.NoError(t, os.Chmod(path, 0o600))
	require.NoError(t, os.Chown(path, 65534, 65533))
	require.NoError(t, WriteFile(path, []byte("two")))
	info, err := os.Stat(path)
	require.NoError(t, err)
	owner := info.Sys().(*syscall.Stat_t)
	assert.Equal(t, []uint32{65534, 65533}, []uint32{owner.Uid, owner.Gid})
	assert.Equal(t, fs.FileMode(0o600), info.Mode().Perm())
}

func TestWriteThroughLink(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "kept"), 0o755))
	target, link := filepath.Join(dir, "kept", "a.toml"), filepath.Join(dir, "a.toml")
	fill(t, target, "one")
	require.NoError(t, os.Symlink(filepath.Join("kept", "a.toml"), link))
	require.NoError(t, WriteFile(link, []byte("two")))
	assert.Equal(t, "two", content(t, target))
	_, err := Update(link, []byte("two"), become("three"))
	require.NoError(t, err)
	assert.Equal(t, "three", content(t, target))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink)
	only(t, dir, "kept", "a.toml")
	only(t, filepath.Join(dir, "kept"), "a.toml")
}

func TestWriteRefuses(t *testing.T) {
	dir := t.TempDir()
	link, none := filepath.Join(dir, "lost.toml"), filepath.Join(dir, "none")
	require.NoError(t, os.Symlink("nowhere.toml", link))
	around := filepath.Join(dir, "around.toml")
	require.NoError(t, os.Symlink("around.toml", around))
	pipe := filepath.Join(dir, "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	for path, want := range map[string]string{
		link:                          link + " is a link that leads nowhere",
		dir:                           dir + " is not a regular file",
		pipe:                          pipe + " is not a regular file",
		"":                            "a file needs a name",
		os.DevNull:                    os.DevNull + " is not a regular file",
		around:                        around + ": too many levels of symbolic links",
		filepath.Join(none, "a.toml"): filepath.Join(none, "a.toml") + ": there is no folder " + none,
		filepath.Join(pipe, "a.toml"): filepath.Join(pipe, "a.toml") + ": there is no folder " + pipe,
	} {
		assert.EqualError(t, WriteFile(path, nil), want)
		_, err := Update(path, nil, become("two"))
		assert.EqualError(t, err, want)
	}
	long := filepath.Join(dir, strings.Repeat("x", 300))
	assert.EqualError(t, WriteFile(long, nil), long+": file name too long")
	only(t, dir, "lost.toml", "around.toml", "pipe")
}

func TestCreateFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")
	require.NoError(t, CreateFile(path, []byte("one")))
	assert.Equal(t, "one", content(t, path))

	taken := path + " is there already: name another file"
	assert.EqualError(t, CreateFile(path, []byte("two")), taken)
	assert.EqualError(t, Free(path), taken)
	assert.Equal(t, "one", content(t, path))
	link := filepath.Join(dir, "link.toml")
	require.NoError(t, os.Symlink("nowhere.toml", link))
	assert.EqualError(t, CreateFile(link, []byte("two")), link+" is there already: name another file")

	missing := filepath.Join(dir, "missing")
	assert.EqualError(t, CreateFile(filepath.Join(missing, "a.toml"), nil), filepath.Join(missing, "a.toml")+": there is no folder "+missing)
	only(t, dir, "tern.toml", "link.toml")
}

// What comes to be there while the content is written is not replaced.
func TestCreateFileIsOvertaken(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")
	err := locked(path, func(at target) error {
		fill(t, path, "another's")
		return at.put([]byte("one"), create)
	})
	assert.EqualError(t, err, path+" is there already: name another file")
	assert.Equal(t, "another's", content(t, path))
	only(t, dir, "tern.toml")
}

func TestLongNames(t *testing.T) {
	dir := t.TempDir()
	a, b := strings.Repeat("ä", 120)+"1.toml", strings.Repeat("ä", 120)+"2.toml"
	for _, name := range []string{a, b} {
		require.NoError(t, CreateFile(filepath.Join(dir, name), []byte("one")))
		require.NoError(t, WriteFile(filepath.Join(dir, name), []byte("two")))
	}
	assert.NotEqual(t, beside(a, lockSuffix), beside(b, lockSuffix))
	only(t, dir, a, b)
}

// Whatever the program writes for keeps goes through the store.
func TestNobodyElseWrites(t *testing.T) {
	writes := regexp.MustCompile(`\bos\.(Create|WriteFile|Rename|Link)\(`)
	const module = "../../.."
	own, read := filepath.Join(module, "sensito/notebook/store"), 0
	require.NoError(t, filepath.WalkDir(module, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case path == own || d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != module:
			return filepath.SkipDir
		case filepath.Ext(path) == ".go" && !strings.HasSuffix(path, "_test.go"):
			read++
			assert.Empty(t, writes.FindString(content(t, path)), path)
		}
		return nil
	}))
	assert.Greater(t, read, 100)
	assert.Regexp(t, writes, content(t, "store.go"))
}

func BenchmarkUpdate(b *testing.B) {
	for _, size := range []int{4 << 10, 1 << 20} {
		b.Run(fmt.Sprintf("bytes=%d", size), func(b *testing.B) {
			path := filepath.Join(b.TempDir(), "a.toml")
			require.NoError(b, os.WriteFile(path, bytes.Repeat([]byte("#"), size), 0o644))
			for b.Loop() {
				_, err := Update(path, nil, func(old []byte) ([]byte, error) {
					old[0] ^= 1
					return old, nil
				})
				require.NoError(b, err)
			}
		})
	}
}
