//go:build linux || darwin

package console

import (
	"os"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Text stands out, and goes as wide as the screen, on a terminal alone, and where
// nobody has asked for none.
func TestEmphasised(t *testing.T) {
	master, terminal, err := pty.Open()
	require.NoError(t, err)
	defer master.Close()
	defer terminal.Close()
	require.NoError(t, pty.Setsize(master, &pty.Winsize{Rows: 24, Cols: 117}))
	t.Setenv("NO_COLOR", "")
	t.Setenv("TERM", "xterm")
	s := New(strings.NewReader(""), terminal, os.Stderr)
	assert.True(t, Emphasised(s.Out))
	assert.Equal(t, 117, Columns(s.Out))

	pipe := New(strings.NewReader(""), &strings.Builder{}, os.Stderr)
	assert.False(t, Emphasised(pipe.Out))
	assert.Zero(t, Columns(pipe.Out))
	t.Setenv("TERM", "dumb")
	assert.False(t, Emphasised(s.Out))
	assert.Zero(t, Columns(s.Out))
	t.Setenv("TERM", "xterm")
	t.Setenv("NO_COLOR", "1")
	assert.False(t, Emphasised(s.Out))
}
