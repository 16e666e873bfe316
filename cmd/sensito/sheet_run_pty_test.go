//go:build linux || darwin

package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
	"sensito/sensito/notebook/sessions"
)

// shortSteps is a procedure of what a test can wait for.
const shortSteps = `kind = "procedure"

[[step]]
name          = "Develop"
minutes       = "from plan"
dark          = true
drain_seconds = 1

[[step]]
name = "Rinse"
bath = "water"
dark = false
`

// A session is begun at a terminal, the process is killed, and the command without a
// scene goes on with it; at the end the trial's log has it.
func TestSheetRun(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "short.toml"), []byte(shortSteps), 0o600))
	path := filepath.Join(dir, "larkfield-brinewater.toml")
	before, err := notebook.ReadFile(path)
	require.NoError(t, err)

	s := sit(t, dir, "sheet", "larkfield-brinewater.toml", "--run")
	require.EqualError(t, <-s.ended, "exit status 2")
	assert.Contains(t, s.shows(), "sheet needs a scene")

	s = sit(t, dir, "sheet", "larkfield-brinewater.toml", "--minutes", "0:04", "--at", "21", "--procedure", "short.toml", "--films", "2x 120", "--vessel", "tank 1l", "--run")
	s.shown("The developer is now at: _ °C  (21 °C is planned; empty leaves that)")
	s.shown("Brinewater 1+19: 50 ml into water, to make 1000 ml")
	s.shown("No screen is safe for film")
	s.shown("Chemicals are hazardous: gloves")
	_, err = s.keys.WriteString(enterKey)
	require.NoError(t, err)
	s.shown("Develop, Brinewater 1+19   (step 1 of 2)")
	s.shown("DARK  The film must not see light.")
	require.NoError(t, s.cmd.Process.Kill())
	require.Error(t, <-s.ended)

	s = sit(t, dir, "sheet", "larkfield-brinewater.toml", "--run")
	s.shown("This session goes on since it was not ended.")
	s.shown(" over") // the clock ran on
	_, err = s.keys.WriteString("n")
	require.NoError(t, err)
	s.shown("LIGHT  Light is safe.")
	_, err = s.keys.WriteString("q")
	require.NoError(t, err)
	s.leaves()
	assert.Contains(t, s.shows(), "sensito: the clock runs on; to go on: sensito sheet larkfield-brinewater.toml --run")

	s = sit(t, dir, "sheet", "larkfield-brinewater.toml", "--run")
	s.shown("(step 2 of 2)")
	_, err = s.keys.WriteString("ee")
	require.NoError(t, err)
	s.shown("Done at")
	_, err = s.keys.WriteString("by hand")
	require.NoError(t, err)
	s.shown("Note: by hand_")
	open, err := sessions.Latest(dir)
	require.NoError(t, err)
	for open != nil { // until the key that keeps it is no slip any more
		_, err = s.keys.WriteString(enterKey)
		require.NoError(t, err)
		time.Sleep(50 * time.Millisecond)
		open, err = sessions.Latest(dir)
		require.NoError(t, err)
	}
	s.leaves()
	assert.Contains(t, s.shows(), "Logged in larkfield-brinewater.toml")
	after, err := notebook.ReadFile(path)
	require.NoError(t, err)
	require.Len(t, after.Done(), len(before.Done())+1)
	d := after.Done()[len(before.Done())]
	assert.Equal(t, "by hand", d.Note)
	assert.InDelta(t, 4./60, float64(d.Planned), 1e-9)
	assert.Equal(t, 21.0, d.TemperatureC)
	assert.GreaterOrEqual(t, float64(d.Minutes), 4./60)
}
