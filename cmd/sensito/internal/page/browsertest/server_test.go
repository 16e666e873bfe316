package browsertest

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const patience = time.Minute

const demo = "../../../demo"

// A server is `sensito serve` of a folder, as a program of its own.
type server struct {
	t    testing.TB
	dir  string
	base string // http://127.0.0.1:8000
	cmd  *exec.Cmd
	in   io.Writer
	said chan string // lines of its output
}

// demoNotebook is a folder with the files of the demonstration and one that cannot be read.
func demoNotebook(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "harrow-quay")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demo)))
	require.NoError(t, os.Remove(filepath.Join(dir, "demo.go")))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "torn.toml"), []byte("title = \"torn\n[film"), 0o666))
	return dir
}

// serve starts a server, which is killed at the end of the test.
func serve(t testing.TB, dir string) *server {
	t.Helper()
	s := &server{t: t, dir: dir}
	s.start()
	t.Cleanup(s.kill)
	return s
}

// start starts the program. It has the port that it had before.
func (s *server) start() {
	s.t.Helper()
	s.cmd = exec.Command(built(s.t), "serve", s.dir)
	s.cmd.Env = append(os.Environ(), "XDG_CACHE_HOME="+filepath.Join(folder, "cache")) // where the guard keeps secrets and ports
	out, err := s.cmd.StdoutPipe()
	require.NoError(s.t, err)
	s.in, err = s.cmd.StdinPipe()
	require.NoError(s.t, err)
	require.NoError(s.t, s.cmd.Start())
	said := make(chan string, 100)
	go func() {
		defer close(said)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			said <- lines.Text()
		}
	}()
	s.said = said
	address := s.line()
	base, _, ok := strings.Cut(address, "/?token=")
	require.True(s.t, ok, address)
	s.base = base
}

// line returns the next line that the program says.
func (s *server) line() string {
	s.t.Helper()
	select {
	case line, ok := <-s.said:
		require.True(s.t, ok, "serve has ended")
		return line
	case <-time.After(patience):
		require.Fail(s.t, "serve says nothing")
		return ""
	}
}

// way returns an address that lets one browser in.
func (s *server) way() string {
	s.t.Helper()
	_, err := fmt.Fprintln(s.in)
	require.NoError(s.t, err)
	return s.line()
}

// kill ends the program without a warning.
func (s *server) kill() {
	s.cmd.Process.Kill()
	s.cmd.Wait()
}

// client returns a client that was let in.
func (s *server) client() *http.Client {
	s.t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(s.t, err)
	c := &http.Client{Jar: jar, Timeout: patience}
	answer, err := c.Get(s.way())
	require.NoError(s.t, err)
	answer.Body.Close()
	require.Equal(s.t, http.StatusOK, answer.StatusCode)
	return c
}
