//go:build unix

package store

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/gofrs/flock"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func waitAtMost(t *testing.T, d time.Duration) {
	before := lockWait
	lockWait = d
	t.Cleanup(func() { lockWait = before })
}

func TestWritersTakeTurns(t *testing.T) {
	const writers, each = 6, 8
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "0")
	var wg sync.WaitGroup
	for range writers {
		wg.Go(func() {
			for range each {
				_, err := Update(path, nil, func(old []byte) ([]byte, error) {
					n, err := strconv.Atoi(string(old))
					return []byte(strconv.Itoa(n + 1)), err
				})
				assert.NoError(t, err)
			}
		})
	}
	wg.Wait()
	assert.Equal(t, strconv.Itoa(writers*each), content(t, path))
	only(t, dir, "a.toml")
}

func TestOneCreates(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.toml")
	errs := make([]error, 8)
	var wg sync.WaitGroup
	for i := range errs {
		wg.Go(func() { errs[i] = CreateFile(path, []byte(strconv.Itoa(i))) })
	}
	wg.Wait()
	created := -1
	for i, err := range errs {
		if err == nil {
			assert.Equal(t, -1, created, "two created the file")
			created = i
		} else {
			assert.EqualError(t, err, path+" is there already: name another file")
		}
	}
	assert.Equal(t, strconv.Itoa(created), content(t, path))
	only(t, dir, "a.toml")
}

func TestHeld(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	waitAtMost(t, 40*time.Millisecond)
	c := start(t, "hold", path)
	require.Equal(t, "holding", c.line())

	for _, write := range []func() error{
		func() error { return WriteFile(path, []byte("mine")) },
		func() error { _, err := Update(path, nil, become("mine")); return err },
	} {
		err := write()
		var held *HeldError
		require.ErrorAs(t, err, &held)
		host, hostErr := os.Hostname()
		require.NoError(t, hostErr)
		assert.GreaterOrEqual(t, held.Waited, lockWait)
		assert.Regexp(t, fmt.Sprintf(`^%s is being written by %s, process %d on %s, since 20\d\d-\d\d-\d\d \d\d:\d\d:\d\d [+-]\d{4}; waited [0-9.]+m?s, nothing was written$`,
			regexp.QuoteMeta(path), regexp.QuoteMeta(filepath.Base(os.Args[0])), c.cmd.Process.Pid, regexp.QuoteMeta(host)), err.Error())
	}
	require.NoError(t, WriteFile(filepath.Join(dir, "b.toml"), nil), "another file of the folder")
	assert.Equal(t, "one", content(t, path))

	// One that waits long enough comes after, and sees what was written.
	lockWait = 10 * time.Second
	done := make(chan error)
	go func() {
		_, err := Update(path, nil, func(old []byte) ([]byte, error) { return append(old, " and mine"...), nil })
		done <- err
	}()
	time.Sleep(20 * time.Millisecond)
	require.NoError(t, c.in.Close())
	require.NoError(t, <-done)
	require.NoError(t, c.cmd.Wait())
	assert.Equal(t, "the child's and mine", content(t, path))
	only(t, dir, "a.toml", "b.toml")
}

// A writer that waits for one that is killed goes on at once.
func TestHolderIsKilled(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	c := start(t, "hold", path)
	require.Equal(t, "holding", c.line())
	done := make(chan error)
	go func() { done <- WriteFile(path, []byte("two")) }()
	time.Sleep(20 * time.Millisecond)
	c.kill()
	require.NoError(t, <-done)
	assert.Equal(t, "two", content(t, path))
	only(t, dir, "a.toml")
}

// What a killed writer leaves goes with the next reading of the file or with
// the next writing of any file of the folder.
func TestRemainsAreCleared(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	others := []string{"a.toml", ".a.toml.swp", ".sensito-new.toml", "a.sensito-new", ".d.sensito-new"}
	for _, name := range others[1:4] {
		fill(t, filepath.Join(dir, name), "of another program")
	}
	require.NoError(t, os.Mkdir(filepath.Join(dir, others[4]), 0o700))
	leave := func() {
		for _, name := range []string{"a.toml", "b.toml"} {
			fill(t, beside(filepath.Join(dir, name), lockSuffix), "\x00who was killed\n")
			fill(t, beside(filepath.Join(dir, name), temporarySuffix), "half a fi")
		}
		fill(t, beside(filepath.Join(dir, "c.toml"), temporarySuffix), "without a lock")
		fill(t, beside(filepath.Join(dir, "e.toml"), lockSuffix), "")
	}
	leave()
	_, err := ReadBytes(path)
	require.NoError(t, err)
	assert.NoFileExists(t, beside(path, lockSuffix))
	assert.NoFileExists(t, beside(path, temporarySuffix))
	assert.FileExists(t, beside(filepath.Join(dir, "b.toml"), lockSuffix), "of another file")

	leave()
	Sweep(dir)
	only(t, dir, others...)
	for name, write := range map[string]func() error{
		"Update":    func() error { _, err := Update(path, nil, become("two")); return err },
		"no change": func() error { _, err := Update(path, nil, become("two")); return err },
		"failure":   func() error { _, _ = Update(path, []byte("?"), become("")); return nil },
		"WriteFile": func() error { return WriteFile(path, []byte("three")) },
		"CreateFile": func() error {
			return errors.Join(CreateFile(filepath.Join(dir, "new"), nil), os.Remove(filepath.Join(dir, "new")))
		},
	} {
		leave()
		require.NoError(t, write(), name)
		only(t, dir, others...)
	}
}

// The temporary file of a writer at work is not among the remains.
func TestLiveTemporaryStays(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	require.NoError(t, locked(path, func(at target) error {
		return at.put([]byte("two"), func(from, to string) error {
			Sweep(dir)
			require.NoError(t, WriteFile(filepath.Join(dir, "b.toml"), nil))
			_, err := ReadBytes(path)
			require.NoError(t, err)
			only(t, dir, "a.toml", "b.toml", filepath.Base(from), filepath.Base(beside(path, lockSuffix)))
			return rename(from, to)
		})
	}))
	assert.Equal(t, "two", content(t, path))
	only(t, dir, "a.toml", "b.toml")
}

// Nobody has the lock beside another, whatever file each of them opened.
func TestLockExcludes(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, ".a"+lockSuffix)
	var holders, taken atomic.Int32
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for end := time.Now().Add(200 * time.Millisecond); time.Now().Before(end); {
				l, err := tryLock(name)
				if !assert.NoError(t, err) || l == nil {
					continue
				}
				taken.Add(1)
				if n := holders.Add(1); n != 1 {
					t.Errorf("%d have the lock", n)
				}
				runtime.Gosched()
				holders.Add(-1)
				l.release()
			}
		})
	}
	wg.Wait()
	assert.Greater(t, taken.Load(), int32(100))
	only(t, dir)
}

// A lock file that is not to be found any more locks nothing.
func TestRemovedLockIsNone(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, ".a"+lockSuffix)
	first, err := tryLock(name)
	require.NoError(t, err)
	require.NotNil(t, first)
	require.NoError(t, os.Remove(name))
	second, err := tryLock(name)
	require.NoError(t, err)
	require.NotNil(t, second, "a lock file that nobody can find locks nothing")
	first.flock.Unlock()
	third, err := tryLock(name)
	require.NoError(t, err)
	assert.Nil(t, third, "the second has it")
	second.release()
	only(t, dir)
}

func TestLockFileInTheWay(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.toml")
	lock := beside(path, lockSuffix)
	require.NoError(t, os.Symlink("elsewhere", lock))
	assert.EqualError(t, WriteFile(path, nil), path+": nothing can be written in its folder: "+lock+" is in the way")
	folder := beside(filepath.Join(dir, "b.toml"), temporarySuffix)
	require.NoError(t, os.Mkdir(folder, 0o700))
	assert.EqualError(t, WriteFile(filepath.Join(dir, "b.toml"), nil), filepath.Join(dir, "b.toml")+": file exists; nothing was written")
	only(t, dir, filepath.Base(lock), filepath.Base(folder))
}

// The remains of another user in a folder where nobody may remove what is
// another's are put to use.
func TestLockFileOfAnother(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("only root may give files away")
	}
	dir := t.TempDir()
	require.NoError(t, errors.Join(os.Chmod(filepath.Dir(dir), 0o755), os.Chmod(dir, 0o777|os.ModeSticky)))
	path := filepath.Join(dir, "a.toml")
	fill(t, beside(path, lockSuffix), "\x00who was killed\n")
	c := start(t, "create", path)
	said, err := io.ReadAll(c.out)
	require.NoError(t, err)
	assert.Empty(t, string(said))
	require.NoError(t, WriteFile(path, []byte("root's")))
	only(t, dir, "a.toml")
}

// A lock file is not to be trusted with the terminal.
func TestHolderInWords(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lock")
	for text, want := range map[string]string{
		"\x00sensito enter, process 7\nolder, longer": "sensito enter, process 7",
		"": "another program", "\x00": "another program", "\x00half": "another program", "\x00\n": "another program",
		"\x00\x1b[2J\n": "another program", "\x00\xff\n": "another program",
	} {
		assert.Equal(t, want, holder(fill(t, path, text)), "%q", text)
	}
	assert.Equal(t, "another program", holder(path+"none"))
}

// On a file system without advisory locks writers take turns all the same, and
// one that was killed is not waited for without end.
func TestNoAdvisoryLocks(t *testing.T) {
	for _, none := range []error{syscall.ENOTSUP, syscall.ENOSYS, syscall.ENOLCK} {
		assert.True(t, noLocks(&fs.PathError{Op: "flock", Path: "a", Err: none}))
	}
	assert.False(t, noLocks(syscall.EACCES))
	before := tryFlock
	tryFlock = func(f *flock.Flock) (bool, error) {
		_, err := os.OpenFile(f.Path(), os.O_CREATE|os.O_RDONLY, 0o666)
		return false, errors.Join(err, &fs.PathError{Op: "flock", Path: f.Path(), Err: syscall.ENOLCK})
	}
	t.Cleanup(func() { tryFlock = before })
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "0")
	assert.True(t, Unlocked(path))
	waitAtMost(t, 2*time.Second)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 5 {
				_, err := Update(path, nil, func(old []byte) ([]byte, error) {
					n, err := strconv.Atoi(string(old))
					return []byte(strconv.Itoa(n + 1)), err
				})
				assert.NoError(t, err)
			}
		})
	}
	wg.Wait()
	assert.Equal(t, "20", content(t, path))
	only(t, dir, "a.toml")

	lockWait = 400 * time.Millisecond
	fill(t, beside(path, heldSuffix), "\x00sensito enter, process 7\n")
	fill(t, beside(path, temporarySuffix), "half of a fi")
	require.NoError(t, WriteFile(path, []byte("after the one that was killed")))
	only(t, dir, "a.toml")

	// One that is at work is waited for, and told.
	l, err := createLock(beside(path, heldSuffix))
	require.NoError(t, err)
	done := make(chan struct{})
	wg.Go(func() {
		for i := 0; ; i++ {
			editorSaves(t, beside(path, heldSuffix), fmt.Sprintf("\x00sensito enter, process %d\n", i))
			select {
			case <-done:
				return
			case <-time.After(10 * time.Millisecond):
			}
		}
	})
	var held *HeldError
	require.ErrorAs(t, WriteFile(path, []byte("mine")), &held)
	assert.Regexp(t, `^sensito enter, process \d+$`, held.Holder)
	close(done)
	wg.Wait()
	l.release()
	tryFlock = before
	assert.False(t, Unlocked(path))
	only(t, dir, "a.toml")
}
