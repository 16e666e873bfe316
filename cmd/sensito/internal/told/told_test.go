package told

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

const twoStrips = `[film]
name = "Tern 400"
[exposure]
kind = "contact"
illuminance_lx = 2
seconds = 1
wedge = [1.0, 1.3, 1.6, 1.9]
[[strip]]
minutes = 6
density = [1.11, [1.00, 1.02], 0.87, nan]
next_step = 4
[[strip]]
minutes = 8
density = [1.21, 1.10, 0.97, 0.86]
`

func TestTold(t *testing.T) {
	trial, err := notebook.Read("few.toml", strings.NewReader(twoStrips))
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Summary(&b, trial, 1))
	assert.Equal(t, "Strip 1, 6:00 min: 3 of 4 steps read, 1 of them more than once\n"+
		"Readings of one step scatter by 0.014 (1 of the steps); stated is 0.010\n", b.String())
	b.Reset()
	require.NoError(t, Summary(&b, trial, 2))
	assert.Equal(t, "Strip 2, 8:00 min: 4 of 4 steps read\nNo curve: strip 2 has 4 usable readings; a curve needs 6\n", b.String())
	assert.Equal(t, "Strip 3, grade 2, 1:30 min", Title(3, sensito.StripSpec{Grade: "2", Minutes: 1.5}))
	assert.Equal(t, "wedge of 4 steps, 2 lx, 1 s", Exposures(trial.Exposures()))
	assert.Equal(t, "1.10 and 0.97 and 0.123", Densities([]sensito.Density{1.1, 0.97, 0.123}))
	assert.Equal(t, "1.10 and 0.123", Readings(trial.Reading(), []sensito.Density{1.1, 0.123}))
	assert.Equal(t, "9.7 EV and 9.67 EV", Readings(sensito.Reading{Unit: sensito.UnitEV}, []sensito.Density{9.7, 9.667}))
	assert.Equal(t, "tablet step 7.5", Readings(sensito.Reading{Unit: sensito.UnitStep}, []sensito.Density{7.5}))
	assert.Empty(t, Text(trial, 3))

	byMeter := strings.NewReplacer("[exposure]", "[reading]\nunit = \"EV\"\nopen_ev = 12\nreads_to = 0.01\n[exposure]",
		"1.11, [1.00, 1.02], 0.87", "8.3, [8.7, 8.6], 9.1", "1.21, 1.10, 0.97, 0.86", "8.0, 8.3, 8.8, 9.1").Replace(twoStrips)
	trial, err = notebook.Read("meter.toml", strings.NewReader(byMeter))
	require.NoError(t, err)
	b.Reset()
	require.NoError(t, Summary(&b, trial, 1))
	assert.Equal(t, "Strip 1, 6:00 min: 3 of 4 steps read, 1 of them more than once\n"+
		"Readings of one step scatter by 0.021 (1 of the steps); stated is 0.015\n", b.String(), "in density, both")

	var told strings.Builder
	Undone(&told, "few.toml", []byte(twoStrips), []byte(strings.Replace(twoStrips, "nan]", "0.76]", 1)))
	assert.Equal(t, "Strip 1, 6:00 min has 4 of 4 steps read; it had 3.\n", told.String())
}
