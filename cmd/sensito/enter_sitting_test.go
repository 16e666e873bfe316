//go:build linux || darwin

package main

import (
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	uv "github.com/charmbracelet/ultraviolet"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"github.com/stretchr/testify/require"
)

// A sitting is a command run by a person at a terminal: keys in, screen out.
type sitting struct {
	t      *testing.T
	cmd    *exec.Cmd
	keys   *os.File
	screen *vt.Emulator
	mu     sync.Mutex // of screen
	ended  chan error
}

// sit starts sensito at a terminal of 100 columns, in a folder.
func sit(t *testing.T, dir string, args ...string) *sitting {
	t.Helper()
	s := &sitting{t: t, screen: vt.NewEmulator(100, 40), ended: make(chan error, 1)}
	s.cmd = exec.Command("sensito", args...)
	s.cmd.Dir = dir
	s.cmd.Env = append(os.Environ(), "TERM=xterm-256color", "NO_COLOR=")
	var err error
	s.keys, err = pty.StartWithSize(s.cmd, &pty.Winsize{Rows: 40, Cols: 100})
	require.NoError(t, err)
	go io.Copy(s.keys, s.screen) // what a terminal answers when it is asked
	shown := make(chan struct{})
	go func() {
		defer close(shown)
		buffer := make([]byte, 4096)
		for {
			n, err := s.keys.Read(buffer)
			s.mu.Lock()
			s.screen.Write(buffer[:n])
			s.mu.Unlock()
			if err != nil { // the command has gone
				return
			}
		}
	}()
	go func() {
		<-shown
		s.ended <- s.cmd.Wait()
	}()
	t.Cleanup(func() {
		_ = s.cmd.Process.Kill() // unless it has ended
		s.keys.Close()
		s.screen.InputPipe().(io.Closer).Close() // its own Close races with its Read
	})
	return s
}

// shows returns what the screen shows, without blanks at the ends of lines.
func (s *sitting) shows() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []string
	for line := range strings.Lines(s.screen.String()) {
		out = append(out, strings.TrimRight(line, " \r\n"))
	}
	return strings.Trim(strings.Join(out, "\n"), "\n")
}

// patience is how long a busy machine may take to show something.
const patience = 60 * time.Second

// bold says whether the line that starts with a text stands out.
func (s *sitting) bold(start string) bool {
	s.t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	for y, line := range strings.Split(s.screen.String(), "\n") {
		if strings.HasPrefix(line, start) {
			return s.screen.CellAt(0, y).Style.Attrs&uv.AttrBold != 0
		}
	}
	require.Fail(s.t, "no such line", start)
	return false
}

// sees waits until the last line of the screen holds a text.
func (s *sitting) sees(text string) {
	s.t.Helper()
	deadline := time.Now().Add(patience)
	for {
		screen := s.shows()
		if strings.Contains(screen[strings.LastIndex(screen, "\n")+1:], text) {
			return
		}
		require.True(s.t, time.Now().Before(deadline), "%q is not on the last line of:\n%s", text, screen)
		time.Sleep(5 * time.Millisecond)
	}
}

// shown waits until a text is anywhere on the screen.
func (s *sitting) shown(text string) {
	s.t.Helper()
	for deadline := time.Now().Add(patience); !strings.Contains(s.shows(), text); time.Sleep(5 * time.Millisecond) {
		require.True(s.t, time.Now().Before(deadline), "%q is not on the screen:\n%s", text, s.shows())
	}
}

// sawAll waits until the screen shows exactly this.
func (s *sitting) sawAll(text string) {
	s.t.Helper()
	deadline := time.Now().Add(patience)
	for s.shows() != text && time.Now().Before(deadline) {
		time.Sleep(5 * time.Millisecond)
	}
	require.Equal(s.t, text, s.shows())
}

// types types keys once the last line of the screen holds a text.
func (s *sitting) types(prompt, keys string) {
	s.t.Helper()
	s.sees(prompt)
	_, err := s.keys.WriteString(keys)
	require.NoError(s.t, err)
}

// line types a line, which ends with Enter, once the last line of the screen holds a
// text.
func (s *sitting) line(prompt, text string) {
	s.t.Helper()
	s.types(prompt, text+enterKey)
}

// leaves waits for the end of the command, which must succeed.
func (s *sitting) leaves() {
	s.t.Helper()
	select {
	case err := <-s.ended:
		require.NoError(s.t, err, s.shows())
	case <-time.After(patience):
		require.Fail(s.t, "the command does not end", s.shows())
	}
}

// isInterrupted waits for the end of the command by Ctrl-C.
func (s *sitting) isInterrupted() {
	s.t.Helper()
	select {
	case err := <-s.ended:
		require.EqualError(s.t, err, "exit status 130", s.shows())
	case <-time.After(patience):
		require.Fail(s.t, "the command does not end", s.shows())
	}
}

const (
	enterKey = "\r"
	ctrlC    = "\x03"
	ctrlD    = "\x04"
	down     = "\x1b[B"
)

// erase takes away what a question proposes.
const erase = "\x15" // Ctrl-U

// answer fills in the question of a form that has the focus, and goes on.
func (s *sitting) answer(question, keys string) {
	s.t.Helper()
	s.shown("┃ " + question)
	_, err := s.keys.WriteString(keys + enterKey)
	require.NoError(s.t, err)
}
