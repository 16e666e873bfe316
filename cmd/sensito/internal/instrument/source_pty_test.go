//go:build linux || darwin

package instrument

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/table"
)

// serialLine returns the near end of a serial line, a pseudo-terminal, and a
// source opened on its far end.
func serialLine(t *testing.T, pause time.Duration, args ...string) (*os.File, <-chan Reading, func() error) {
	t.Helper()
	near, far, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { near.Close() })
	o := sourceOf(t, append([]string{"--from", far.Name()}, args...)...)
	o.pause = pause
	source, err := openSource(o)
	require.NoError(t, err)
	require.NoError(t, far.Close()) // only the source holds it now
	t.Cleanup(func() { source.Close() })
	return near, source.Lines, source.Close
}

func write(t *testing.T, near *os.File, text string) {
	t.Helper()
	_, err := near.WriteString(text)
	require.NoError(t, err)
}

func TestInstrument(t *testing.T) {
	near, lines, closeSource := serialLine(t, 0, "--baud", "1200", "--bits", "7", "--parity", "even", "--stop-bits", "2")
	write(t, near, "1.23\r\n") // each way to end a line
	write(t, near, "VIS 1.24\r")
	write(t, near, "1,25\n")
	for _, want := range []float64{1.23, 1.24, 1.25} {
		r, _ := next(t, lines)
		require.NoError(t, r.Err)
		assert.Equal(t, want, r.Value)
	}

	// Half a line, and the end of it in two parts.
	write(t, near, "\x02D 1.")
	time.Sleep(50 * time.Millisecond)
	write(t, near, "26\x03\r")
	time.Sleep(50 * time.Millisecond)
	write(t, near, "\n0.10\r\n")
	r, _ := next(t, lines)
	require.NoError(t, r.Err)
	assert.Equal(t, 1.26, r.Value)
	r, _ = next(t, lines)
	assert.Equal(t, Reading{Text: "0.10", Value: 0.10}, r)

	// What is no reading is told, and the next one comes.
	write(t, near, "LOW BAT 3.0\r\n\xb1\xae\xb2\xb3\r\n0.11\r\n")
	r, _ = next(t, lines)
	assert.ErrorIs(t, r.Err, table.ErrNoReading)
	r, _ = next(t, lines)
	assert.ErrorContains(t, r.Err, "see that --baud, --bits and --parity")
	r, _ = next(t, lines)
	assert.Equal(t, 0.11, r.Value)

	require.NoError(t, closeSource())
	require.NoError(t, closeSource(), "again")
	_, open := next(t, lines)
	assert.False(t, open)
}

// A line that has no end is told of, and counts once the end comes after all.
func TestInstrumentThatPauses(t *testing.T) {
	near, lines, _ := serialLine(t, 50*time.Millisecond)
	write(t, near, "1.2")
	r, _ := next(t, lines)
	assert.Equal(t, "1.2", r.Text)
	assert.ErrorIs(t, r.Err, table.ErrNoReading)
	assert.ErrorContains(t, r.Err, `"1.2" came without the end of a line; see --terminator`)
	write(t, near, "3\r\n")
	r, _ = next(t, lines)
	assert.Equal(t, Reading{Text: "1.23", Value: 1.23}, r)
}

// Half a number is no number when the cable is pulled.
func TestInstrumentUnplugged(t *testing.T) {
	near, lines, closeSource := serialLine(t, 20*time.Millisecond)
	write(t, near, "1.23\r\n1.2")
	r, _ := next(t, lines)
	assert.Equal(t, 1.23, r.Value)
	r, _ = next(t, lines) // said while waiting for the rest, so the half line has arrived
	assert.ErrorContains(t, r.Err, `"1.2" came without the end of a line`)
	require.NoError(t, near.Close())
	r, open := next(t, lines)
	require.True(t, open)
	assert.EqualError(t, r.Err, `"1.2" was cut off and does not count: no reading`)
	r, open = next(t, lines)
	require.True(t, open)
	assert.ErrorIs(t, r.Err, ErrLost)
	assert.ErrorContains(t, r.Err, "the instrument is gone, unplugged or switched off")
	_, open = next(t, lines)
	assert.False(t, open)
	require.NoError(t, closeSource())
}

// A named pipe opens when somebody writes, and can be given up before.
func TestSourceOfANamedPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "readings")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	o := sourceOf(t, "--from", path)
	source, err := openSource(o)
	require.NoError(t, err)
	w, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = w.WriteString("1.23\n1.24")
	require.NoError(t, err)
	require.NoError(t, w.Close())
	for i, want := range []float64{1.23, 1.24} {
		r, _ := next(t, source.Lines)
		require.NoError(t, r.Err)
		assert.Equal(t, want, r.Value)
		assert.Equal(t, i == 1, r.Unended)
	}
	_, open := next(t, source.Lines)
	assert.False(t, open)
	require.NoError(t, source.Close())

	source, err = openSource(o)
	require.NoError(t, err)
	require.NoError(t, source.Close())
	_, open = next(t, source.Lines)
	assert.False(t, open)
	w, err = os.OpenFile(path, os.O_WRONLY, 0) // lets go whoever still waits
	require.NoError(t, err)
	require.NoError(t, w.Close())
}

func TestSourceOfAnotherDevice(t *testing.T) {
	got := all(t, sourceOf(t, "--from", "/dev/null"))
	require.Len(t, got, 1)
	assert.ErrorIs(t, got[0].Err, ErrLost)
	got = all(t, sourceOf(t, "--from", "/dev/zero"))
	require.Len(t, got, 1)
	assert.ErrorContains(t, got[0].Err, "4096 bytes without the end of a line")

	_, err := openSource(sourceOf(t, "--from", "/dev/tty"))
	if err != nil && os.IsNotExist(err) {
		t.Skip("no /dev/tty here")
	}
	assert.ErrorContains(t, err, "is this terminal; to type lines use --from -")
}
