package ask

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/control"
)

// A log that is full says so, and stays as it is.
func TestLogIsFull(t *testing.T) {
	path := filepath.Join(t.TempDir(), "control.toml")
	strip := "[[strip]]\ndate = 2026-03-01\nbase_fog = 0.10\nlow = 0.40\nhigh = 1.25\n"
	full := "kind = \"control\"\n[aim]\nbase_fog = 0.10\nlow = 0.40\nhigh = 1.25\n" + strings.Repeat(strip, 10_000)
	require.NoError(t, os.WriteFile(path, []byte(full), 0o600))
	_, _, err := AddControl(path, control.Strip{Date: "2026-03-02", Patches: control.Patches{BaseFog: 0.10, Low: 0.40, High: 1.25}})
	assert.EqualError(t, err, "the strip brings the file to more than 10000 strips")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, full, string(kept))
}
