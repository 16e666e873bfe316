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
	s = sit(t, dir, "enter", "tern.toml", "--film", "Tern", "--speed", "400", "--developer", "Ashlar 1+4", "--temperature", "20", "--agitation", "none", "--zero", "air")
	s.line("Exposed (contact: a wedge)", "stop")
	s.leaves()
	assert.NotContains(t, s.shows(), "Exposed as")
}
