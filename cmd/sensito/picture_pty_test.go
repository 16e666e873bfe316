//go:build linux || darwin

package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

// At a terminal what is missing is asked for: the time, the ends, which are proposed and drawn first, and last whether the
// numbers stand on the steps. A no adds nothing.
func TestPictureAsks(t *testing.T) {
	for _, sure := range []string{"n", "y"} {
		dir := t.TempDir()
		require.NoError(t, writeNotebook(dir))
		path := filepath.Join(dir, "larkfield-ashlar.toml")
		s := sit(t, dir, "picture", demoPicture, "--tablet", "tablet.toml", "--tablet-ends", "33,90:427,95", "--into", "larkfield-ashlar.toml")
		s.answer("Development times of the strips", "8:00")
		s.shown("A row of 21 steps may lie at 33.")
		assert.FileExists(t, filepath.Join(dir, "larkfield-ashlar-read.png"))
		s.answer("Ends of the strip", "")
		s.shown("21 of 21 steps read")
		trial, err := notebook.ReadFile(path)
		require.NoError(t, err)
		require.Len(t, trial.Strips(), 5, "added before it was sure")
		s.answer("Does each number", sure)
		if sure == "n" {
			require.Error(t, <-s.ended)
			assert.Contains(t, s.shows(), "sensito: stopped; nothing was written")
		} else {
			s.leaves()
		}
		trial, err = notebook.ReadFile(path)
		require.NoError(t, err)
		if sure == "n" {
			require.Len(t, trial.Strips(), 5)
			continue
		}
		require.Len(t, trial.Strips(), 6)
		assert.Equal(t, sensito.Minutes(8), trial.Strips()[5].Minutes())
		assert.NotEmpty(t, trial.Strips()[5].Picture())
		_, err = os.Stat(filepath.Join(dir, "larkfield-ashlar-read.png"))
		assert.NoError(t, err)
	}
}
