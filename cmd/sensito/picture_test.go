package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Nothing goes into a trial while the ends of a strip are not certain, and no picture that somebody else made is
// replaced by a drawing. The scripts have the sentences.
func TestPictureIsSure(t *testing.T) {
	for name, c := range map[string]struct {
		ends, drawing string // what lies where the drawing goes
		code          int
	}{
		"sure":            {ends: "33,34:427,38"},
		"exchanged":       {ends: "427,38:33,34", code: 1},
		"a step off":      {ends: "52,34:446,38", code: 1},
		"another picture": {ends: "33,34:427,38", drawing: "\x89PNG of the harbour", code: 1},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			require.NoError(t, writeNotebook(dir))
			trial, drawing := filepath.Join(dir, "larkfield-ashlar.toml"), filepath.Join(dir, "larkfield-ashlar-read.png")
			before, err := os.ReadFile(trial)
			require.NoError(t, err)
			if c.drawing != "" {
				require.NoError(t, os.WriteFile(drawing, []byte(c.drawing), 0o600))
			}
			var told bytes.Buffer
			args := []string{"picture", filepath.Join(dir, demoPicture), "--tablet", filepath.Join(dir, "tablet.toml"),
				"--tablet-ends", "33,90:427,95", "--ends", c.ends, "--into", trial, "--minutes", "8"}
			assert.Equal(t, c.code, run(args, nil, io.Discard, &told), told.String())
			after, err := os.ReadFile(trial)
			require.NoError(t, err)
			assert.Equal(t, c.code == 0, !bytes.Equal(before, after), told.String())
			if c.drawing != "" {
				kept, err := os.ReadFile(drawing)
				require.NoError(t, err)
				assert.Equal(t, c.drawing, string(kept))
			}
		})
	}
}
