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

const byMeter = `[film]
name = "Larkfield 125"
[exposure]
kind = "relative"
wedge_first = 0.05
wedge_step = 0.3
wedge_count = 10
[exposure.frame]
meter_index = 125
stops = -2
minutes = "6:20"
density = 10.8
[reading]
unit = "EV"
open_ev = 12.35
[[strip]]
minutes = "6:20"
base_fog = 11.9
density = [6.3, 6.8, 7.7, 8.3, 9.0, 9.6, 10.3, 11.0, 11.6, 11.9]
[[strip]]
minutes = 9
base_fog = 11.9
next_step = 7
density = [4.8, 5.4, 6.4, 7.3, 8.0, 8.9, nan, nan, nan, nan]
`

// A strip that is read by a light meter is keyed in, questioned and told in EV. A time
// without its colon may be a reading too many.
func TestEnterInEV(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "meter.toml")
	require.NoError(t, os.WriteFile(path, []byte(byMeter), 0o600))
	s := sit(t, dir, "enter", "meter.toml")
	s.shown("Larkfield 125, read by a light meter in EV; help lists what can be typed.")
	s.line("step 7 of 10, wedge 1.85:", "help")
	s.shown("  9.7            the reading in EV; also 9,7 and 9 2/3")
	s.line("step 7 of 10", "9 2/3")
	s.line("step 8 of 10, wedge 2.15:", "113")
	s.shown("113 EV is brighter than the bare light, 12.35 EV (open_ev)")
	s.line("step 8 of 10", "5")
	s.shown("5 EV at step 8 does not fit the others. Read it again.")
	s.line("keep, or the reading again:", "10 1/3 10.4")
	s.shown("  10.33 EV and 10.4 EV, mean 10.367; 10.")
	s.line("step 9 of 10", "again 10,3")
	s.shown("step 8: 10.33 EV and 10.4 EV and 10.3 EV, mean 10.344")
	s.line("step 9 of 10", "back 8")
	s.line("step 8 of 10, wedge 2.15, has 10.33 EV and 10.4 EV and 10.3 EV (Enter keeps):", "")
	s.line("step 9 of 10", "11")
	s.shown(" EV was expected")
	s.line("step 10 of 10", "11.6")
	s.line("strip 3, minutes", "12")
	s.shown("all 10 steps are read; if 12 is a time, write 12:00")
	s.line("strip 3, minutes", "12:00")
	s.shown("Strip 3, 12:00 min.")
	s.line("base plus fog, reading 1 of 2", "4")
	s.shown("4 EV is unusual for base plus fog. Read it again.")
	s.line("keep, or the reading again:", "11.9")
	s.line("base plus fog, reading 2 of 2", "stop")
	s.leaves()
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	strip := trial.Strips()[1].Spec()
	assert.Equal(t, []sensito.Density{9.667, 11, 11.6}, append([]sensito.Density{strip.Density[6]}, strip.Density[8:]...))
	assert.Equal(t, []sensito.Density{10.333, 10.4, 10.3}, strip.Repeats[8])
	assert.Equal(t, []sensito.Density{11.9}, trial.Strips()[2].Spec().BaseFog)

	// A frame is of its film: another trial is not offered its exposures.
	s = sit(t, dir, "enter", "tern.toml", "--film", "Tern", "--speed", "400", "--developer", "Ashlar 1+4", "--temperature", "20", "--agitation", "none", "--unit", "density", "--zero", "air")
	s.line("Exposed (contact: a wedge)", "stop")
	s.leaves()
	assert.NotContains(t, s.shows(), "Exposed as")
}

// A new trial is made by questions for a light meter that shows thirds, under a light that
// nobody measured, with a frame in the camera; the next trial in the folder offers it all
// but the bare light.
func TestEnterNewInEV(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := sit(t, dir, "enter", "lark.toml", "--film", "Larkfield 125", "--speed", "125", "--developer", "Brinewater 1+19", "--temperature", "20", "--agitation", "c")
	s.line("Readings in: density, EV or step [density]:", "eV")
	s.line("Smallest part of a stop that the meter shows, like 1/3 [0.1]:", "1/3")
	s.line("Reading of the bare light, EV:", "bright")
	s.shown(`reading of the bare light: "bright" is not a number`)
	s.line("Reading of the bare light, EV:", "")
	s.shown("reading of the bare light: is needed")
	s.line("Reading of the bare light, EV:", "12,7 12 2/3")
	s.line("Exposed (contact: a wedge): contact, relative or camera [contact]:", "back")
	s.line("Reading of the bare light, EV [12,7 12 2/3]:", "")
	s.line("Exposed (contact: a wedge): contact, relative or camera [contact]:", "")
	s.line("Steps of the wedge [21]:", "-")
	s.shown("steps of the wedge: is needed")
	s.line("Steps of the wedge [21]:", "4; 0.05; 0.5")
	s.shown("exposed, and answer relative")
	for _, prompt := range []string{"Light at the film", "Density from step to step", "Density of its step 1", "Steps of the wedge"} {
		s.line(prompt, "back")
	}
	s.line("Exposed (contact: a wedge)", "rel; 4; 0.05; 0.5; 125; -1 1/3; 10 1/3")
	s.shown("the meter said [-2]: -1 1/3\n  = -1.3333")
	s.line("Strip 1, minutes, like 5:30:", "5")
	s.line("base plus fog, reading 1 of 2", "12 1/3")
	s.line("base plus fog, reading 2 of 2", "")
	s.line("step 1 of 4", "8.7")
	s.line("step 2 of 4", "stop")
	s.leaves()
	trial, err := notebook.ReadFile(filepath.Join(dir, "lark.toml"))
	require.NoError(t, err)
	read := trial.Reading()
	assert.Equal(t, sensito.UnitEV, read.Unit)
	assert.Equal(t, []float64{12.7, 12.667}, read.OpenEV)
	assert.InDelta(t, 1.0/3, read.ReadsTo, 1e-9)
	assert.Equal(t, sensito.Density(0.05), read.Repeatability, "in EV, not what is usual of a densitometer")
	assert.Equal(t, sensito.Relative, trial.Exposures().Kind())
	frame := trial.Exposures().Frame()
	require.NotNil(t, frame)
	assert.InDelta(t, -4.0/3, frame.Stops, 1e-6)
	assert.Equal(t, []any{sensito.Speed(125), sensito.Minutes(5), []sensito.Density{10.333}}, []any{frame.Index, frame.Minutes, frame.Density})
	assert.InDelta(t, 4*0.30103, float64(trial.Strips()[0].Steps()[0].Density), 1e-4, "from 12 2/3 to 8 2/3")

	s = sit(t, dir, "enter", "tern.toml", "--film", "Tern", "--speed", "400", "--developer", "Ashlar 1+4", "--temperature", "20", "--agitation", "none")
	s.line("Readings in: density, EV or step [EV]:", "")
	s.line("like 1/3 [1/3]:", "")
	s.line("Reading of the bare light, EV:", "stop")
	s.leaves()
}

// A new trial is made by questions for a tablet that is matched by eye, of even steps or
// of any.
func TestEnterNewByEye(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	some := []string{"--speed", "125", "--developer", "Brinewater 1+19", "--temperature", "20", "--agitation", "c", "--lux", "2", "--seconds", "1",
		"--wedge-count", "4", "--wedge-first", "0.05", "--wedge-step", "0.5", "--way", "contact", "--minutes", "5"}
	s := sit(t, dir, append([]string{"enter", "lark.toml", "--film", "Larkfield 125"}, some...)...)
	s.line("Readings in: density, EV or step [density]:", "S")
	s.line("Steps of the tablet, or the density of each [21]:", "31")
	s.line("Density of the tablet's step 1 [0.05]:", "")
	s.line("Density from step to step of the tablet [0.15]:", "1")
	s.shown("puts the last step at density 30.05, outside 0 to 6")
	s.line("Density from step to step of the tablet [0.15]:", "0,1")
	s.line("may be off by, density (- with a certificate) [0.02]:", "")
	s.line("base plus fog, reading 1 of 2", "1 1/2")
	s.line("base plus fog, reading 2 of 2", "")
	s.line("step 1 of 4", "13,5")
	s.line("step 2 of 4", "stop")
	s.leaves()
	trial, err := notebook.ReadFile(filepath.Join(dir, "lark.toml"))
	require.NoError(t, err)
	read := trial.Reading()
	assert.Equal(t, sensito.EvenWedge(0.05, 0.1, 31), read.Tablet)
	assert.Equal(t, []sensito.Density{0.02, 0.2}, []sensito.Density{read.TabletSD, read.Repeatability})
	assert.InDelta(t, 1.3, float64(trial.Strips()[0].Steps()[0].Density), 1e-9)

	s = sit(t, dir, append([]string{"enter", "tern.toml", "--film", "Tern"}, some...)...)
	s.line("Readings in: density, EV or step [step]:", "")
	s.line("Steps of the tablet, or the density of each [31]:", "0.05 0,20 0.10 0.5")
	s.shown("  = 4 steps, 0.05 to 0.5")
	s.line("may be off by, density (- with a certificate) [0.02]:", "-")
	s.shown("breaks the order of the wedge")
	s.line("Steps of the tablet, or the density of each", "0.05 0,20 0.36 0.5")
	s.line("base plus fog, reading 1 of 2", "1.5")
	s.line("base plus fog, reading 2 of 2", "stop")
	s.leaves()
	trial, err = notebook.ReadFile(filepath.Join(dir, "tern.toml"))
	require.NoError(t, err)
	assert.Equal(t, []sensito.Density{0.05, 0.20, 0.36, 0.5}, trial.Reading().Tablet)
	assert.Zero(t, trial.Reading().TabletSD)
}
