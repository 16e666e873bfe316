package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
	"sensito/sensito/picture/lighttable"
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

// A strip of paper beside a grey scale on paper goes from the picture into a trial of paper, and
// its range is told, not called ISO. A grey scale on paper reads no film.
func TestPictureOfPaper(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	var strip []float64
	var logH, read []string
	for k := range 21 {
		h := -0.42 + 0.10*float64(k)
		strip, logH = append(strip, 0.06+1.99/(1+math.Exp(-6*(h-0.5)))), append(logH, fmt.Sprintf("%.2f", h))
		read = append(read, fmt.Sprintf("%.2f", strip[k]))
	}
	lying := lighttable.Beside(strip, lighttable.Even(0.05, 0.10, 22))
	device := lighttable.Flatbed(150)
	file := filepath.Join(dir, "slate-2.png")
	require.NoError(t, os.WriteFile(file, lighttable.PNG(lying.Picture(device, 3)), 0o600))
	scale, trial := filepath.Join(dir, "grey.toml"), filepath.Join(dir, "slate-pictured.toml")
	require.NoError(t, os.WriteFile(scale, []byte("kind = \"picture\"\n[tablet]\nfirst = 0.05\nstep = 0.10\ncount = 22\ngeometry = \"45/0\"\n"), 0o600))
	require.NoError(t, os.WriteFile(trial, []byte("kind = \"paper\"\n[paper]\nname = \"Slate\"\n[exposure]\nkind = \"relative\"\nlog_h = ["+strings.Join(logH, ", ")+
		"]\n[[strip]]\ngrade = \"3\"\ndensity = ["+strings.Join(read, ", ")+"]\n"), 0o600))
	into := func(trial string, more ...string) (int, string) {
		var told bytes.Buffer
		args := []string{"picture", file, "--tablet", scale, "--tablet-ends", lying.Ends(1, 150).String(), "--ends", lying.Ends(0, 150).String(),
			"--fog", lying.Pixel(lying.Fog, 150).String(), "--into", trial}
		return run(append(args, more...), nil, io.Discard, &told), told.String()
	}
	code, told := into(trial, "--grade", "2")
	require.Zero(t, code, told)
	got, err := notebook.ReadFile(trial)
	require.NoError(t, err)
	require.Len(t, got.Strips(), 2)
	require.NotNil(t, got.Strips()[1].Calibration())
	var out, faults bytes.Buffer
	require.Zero(t, run([]string{"paper", trial, "--full"}, nil, &out, &faults), faults.String())
	assert.Contains(t, out.String(), "log range")
	assert.NotContains(t, out.String(), "ISO range")
	assert.Contains(t, out.String(), "read in pictures (2)")
	code, told = into(filepath.Join(dir, "larkfield-ashlar.toml"), "--minutes", "8")
	assert.Equal(t, 2, code)
	assert.Contains(t, told, "is a film, which light comes through, and the tablet is a grey scale on paper")
}

// On open glass the dense end of a strip gets much glare. Steps that it makes unsure are printed with their error, stay
// out of the trial, which would take them for as sure as the others, and are named.
func TestPictureLeavesUnsureSteps(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	s := lighttable.Several(lighttable.Even(1.75, -0.08, 21), lighttable.Even(0.05, 0.15, 21))
	file, path := filepath.Join(dir, "open.png"), filepath.Join(dir, "larkfield-ashlar.toml")
	require.NoError(t, os.WriteFile(file, lighttable.PNG(s.Picture(lighttable.Flatbed(75), 7)), 0o600))
	ends := func(row int) string {
		e := s.Ends(row, 75)
		return e.String()
	}
	var out, told bytes.Buffer
	args := []string{"picture", file, "--tablet", filepath.Join(dir, "tablet.toml"), "--tablet-ends", ends(1), "--ends", ends(0), "--into", path, "--minutes", "13", "--json"}
	require.Zero(t, run(args, nil, &out, &told), told.String())
	var strip struct {
		Densities []struct{ Value, SD *float64 }
		Warnings  []struct{ Code string }
	}
	require.NoError(t, json.Unmarshal(out.Bytes(), &strip), out.String())
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	taken := trial.Strips()[len(trial.Strips())-1].Spec().Density
	const most = 0.014 // twice what readings repeat to
	left := 0
	for i, d := range strip.Densities {
		switch {
		case d.Value != nil && *d.SD > most:
			left++
			fallthrough
		case d.Value == nil:
			assert.True(t, math.IsNaN(float64(taken[i])), "step %d", i+1)
		default:
			assert.InDelta(t, *d.Value, float64(taken[i]), 0.0006, "step %d", i+1)
		}
	}
	assert.Positive(t, left)
	assert.Less(t, left, 6)
	var codes []string
	for _, w := range strip.Warnings {
		codes = append(codes, w.Code)
	}
	assert.Contains(t, codes, "step_unsure")
}
