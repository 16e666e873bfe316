//go:build linux || darwin

package main

import (
	"bufio"
	"bytes"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A running is a command that runs, with nobody at a terminal.
type running struct {
	t      *testing.T
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *bufio.Reader
	errOut bytes.Buffer
}

// heeded lets programs that are started have the signals that end a command, even
// where the tests themselves run under nohup or in the background of a script:
// what is caught here, a program gets unchanged, what is ignored stays ignored.
var heeded = sync.OnceFunc(func() {
	for sig := range codes {
		if signal.Ignored(sig) {
			signal.Notify(make(chan os.Signal, 1), sig)
		}
	}
})

// begin starts a program in a folder.
func begin(t *testing.T, dir, program string, args ...string) *running {
	t.Helper()
	heeded()
	r := &running{t: t, cmd: exec.Command(program, args...)}
	r.cmd.Dir = dir
	r.cmd.Stderr = &r.errOut
	var err error
	r.in, err = r.cmd.StdinPipe()
	require.NoError(t, err)
	out, err := r.cmd.StdoutPipe()
	require.NoError(t, err)
	r.out = bufio.NewReader(out)
	require.NoError(t, r.cmd.Start())
	t.Cleanup(func() { _ = r.cmd.Process.Kill() }) // unless it has ended
	return r
}

func (r *running) types(text string) {
	r.t.Helper()
	_, err := io.WriteString(r.in, text)
	require.NoError(r.t, err)
}

// says waits for a line on standard output.
func (r *running) says(want string) {
	r.t.Helper()
	line, err := r.out.ReadString('\n')
	require.NoError(r.t, err)
	require.Equal(r.t, want+"\n", line)
}

func (r *running) signal(s os.Signal) {
	r.t.Helper()
	require.NoError(r.t, r.cmd.Process.Signal(s))
}

// ends waits for the end, and returns the exit code and what was said.
func (r *running) ends() (code int, out, errOut string) {
	r.t.Helper()
	rest, err := io.ReadAll(r.out)
	require.NoError(r.t, err)
	_ = r.cmd.Wait() // the code says it
	return r.cmd.ProcessState.ExitCode(), string(rest), r.errOut.String()
}

// eventually waits for something that a busy machine may take long to do.
func eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for deadline := time.Now().Add(patience); !is(); time.Sleep(2 * time.Millisecond) {
		require.True(t, time.Now().Before(deadline), what)
	}
}

// densitiesIn returns the readings of the last strip of a file.
func densitiesIn(path string) []sensito.Density {
	trial, err := notebook.ReadFile(path)
	if err != nil {
		return nil
	}
	strips := trial.Strips()
	var read []sensito.Density
	for _, step := range strips[len(strips)-1].Steps() {
		if step.Read() {
			read = append(read, step.Density)
		}
	}
	return read
}

var codes = map[syscall.Signal]int{syscall.SIGINT: 130, syscall.SIGTERM: 143, syscall.SIGHUP: 129}

// A signal ends a command in every phase: while it computes or reads, at once;
// while it saves, when that is done, and nothing more is saved.
func TestSignals(t *testing.T) {
	t.Parallel()
	for sig, code := range codes {
		t.Run(sig.String(), func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			r := begin(t, dir, "sensito-waiting", "compute")
			r.says("computing")
			r.signal(sig)
			got, out, errOut := r.ends()
			assert.Equal(t, code, got)
			assert.Empty(t, out)
			assert.Equal(t, "sensito: interrupted; nothing was written\n", errOut)

			r = begin(t, dir, "sensito-waiting", "save")
			r.says("saving")
			r.types("all of ")
			r.signal(sig)
			time.Sleep(50 * time.Millisecond) // were it not waited for, it would end now
			r.types("it")
			require.NoError(t, r.in.Close())
			got, _, errOut = r.ends()
			assert.Equal(t, code, got)
			assert.Equal(t, "sensito: interrupted; what was saved is in kept.txt\n", errOut)
			text, err := os.ReadFile(filepath.Join(dir, "kept.txt"))
			require.NoError(t, err)
			assert.Equal(t, "all of it", string(text))
			assert.NoFileExists(t, filepath.Join(dir, "second.txt"))

			// A second signal does not wait.
			dir = t.TempDir()
			r = begin(t, dir, "sensito-waiting", "save")
			r.says("saving")
			r.signal(sig)
			for range 100 { // two that come at once are one
				time.Sleep(5 * time.Millisecond)
				if r.cmd.Process.Signal(sig) != nil {
					break
				}
			}
			got, _, _ = r.ends()
			assert.Equal(t, code, got)
			assert.NoFileExists(t, filepath.Join(dir, "kept.txt"))
		})
	}
}

// While a real command computes one trial after the other.
func TestInterruptedWhileComputing(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	r := begin(t, dir, "sensito", append([]string{"curve", "--json"}, slices.Repeat([]string{demoCamera}, 3000)...)...)
	_, err := r.out.ReadString('\n')
	require.NoError(t, err)
	r.signal(os.Interrupt)
	code, _, errOut := r.ends()
	assert.Equal(t, 130, code)
	assert.Equal(t, "sensito: interrupted; nothing was written\n", errOut)
}

// Readings that come through a pipe, interrupted before the first of them and
// within the strip: what was read is kept, and enter goes on there.
func TestEnterInterruptedInAPipe(t *testing.T) {
	t.Parallel()
	for sig, code := range codes {
		t.Run(sig.String(), func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			path := filepath.Join(dir, "tern.toml")
			r := begin(t, dir, "sensito", append([]string{"enter", "tern.toml"}, ofShort...)...)
			eventually(t, "no trial", func() bool { _, err := os.Stat(path); return err == nil })
			r.signal(sig)
			got, _, errOut := r.ends()
			assert.Equal(t, code, got)
			assert.Contains(t, errOut, "sensito: interrupted; what was saved is in tern.toml\n")

			r = begin(t, dir, "sensito", "enter", "tern.toml")
			r.types("fog 0.10 0.11\n2.04\n1.73\n1.4") // and half of a line
			eventually(t, "no readings", func() bool { return len(densitiesIn(path)) == 2 })
			r.signal(sig)
			got, out, errOut := r.ends()
			assert.Equal(t, code, got)
			assert.Equal(t, "Strip 1, 9:30 min: 2 of 6 steps read\n", out)
			assert.Equal(t, "Strip 1 goes on at step 3 of 6: sensito enter tern.toml\n"+
				"sensito: interrupted; what was saved is in tern.toml\n", errOut)

			r = begin(t, dir, "sensito", "enter", "tern.toml")
			r.types("1.40\n1.05\n0.66\n0.33\n")
			require.NoError(t, r.in.Close())
			got, _, errOut = r.ends()
			assert.Equal(t, console.ExitDone, got, errOut)
			assert.Equal(t, []sensito.Density{2.04, 1.73, 1.40, 1.05, 0.66, 0.33}, densitiesIn(path))
		})
	}
}

// While another program keeps the file: the reading is saved first.
func TestEnterInterruptedWhileSaving(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")
	r := begin(t, dir, "sensito", append([]string{"enter", "tern.toml"}, ofShort...)...)
	r.types("2.04\n")
	eventually(t, "no reading", func() bool { return len(densitiesIn(path)) == 1 })
	_, err := store.Update(path, nil, func(old []byte) ([]byte, error) {
		r.types("1.73\n")
		time.Sleep(300 * time.Millisecond) // until enter waits for the file
		r.signal(os.Interrupt)
		time.Sleep(100 * time.Millisecond)
		return old, nil
	})
	require.NoError(t, err)
	code, _, errOut := r.ends()
	assert.Equal(t, 130, code)
	assert.Contains(t, errOut, "Strip 1 goes on at step 3 of 6")
	assert.Equal(t, []sensito.Density{2.04, 1.73}, densitiesIn(path))
}

// At a terminal, a form leaves the screen as it was, and nothing is written.
func TestFormTerminated(t *testing.T) {
	t.Parallel()
	for _, plain := range []string{"--plain=false", "--plain"} {
		s, path := importing(t, numberedTable, plain)
		s.shown("development times in minutes or the numbers of the strips")
		require.NoError(t, s.cmd.Process.Signal(syscall.SIGTERM))
		require.EqualError(t, <-s.ended, "exit status 143")
		assert.Contains(t, s.shows(), "sensito: interrupted; nothing was written")
		assert.NoFileExists(t, path)
	}
}

// A signal that was ignored from the start stays so, as nohup wants.
func TestHangupIgnored(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")
	r := begin(t, dir, "sh", "-c", `trap "" HUP; exec sensito enter tern.toml `+strings.Join(ofShort, " "))
	r.types("2.04\n")
	eventually(t, "no reading", func() bool { return len(densitiesIn(path)) == 1 })
	r.signal(syscall.SIGHUP)
	r.types("1.73\nstop\n")
	code, _, errOut := r.ends()
	assert.Equal(t, console.ExitDone, code, errOut)
	assert.Len(t, densitiesIn(path), 2)
}

// Nobody reads the output: as shells expect, and told where a file was written.
func TestOutputNobodyReads(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	for _, c := range []struct {
		args []string
		code int
		said string
	}{
		{[]string{"ls"}, 141, ""},
		{[]string{"curve", demoCamera}, 141, ""},
		{[]string{"--help"}, 141, ""},
		{[]string{"sheet", demoCamera, "--done", "--minutes", "6", "--date", "2026-03-05"}, 3,
			"sensito: saved in " + demoCamera + ", but not shown: standard output: broken pipe\n"},
	} {
		gone, out, err := os.Pipe()
		require.NoError(t, err)
		require.NoError(t, gone.Close())
		var errOut bytes.Buffer
		cmd := exec.Command("sensito", c.args...)
		cmd.Dir, cmd.Stdout, cmd.Stderr = dir, out, &errOut
		require.Error(t, cmd.Run())
		require.NoError(t, out.Close())
		assert.Equal(t, c.code, cmd.ProcessState.ExitCode(), c.args)
		assert.Equal(t, c.said, errOut.String(), c.args)
	}
}

// unattended is enter with readings from a serial line, and nobody at a terminal.
func unattended(t *testing.T, args ...string) (r *running, near *os.File, path string) {
	t.Helper()
	near, far, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { near.Close() })
	dir := t.TempDir()
	path = filepath.Join(dir, "tern.toml")
	all := append([]string{"enter", "tern.toml", "--from", far.Name(), "--fog", "0"}, ofShort...)
	r = begin(t, dir, "sensito", append(all, args...)...)
	// The far end must not close before the command has it.
	eventually(t, "no trial", func() bool { _, err := os.Stat(path); return err == nil })
	time.Sleep(200 * time.Millisecond)
	require.NoError(t, far.Close())
	return r, near, path
}

// A strip that is complete ends a session with nobody at a terminal, and noise on
// the line does not; a setting that is wrong does, and so does a reading too many.
func TestEnterUnattended(t *testing.T) {
	t.Parallel()
	sends := func(t *testing.T, r *running, near *os.File, path string, lines ...string) {
		for _, line := range lines {
			n := len(densitiesIn(path))
			send(t, near, line+"\r\n")
			if strings.HasPrefix(line, "D ") && n < 6 {
				eventually(t, line, func() bool { return len(densitiesIn(path)) == n+1 })
			}
		}
	}
	t.Run("noise", func(t *testing.T) {
		t.Parallel()
		r, near, path := unattended(t)
		sends(t, r, near, path, "\xf3\x82\xb1", "D 2.04", "\xfe\x8e\xae", "D 1.73", "LOW BATTERY", "D 1.40", "D 1.05", "1.\xb4\xb5 \x80", "D 0.66", "D 0.33")
		code, out, errOut := r.ends()
		assert.Equal(t, console.ExitDone, code, errOut)
		assert.Contains(t, out, "Strip 1, 9:30 min: 6 of 6 steps read\n")
		assert.Contains(t, errOut, "if that was a reading, take it again: step 5 of 6 comes next\n")
		assert.Equal(t, []sensito.Density{2.04, 1.73, 1.40, 1.05, 0.66, 0.33}, densitiesIn(path))
	})
	t.Run("wrong speed", func(t *testing.T) {
		t.Parallel()
		r, near, path := unattended(t)
		sends(t, r, near, path, "D 2.04", "\xb1\xae", "\xb2\xaf", "\xb3\xae")
		code, _, errOut := r.ends()
		assert.Equal(t, console.ExitData, code)
		assert.Contains(t, errOut, "see that --baud, --bits and --parity are those of the instrument\n")
		assert.Len(t, densitiesIn(path), 1)
	})
	t.Run("one too many", func(t *testing.T) {
		t.Parallel()
		r, near, path := unattended(t)
		sends(t, r, near, path, "D 2.04", "D 1.73", "D 1.40", "D 1.05", "D 0.66", "D 0.33")
		time.Sleep(500 * time.Millisecond) // as a person takes it
		sends(t, r, near, path, "D 0.12")
		code, _, errOut := r.ends()
		assert.Equal(t, console.ExitData, code)
		assert.Contains(t, errOut, "Strip 1 goes on at step 1 of 6")
		assert.Contains(t, errOut, ":7: 0.12 comes after the last of 6 steps")
		assert.Len(t, densitiesIn(path), 6)
	})
	t.Run("unplugged", func(t *testing.T) {
		t.Parallel()
		r, near, path := unattended(t)
		sends(t, r, near, path, "D 2.04", "D 1.73")
		require.NoError(t, near.Close())
		code, out, errOut := r.ends()
		assert.Equal(t, console.ExitCutOff, code)
		assert.Contains(t, out, "2 of 6 steps read")
		assert.Contains(t, errOut, "the instrument is gone, unplugged or switched off")
	})
	t.Run("interrupted", func(t *testing.T) {
		t.Parallel()
		r, near, path := unattended(t)
		sends(t, r, near, path, "D 2.04")
		r.signal(os.Interrupt)
		code, _, errOut := r.ends()
		assert.Equal(t, 130, code)
		assert.Contains(t, errOut, "Strip 1 goes on at step 2 of 6")
	})
}
