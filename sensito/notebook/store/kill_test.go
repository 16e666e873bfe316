//go:build unix

package store

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// times returns how often to do what a variable of the environment can deepen.
func times(variable string, otherwise int) int {
	if n, err := strconv.Atoi(os.Getenv(variable)); err == nil {
		return n
	}
	return otherwise
}

// A child is this test binary as another process.
type child struct {
	t   *testing.T
	cmd *exec.Cmd
	in  io.WriteCloser
	out *bufio.Reader
}

const childRole = "SENSITO_STORE_CHILD"

func start(t *testing.T, role string, args ...string) *child {
	cmd := exec.Command(os.Args[0], append([]string{"-test.run=^TestChild$", "--"}, args...)...)
	cmd.Env = append(os.Environ(), childRole+"="+role)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	return &child{t: t, cmd: cmd, in: in, out: bufio.NewReader(out)}
}

func (c *child) line() string {
	line, err := c.out.ReadString('\n')
	require.NoError(c.t, err)
	return strings.TrimSuffix(line, "\n")
}

// kill ends the child at once and returns what it had said by then.
func (c *child) kill() string {
	require.NoError(c.t, c.cmd.Process.Kill())
	said, err := io.ReadAll(c.out)
	require.NoError(c.t, err)
	_ = c.cmd.Wait()
	return string(said)
}

// TestChild is what a child does; there is no test in it.
func TestChild(t *testing.T) {
	role, ok := os.LookupEnv(childRole)
	if !ok {
		t.Skip("of the tests with several processes")
	}
	args := os.Args[len(os.Args)-1:]
	path := args[0]
	var err error
	switch role {
	case "hold":
		_, err = Update(path, nil, func([]byte) ([]byte, error) {
			fmt.Println("holding")
			_, err := io.Copy(io.Discard, os.Stdin)
			return []byte("the child's"), err
		})
	case "versions":
		err = writeVersions(path)
	case "append":
		_, err = io.Copy(io.Discard, os.Stdin) // until told to begin
		for i := 0; err == nil && i < times("SENSITO_WRITERS", defaultAppends); i++ {
			_, err = Update(path, nil, func(old []byte) ([]byte, error) { return fmt.Appendf(old, "%d-%d\n", os.Getpid(), i), nil })
		}
	case "full":
		limit := syscall.Rlimit{Cur: fullAt, Max: fullAt}
		err = errors.Join(syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit), writeAll(path))
	case "powerless":
		err = errors.Join(giveUpPowers(), writeAll(path))
	case "create":
		err = errors.Join(giveUpPowers(), CreateFile(path, []byte("one")))
	}
	if err != nil {
		fmt.Println(err)
	}
	os.Exit(0)
}

func giveUpPowers() error {
	if os.Getuid() != 0 {
		return nil
	}
	return errors.Join(syscall.Setgid(65534), syscall.Setuid(65534))
}

// A version is a text that shows whether it is whole.
func version(n int) []byte {
	body := bytes.Repeat([]byte{byte('a' + n%26)}, 1+n*7919%150_000)
	return fmt.Appendf(nil, "%d %d %d\n%s", n, len(body), crc32.ChecksumIEEE(body), body)
}

func whole(text []byte) (n int, err error) {
	head, body, _ := bytes.Cut(text, []byte("\n"))
	var size int
	var sum uint32
	if _, err := fmt.Sscanf(string(head), "%d %d %d", &n, &size, &sum); err != nil {
		return 0, err
	}
	if size != len(body) || sum != crc32.ChecksumIEEE(body) {
		return 0, fmt.Errorf("version %d is not whole", n)
	}
	return n, nil
}

func next(old []byte) ([]byte, error) {
	n, err := whole(old)
	return version(n + 1), err
}

// writeVersions replaces the file by its next version over and over, says so
// each time, and creates a copy of each.
func writeVersions(path string) error {
	fmt.Println("ready")
	for {
		text, err := Update(path, nil, next)
		if err != nil {
			return err
		}
		n, _ := whole(text)
		fmt.Println(n)
		if err := os.Remove(path + ".copy"); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if err := CreateFile(path+".copy", text); err != nil {
			return err
		}
	}
}

// A writer killed at any moment leaves the old file or the new one, whole, and
// nothing else once the next has been at work.
func TestKilledWriter(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.toml")
	require.NoError(t, os.WriteFile(path, version(0), 0o604))
	require.NoError(t, os.Chmod(path, 0o604))
	rounds, versions, locks, temporaries := times("SENSITO_KILLS", 30), 0, 0, 0
	if testing.Short() {
		rounds = 5
	}
	for round := range rounds {
		before, err := whole([]byte(content(t, path)))
		require.NoError(t, err)
		c := start(t, "versions", path)
		require.Equal(t, "ready", c.line())
		time.Sleep(time.Duration(rand.ExpFloat64() * float64(20*time.Millisecond)))
		said := strings.Split(c.kill(), "\n")
		acknowledged := before
		if len(said) > 1 { // the last is empty or cut off
			acknowledged, err = strconv.Atoi(said[len(said)-2])
			require.NoError(t, err, "%q", said)
		}

		found, err := whole([]byte(content(t, path)))
		require.NoError(t, err)
		require.Contains(t, []int{acknowledged, acknowledged + 1}, found, "neither the old version nor the new")
		require.Equal(t, fs.FileMode(0o604), permissions(t, path))
		copied, err := os.ReadFile(path + ".copy")
		if err == nil {
			_, err = whole(copied)
			require.NoError(t, err)
		} else {
			require.ErrorIs(t, err, fs.ErrNotExist)
		}
		if old, err := os.ReadFile(Before(path)); err == nil {
			_, err = whole(old)
			require.NoError(t, err, "the version before")
		}
		versions += found - before
		for suffix, count := range map[string]*int{lockSuffix: &locks, temporarySuffix: &temporaries} {
			left, err := filepath.Glob(filepath.Join(dir, ".*"+suffix))
			require.NoError(t, err)
			*count += len(left)
		}

		if round%2 == 0 {
			_, err = Update(path, nil, next)
		} else {
			err = WriteFile(filepath.Join(dir, "b.toml"), nil)
			require.NoError(t, errors.Join(err, os.Remove(filepath.Join(dir, "b.toml"))))
		}
		require.NoError(t, err)
		if err := os.Remove(path + ".copy"); err != nil {
			require.ErrorIs(t, err, fs.ErrNotExist)
		}
		only(t, dir, "a.toml")
	}
	t.Logf("%d writers killed after %d versions; %d lock files and %d temporary files were left and cleared", rounds, versions, locks, temporaries)
	assert.Positive(t, versions)
	assert.Positive(t, locks, "no writer was killed while it wrote")
}

const defaultAppends = 15

func TestTwoProcessesAppend(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "log.toml"), "# Kept by hand.\n")
	var children []*child
	for range 2 {
		children = append(children, start(t, "append", path))
	}
	for _, c := range children {
		require.NoError(t, c.in.Close())
	}
	each := times("SENSITO_WRITERS", defaultAppends)
	for _, c := range children {
		said, err := io.ReadAll(c.out)
		require.NoError(t, err)
		assert.Empty(t, string(said))
		require.NoError(t, c.cmd.Wait())
	}
	lines := strings.Fields(strings.TrimPrefix(content(t, path), "# Kept by hand.\n"))
	got := map[string][]string{}
	turns, last := 0, ""
	for _, line := range lines {
		who, number, _ := strings.Cut(line, "-")
		got[who] = append(got[who], number)
		if who != last {
			turns, last = turns+1, who
		}
	}
	for _, c := range children {
		var want []string
		for i := range each {
			want = append(want, strconv.Itoa(i))
		}
		assert.Equal(t, want, got[strconv.Itoa(c.cmd.Process.Pid)])
	}
	require.Len(t, lines, 2*each)
	t.Logf("%d lines, in %d turns", 2*each, turns)
	assert.Greater(t, turns, 2, "the processes wrote one after the other")
	assert.Contains(t, content(t, path), "# Kept by hand.\n")
	only(t, dir, "log.toml")
}

const fullAt = 5000 // bytes, of files in a child that finds the disk full

// writeAll tries every way to write more than fits, and says how each failed.
func writeAll(path string) error {
	large := make([]byte, 100_000)
	_, err := Update(path, nil, func([]byte) ([]byte, error) { return large, nil })
	return errors.Join(err, WriteFile(path, large), CreateFile(path+".new", large))
}

func TestNoRoom(t *testing.T) {
	dir := t.TempDir()
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	said, err := io.ReadAll(start(t, "full", path).out)
	require.NoError(t, err)
	kept := path + ": file too large; the file is as it was\n"
	assert.Equal(t, kept+kept+path+".new: file too large; nothing was written\n", string(said))
	assert.Equal(t, "one", content(t, path))
	only(t, dir, "a.toml")
}

// TestFullDisk writes to a small file system until it is full, where there is
// one to be had: SENSITO_SMALL_DISK names a folder on it.
func TestFullDisk(t *testing.T) {
	dir := os.Getenv("SENSITO_SMALL_DISK")
	if dir == "" {
		t.Skip("SENSITO_SMALL_DISK names no folder")
	}
	path := filepath.Join(dir, "a.toml")
	kept := []byte("0")
	var err error
	for size := 1 << 10; err == nil; size *= 2 {
		require.Less(t, size, 1<<30, "the disk is not small")
		text := bytes.Repeat([]byte("x"), size)
		if err = WriteFile(path, text); err == nil {
			kept = text
		}
	}
	assert.EqualError(t, err, path+": no space left on device; the file is as it was")
	assert.Equal(t, string(kept), content(t, path))
	_, err = Update(path, nil, func(old []byte) ([]byte, error) { return bytes.Repeat(old, 3), nil })
	assert.ErrorIs(t, err, syscall.ENOSPC)
	assert.ErrorIs(t, CreateFile(path+".new", bytes.Repeat(kept, 3)), syscall.ENOSPC)
	assert.Equal(t, string(kept), content(t, path))
	only(t, dir, "a.toml")
}

func TestReadOnly(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755)) // for who has no powers
	path := fill(t, filepath.Join(dir, "a.toml"), "one")
	try := func(folder, file fs.FileMode) string {
		require.NoError(t, errors.Join(os.Chmod(path, file), os.Chmod(dir, folder)))
		said, err := io.ReadAll(start(t, "powerless", path).out)
		require.NoError(t, errors.Join(err, os.Chmod(dir, 0o755)))
		assert.Equal(t, "one", content(t, path))
		only(t, dir, "a.toml")
		return string(said)
	}
	folder := ": nothing can be written in its folder: permission denied\n"
	file := path + " cannot be written: permission denied\n"
	assert.Equal(t, path+folder+path+folder+path+".new"+folder, try(0o555, 0o666), "a folder")
	assert.Equal(t, file+file+path+".new"+folder, try(0o555, 0o444), "a folder and a file")
	require.NoError(t, os.Mkdir(filepath.Join(dir, "in"), 0o777))
	require.NoError(t, os.Chmod(filepath.Join(dir, "in"), 0o777))
	in := fill(t, filepath.Join(dir, "in", "a.toml"), "one")
	require.NoError(t, os.Chmod(in, 0o444))
	said, err := io.ReadAll(start(t, "powerless", in).out)
	require.NoError(t, err)
	file = in + " cannot be written: permission denied\n"
	assert.Equal(t, file+file, string(said), "a file")
	assert.Equal(t, "one", content(t, in))
	only(t, filepath.Join(dir, "in"), "a.toml", "a.toml.new")
}
