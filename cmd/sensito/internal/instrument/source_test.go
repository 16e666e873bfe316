package instrument

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook/table"
)

// sourceOf returns the checked options of a command line.
func sourceOf(t *testing.T, args ...string) Options {
	t.Helper()
	o := &Options{}
	cmd := &cobra.Command{Use: "test", RunE: func(*cobra.Command, []string) error { return o.Check() }}
	o.Register(cmd)
	cmd.SetArgs(args)
	require.NoError(t, cmd.Execute())
	return *o
}

// all collects what a source gives until it ends, within some seconds.
func all(t *testing.T, o Options) []Reading {
	t.Helper()
	source, err := openSource(o)
	require.NoError(t, err)
	defer func() { require.NoError(t, source.Close()) }()
	var got []Reading
	for {
		r, open := next(t, source.Lines)
		if !open {
			return got
		}
		got = append(got, r)
	}
}

// next waits for one reading.
func next(t *testing.T, lines <-chan Reading) (Reading, bool) {
	t.Helper()
	select {
	case r, open := <-lines:
		return r, open
	case <-time.After(10 * time.Second):
		require.Fail(t, "no reading within 10 s")
		return Reading{}, false
	}
}

func TestSourceOptionsRefuse(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"--baud 1200", "--baud goes with --from PORT"},
		{"--pattern x", "--pattern goes with --from PORT"},
		{"--from - --parity odd", "--parity is of a serial line, and does not go with standard input"},
		{"--from x --baud 0", "--baud 0 is outside 50 to 4000000"},
		{"--from x --bits 9", "--bits 9 is outside 5 to 8"},
		{"--from x --parity any", `--parity "any" is not none, odd, even, mark or space`},
		{"--from x --stop-bits 3", `--stop-bits "3" is not 1, 1.5 or 2`},
		{"--from x --terminator=", `--terminator "" is not auto, cr, lf, crlf, or a text of 1 to 8 bytes like \x03 or ;`},
		{`--from x --terminator \q`, `--terminator "\\q" is not auto`},
		{"--from x --pattern (", `--pattern "(" is not a regular expression: missing closing )`},
	} {
		o := &Options{}
		cmd := &cobra.Command{Use: "test", SilenceErrors: true, SilenceUsage: true, RunE: func(*cobra.Command, []string) error { return o.Check() }}
		o.Register(cmd)
		cmd.SetArgs(strings.Fields(c.args))
		err := cmd.Execute()
		require.ErrorContains(t, err, c.want, c.args)
		assert.ErrorAs(t, err, &console.UsageError{}, c.args)
	}
}

func TestSourceOfStandardInput(t *testing.T) {
	for name, in := range map[string]io.Reader{
		"at once":       strings.NewReader("1.23\r\n\r\nREADY\nVIS 0.45\r0.46"),
		"byte by byte":  iotest.OneByteReader(strings.NewReader("1.23\r\n\r\nREADY\nVIS 0.45\r0.46")),
		"end with data": iotest.DataErrReader(strings.NewReader("1.23\r\n\r\nREADY\nVIS 0.45\r0.46")),
	} {
		o := sourceOf(t, "--from", "-")
		o.In = in
		got := all(t, o)
		require.Len(t, got, 4, name)
		assert.Equal(t, Reading{Text: "1.23", Value: 1.23}, got[0], name)
		assert.ErrorIs(t, got[1].Err, table.ErrNoReading, name)
		assert.Equal(t, Reading{Text: "VIS 0.45", Value: 0.45}, got[2], name)
		assert.Equal(t, Reading{Text: "0.46", Value: 0.46, Unended: true}, got[3], name)
	}
}

func TestSourceWithPatternAndTerminator(t *testing.T) {
	o := sourceOf(t, "--from", "-", "--pattern", `V=(\S+)`, "--terminator", `;`)
	o.In = strings.NewReader("V=1.23 B=1.40;V=1.25\nB=1.41;B=1.0;")
	got := all(t, o)
	require.Len(t, got, 3)
	assert.Equal(t, 1.23, got[0].Value)
	assert.Equal(t, Reading{Text: "V=1.25\nB=1.41", Value: 1.25}, got[1])
	assert.ErrorIs(t, got[2].Err, table.ErrNoReading)
}

func TestSourceThatFails(t *testing.T) {
	broken := errors.New("the cable broke")
	o := sourceOf(t, "--from", "-")
	o.In = io.MultiReader(strings.NewReader("1.23\n0.4"), iotest.ErrReader(broken))
	got := all(t, o)
	require.Len(t, got, 3)
	assert.Equal(t, 1.23, got[0].Value)
	assert.EqualError(t, got[1].Err, `"0.4" was cut off and does not count: no reading`)
	assert.ErrorIs(t, got[2].Err, broken)
	assert.ErrorIs(t, got[2].Err, ErrLost)

	o.In = strings.NewReader("1.23\n" + strings.Repeat("x", 3*MaxLineBytes))
	got = all(t, o)
	require.Len(t, got, 2)
	assert.ErrorIs(t, got[1].Err, ErrLost)
	assert.ErrorContains(t, got[1].Err, "standard input: 4096 bytes without the end of a line are no reading; see --terminator and --baud")
}

func TestSourceOfAFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "readings.txt")
	require.NoError(t, os.WriteFile(path, []byte("1.23\n1,24"), 0o600))
	got := all(t, sourceOf(t, "--from", path))
	require.Len(t, got, 2)
	assert.Equal(t, Reading{Text: "1,24", Value: 1.24}, got[1])

	_, err := openSource(sourceOf(t, "--from", filepath.Join(dir, "ttyUSB7")))
	assert.ErrorIs(t, err, os.ErrNotExist)
	assert.ErrorContains(t, err, "ttyUSB7")
	_, err = openSource(sourceOf(t, "--from", dir))
	assert.EqualError(t, err, dir+" is a folder, not a port or a file")
}

// openSource starts to read lines from where checked options say.
func openSource(o Options) (*Readings, error) {
	src, err := o.Open()
	if err != nil {
		return nil, err
	}
	return src.Begin(o), nil
}
