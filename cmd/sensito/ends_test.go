package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/demo"
	"sensito/cmd/sensito/internal/console"
)

// waiting is sensito with commands that take their time.
func waiting() { os.Exit(console.Main(newWaitingRoot, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// newWaitingRoot returns commands that say on standard output when they have
// come to a phase: compute, which takes all of a processor and has no end, and
// save, whose writing lasts until standard input ends.
func newWaitingRoot(s console.Streams) *cobra.Command {
	root := &cobra.Command{Use: "sensito", SilenceErrors: true, SilenceUsage: true}
	say := func(text string) error {
		_, err := io.WriteString(s.Out, text+"\n")
		return err
	}
	root.AddCommand(&cobra.Command{Use: "compute", RunE: func(*cobra.Command, []string) error {
		if err := say("computing"); err != nil {
			return err
		}
		for x := 0; ; x++ {
			if x < 0 {
				x = 0
			}
		}
	}}, &cobra.Command{Use: "save", RunE: func(*cobra.Command, []string) error {
		if err := s.Save("kept.txt", func() error {
			err := say("saving")
			data, err2 := io.ReadAll(s.In)
			return errors.Join(err, err2, os.WriteFile("kept.txt", data, 0o600))
		}); err != nil {
			return err
		}
		return s.Save("second.txt", func() error { return os.WriteFile("second.txt", nil, 0o600) })
	}})
	return root
}

// ofShort are the flags of a trial of six steps, step 1 the one exposed most.
var ofShort = strings.Fields("--film Tern --wedge-count 6 --wedge-step 0.5 --lux 2 --seconds 0.5 --minutes 9:30")

// full is a stream that takes so many bytes and no more, or fails when it is
// closed.
type full struct {
	bytes.Buffer
	room    int
	closing error
}

func (f *full) Write(p []byte) (int, error) {
	n := min(len(p), f.room)
	f.room -= n
	f.Buffer.Write(p[:n])
	if n < len(p) {
		return n, errors.New("no room")
	}
	return n, nil
}

func (f *full) Close() error { return f.closing }

// What nobody looks at while writing still decides how a command ends: help, notes,
// the end of a long text, and what a file system tells only at the end.
func TestStreamsThatFail(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	film := filepath.Join(dir, demoCamera)
	for _, c := range []struct {
		name   string
		args   []string
		room   int // of standard output
		notes  int // of standard error
		close  error
		code   int
		errOut string
	}{
		{"enough room", []string{"curve", film}, 1e6, 1e6, nil, console.ExitDone, ""},
		{"help", []string{"--help"}, 0, 1e6, nil, console.ExitCutOff, "sensito: standard output: no room\n"},
		{"help of a command", []string{"scene", "--help"}, 700, 1e6, nil, console.ExitCutOff, "sensito: standard output: no room\n"},
		{"the end of a text", []string{"curve", film}, 200, 1e6, nil, console.ExitCutOff, "sensito: standard output: no room\n"},
		{"closing", []string{"curve", film}, 1e6, 1e6, errors.New("quota exceeded"), console.ExitCutOff, "sensito: standard output: quota exceeded\n"},
		{"a fault that cannot be told", []string{"curve", "missing.toml"}, 1e6, 0, nil, console.ExitData, ""},
		{"a usage that cannot be told", []string{"bake"}, 1e6, 0, nil, console.ExitUsage, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, errOut := &full{room: c.room, closing: c.close}, &full{room: c.notes}
			assert.Equal(t, c.code, run(c.args, nil, out, errOut))
			assert.Equal(t, c.errOut, errOut.String())
		})
	}
}

// The help of every command is output like any other.
func TestHelpThatCannotBeShown(t *testing.T) {
	for _, cmd := range newRootCmd(console.New(nil, io.Discard, io.Discard)).Commands() {
		for _, args := range [][]string{{cmd.Name(), "--help"}, {"help", cmd.Name()}} {
			var errOut bytes.Buffer
			assert.Equal(t, console.ExitCutOff, run(args, nil, &full{room: 100}, &errOut), args)
			assert.Equal(t, "sensito: standard output: no room\n", errOut.String(), args)
		}
	}
}

// Once a file is written, that it cannot be told is another end than that nothing
// came of the command.
func TestSavedButNotShown(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	t.Chdir(dir)
	for _, c := range []struct {
		args   []string
		file   string
		out    int // room of standard output
		errOut int // of standard error
	}{
		{[]string{"sheet", demoCamera, "--done", "--minutes", "6", "--date", "2026-03-05"}, demoCamera, 0, 1e6},
		{[]string{"control", "control.toml", "--add", "--date", "2026-06-08", "--base-fog", "0.12", "--low", "0.38", "--high", "1.21"}, "control.toml", 0, 1e6},
		{[]string{"enter", demoCamera, "--undo"}, demoCamera, 0, 1e6}, // once: twice would take that back
		{[]string{"sheet", "--write-procedure", "mine.toml"}, "mine.toml", 1e6, 0},
		{[]string{"curve", demoCamera, "--plot", "curve.svg"}, "curve.svg", 100, 1e6},
		{[]string{"export", demoCamera, "-o", "out.csv"}, "out.csv", 1e6, 0},
		{[]string{"import", "out.csv", "--to", "in.toml"}, "in.toml", 1e6, 0},
		{[]string{"plan", "--film", "Tern 400", "--speed", "400", "--minutes", "9", "--skeleton", "first.toml"}, "first.toml", 50, 1e6},
	} {
		errOut := &full{room: c.errOut}
		require.Equal(t, console.ExitUnshown, run(c.args, nil, &full{room: c.out}, errOut), "%q: %s", c.args, errOut.String())
		require.FileExists(t, c.file)
		if c.errOut > 0 {
			require.Contains(t, errOut.String(), "sensito: saved in "+c.file+", but not shown: standard output: no room\n")
		}
	}
	text, err := os.ReadFile(demoCamera)
	require.NoError(t, err)
	assert.Zero(t, bytes.Count(text, []byte("[[done]]")))
}

// Standard input that fails is no end of it.
func TestStandardInputFails(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	trial, err := demo.Read(demoCamera)
	require.NoError(t, err)
	broken := iotest.ErrReader(errors.New("the line is dead"))
	for _, c := range []struct {
		args []string
		in   io.Reader
		said string
	}{
		{[]string{"curve", "-"}, broken, "sensito: standard input: the line is dead\n"},
		{[]string{"curve", "-"}, io.MultiReader(bytes.NewReader(trial[:400]), broken), "sensito: standard input: the line is dead\n"},
		{[]string{"control", "-"}, broken, "sensito: standard input: the line is dead\n"},
		{[]string{"import", "-", "--dry-run"}, broken, "sensito: standard input: the line is dead\n"},
		{append([]string{"enter", "typed.toml"}, ofShort...), broken, "sensito: standard input: the line is dead\n"},
		{append([]string{"enter", "meter.toml", "--from", "-"}, ofShort...), broken, "sensito: standard input: the line is dead: no more readings can come\n"},
	} {
		var out, errOut bytes.Buffer
		assert.Equal(t, console.ExitCutOff, run(c.args, c.in, &out, &errOut), c.args)
		assert.Contains(t, errOut.String(), c.said)
	}
}
