package notebook

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook/notebooktest"
)

// byMeter is a sound notebook read by a light meter; byEye one read against a tablet;
// tied one with relative exposures and a frame.
var byMeter = strings.Replace(notebooktest.Good, `zero = "air"
`+notebooktest.Strips, `unit = "EV"
open_ev = [12.3, 12.4]
[[strip]]
minutes = 5
density = [9.7, [8.1, 8.2], nan]
base_fog = 11.9
`, 1)

var byEye = strings.Replace(notebooktest.Good, `zero = "air"
`+notebooktest.Strips, `unit = "step"
tablet = [0.05, 0.20, 0.35]
[[strip]]
minutes = 5
density = [1, 1.5, 3]
`, 1)

var tied = strings.Replace(notebooktest.Good, notebooktest.Contact, `kind = "relative"
wedge = [0.1, 0.4, 0.7]
wedge_sd = 0.02
[exposure.frame]
meter_index = 125
stops = -4
minutes = 5.5
density = 0.31
`, 1)

func badIn(name, file, old, new string, want ...string) badCase {
	if !strings.Contains(file, old) {
		panic(name + ": nothing to replace")
	}
	return badCase{name, strings.Replace(file, old, new, 1), want}
}

// badReadings are notebooks that are wrong in how strips were read and tied down.
var badReadings = []badCase{
	badIn("unit", byMeter, `"EV"`, `"lx"`, `15: reading.unit: "lx" is not density, EV or step`),
	badIn("no bare light", byMeter, "open_ev = [12.3, 12.4]\n", "", "14: reading.open_ev: is missing: readings in EV are told from that of the bare light"),
	badIn("bare light of text", byMeter, "[12.3, 12.4]", `"12.3"`, `16: reading.open_ev: must be a list of numbers, not text`),
	badIn("bare light 123", byMeter, "12.4", "123", "16: reading.open_ev[2]: 123 EV is outside -10 to 30 EV"),
	badIn("brighter than the light", byMeter, "9.7", "12.8", "19: strip[1].density[1]: 12.8 EV is brighter than the bare light, 12.35 EV (open_ev)"),
	badIn("repeat brighter than the light", byMeter, "8.2", "15", "19: strip[1].density[2][2]: 15 EV is brighter than the bare light, 12.35 EV (open_ev)"),
	badIn("base brighter than the light", byMeter, "11.9", "12.7", "20: strip[1].base_fog[1]: 12.7 EV is brighter than the bare light, 12.35 EV (open_ev)"),
	badIn("darker than any film", byMeter, "9.7", "-9.7", "19: strip[1].density[1]: -9.7 EV is outside -7.582 to 12.35 EV, the bare light"),
	badIn("reads to a third of text", byMeter, `"EV"`, "\"EV\"\nreads_to = \"a third\"", `16: reading.reads_to: "a third" is not a part like 0.1 or "1/3"`),
	badIn("reads to 3", byMeter, `"EV"`, "\"EV\"\nreads_to = 3", "16: reading.reads_to: 3 EV is outside 0.001 to 2 EV"),
	badIn("repeatability in EV", byMeter, `"EV"`, "\"EV\"\nrepeatability = 5", "16: reading.repeatability: 5 EV is outside 0.0001 to 2 EV"),
	badIn("bare light of a densitometer", byMeter, `"EV"`, `"density"`, `16: reading.open_ev: goes with unit = "EV"`),
	badIn("channel with blanks", byMeter, `"EV"`, "\"EV\"\nchannel = \" blue\"", `16: reading.channel: " blue" has blanks at its ends`),
	badIn("no tablet", byEye, "tablet = [0.05, 0.20, 0.35]\n", "", "14: reading.tablet: is missing: list the densities of its steps, or give tablet_first, tablet_step and tablet_count"),
	badIn("tablet turns", byEye, "0.20, 0.35]\n[[", "0.20, 0.15]\n[[", "16: reading.tablet[3]: 0.15 after 0.2 breaks the order of the wedge; its densities must rise or fall all the way"),
	badIn("tablet twice", byEye, "tablet = ", "tablet_first = 0.05\ntablet = ", "16: reading.tablet_first: does not go with tablet; list the steps or give tablet_first, tablet_step and tablet_count, not both"),
	badIn("beyond the tablet", byEye, "1.5", "3.5", "19: strip[1].density[2]: step 3.5 is outside 1 to 3, those of the tablet"),
	badIn("tablet of a meter", byMeter, "open_ev", "tablet_sd = 0.01\nopen_ev", `14: reading.tablet: goes with unit = "step"`),
	badPaper("paper by a meter", "kind = \"relative\"\nlog_h = [0.0, 0.3, 0.6]\n", "kind = \"relative\"\nlog_h = [0.0, 0.3, 0.6]\n[reading]\nunit = \"EV\"\nopen_ev = 12\n",
		`9: reading.unit: "EV" is of film; a paper is read by reflection, in densities`),
	badIn("frame of contact", notebooktest.Good, notebooktest.Contact, notebooktest.Contact+"\n[exposure.frame]\nmeter_index = 125\nstops = -4\nminutes = 5\ndensity = 0.31\n",
		`14: exposure.frame: goes with kind = "relative", but the kind is "contact"`),
	badIn("frame of another time", tied, "minutes = 5.5\ndensity = 0.31", "minutes = 6\ndensity = 0.31", "16: exposure.frame.minutes: no strip was developed for 6:00, as the frame was; there are 5:30"),
	badIn("frame without density", tied, "density = 0.31\n", "", "13: exposure.frame.density: is missing"),
	badIn("frame density", tied, "0.31", "9", "17: exposure.frame.density: density 9 is outside 0 to 6"),
	badIn("frame and reference", tied, "wedge_sd = 0.02", "reference_speed_point_log_h = -2", "13: exposure.frame: does not go with reference_speed_point_log_h; one of them ties the exposures down"),
	badIn("wedge and log H", tied, "wedge_sd = 0.02", "log_h = [0, 1, 2]", "12: exposure.log_h: does not go with a wedge; give one of them"),
	badIn("wedge sd", tied, "wedge_sd = 0.02", "wedge_sd = 2", "12: exposure.wedge_sd: 2 is outside 0 to 0.2"),
}

// The three that the bad ones differ from are sound.
func TestReadOtherReadings(t *testing.T) {
	read := func(file string) *sensito.Trial {
		trial, err := Read("t.toml", strings.NewReader(file))
		require.NoError(t, err)
		return trial
	}
	meter := read(byMeter)
	assert.Equal(t, sensito.UnitEV, meter.Reading().Unit)
	assert.Equal(t, []float64{12.3, 12.4}, meter.Reading().OpenEV)
	assert.InDelta(t, 2.65*0.30103, float64(meter.Strips()[0].Steps()[0].Density), 1e-5)
	eye := read(byEye)
	assert.InDelta(t, 0.125, float64(eye.Strips()[0].Steps()[1].Density), 1e-9)
	even := read(strings.Replace(byEye, "tablet = [0.05, 0.20, 0.35]", "tablet_first = 0.05\ntablet_step = 0.15\ntablet_count = 3\nreads_to = \"1/3\"", 1))
	assert.Equal(t, eye.Reading().Tablet, even.Reading().Tablet)
	assert.Equal(t, 1.0/3, even.Reading().ReadsTo)
	frame := read(tied)
	assert.Equal(t, &sensito.Frame{Index: 125, Stops: -4, Minutes: 5.5, Density: []sensito.Density{0.31}}, frame.Exposures().Frame())
	assert.Equal(t, sensito.LogRange(0.02), frame.Exposures().WedgeSD())
	assert.False(t, frame.Exposures().Absolute())
	assert.Equal(t, []sensito.LogExposure{-0.1, -0.4, -0.7}, frame.Exposures().RelativeLogH())
}
