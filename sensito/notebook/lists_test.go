package notebook

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/camera"
	"sensito/sensito/control"
	"sensito/sensito/darkroom"
	"sensito/sensito/scene"
)

func demoFile(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("../../cmd/sensito/demo/" + name)
	require.NoError(t, err)
	return data
}

// A strip is taken out of a trial, and nothing else: the comments, and the remark above
// the next strip.
func TestRemoveStrip(t *testing.T) {
	data := demoFile(t, "slate.toml")
	old, err := readText(data)
	require.NoError(t, err)
	data = []byte(strings.Replace(string(data), "[[strip]]\nfilter    = \"2\"", "# of filter 2\n[[strip]]\nfilter    = \"2\"", 1))
	for n := range old.Strips() {
		text, err := RemoveStrip(data, n+1)
		require.NoError(t, err)
		is, err := readText(text)
		require.NoError(t, err)
		require.Len(t, is.Strips(), len(old.Strips())-1)
		for i, s := range is.Strips() {
			from := i
			if i >= n {
				from++
			}
			assert.Equal(t, old.Strips()[from].Grade(), s.Grade())
		}
		assert.Contains(t, string(text), "# of filter 2\n")
		assert.Contains(t, string(text), "# on the baseboard, without a filter")
		assert.NotContains(t, string(text), "\n\n\n")
		assert.True(t, bytes.HasSuffix(text, []byte("]\n")))
		if n == 3 {
			assert.NotContains(t, string(text), `filter    = "2"`)
		}
	}
	_, err = RemoveStrip(data, 8)
	assert.EqualError(t, err, "there is no strip 8; the file has 7")
	for len(old.Strips()) > 1 {
		data, err = RemoveStrip(data, 1)
		require.NoError(t, err)
		old, err = readText(data)
		require.NoError(t, err)
	}
	_, err = RemoveStrip(data, 1)
	assert.EqualError(t, err, "strip 1 is the only one: to be rid of it, remove the file")
}

// What all strips say alike stands for the trial only as long as all say it.
func TestRemoveStripThatAloneDiffers(t *testing.T) {
	text := []byte(fourStrips)
	out, err := RemoveStrip(text, 2)
	require.NoError(t, err)
	trial, err := readText(out)
	require.NoError(t, err)
	assert.Equal(t, 20.0, trial.Process().TemperatureC)
	_, err = RemoveStrip([]byte(strings.Replace(fourStrips, "[[strip]]\nminutes = 6", "strip = []", 1)), 1)
	require.Error(t, err)
}

const fourStrips = `[film]
name = "Tern 400"
[exposure]
kind = "contact"
illuminance_lx = 2
seconds = 1
wedge = [1.0, 1.3, 1.6, 1.9]
[[strip]]
minutes = 6
temperature_c = 20
density = [1.11, 1.00, 0.87, 0.76]
[[strip]]
minutes = 8
temperature_c = 24
density = [1.21, 1.10, 0.97, 0.86]
`

func TestControlEdits(t *testing.T) {
	data := demoFile(t, "control.toml")
	strips, err := controlStrips(data)
	require.NoError(t, err)
	s := strips[20]
	require.Equal(t, "topped up with working solution", s.Note)
	s.Low, s.Note, s.Fresh = 0.36, "", true
	text, err := ReplaceControl(data, 21, s)
	require.NoError(t, err)
	log, err := ReadControl("control.toml", bytes.NewReader(text))
	require.NoError(t, err)
	assert.Equal(t, s, log.Strips()[20])
	assert.Equal(t, len(bytes.Split(data, []byte("\n"))), len(bytes.Split(text, []byte("\n"))), "a line for a line")
	text, err = RemoveControl(data, 28)
	require.NoError(t, err)
	assert.Equal(t, string(data[:bytes.LastIndex(data, []byte("\n[[strip]]"))]), string(text))
	s.Low = 7
	_, err = ReplaceControl(data, 21, s)
	assert.ErrorContains(t, err, "7 is outside 0 to 6")
	_, err = ReplaceControl(data, 40, s)
	assert.EqualError(t, err, "there is no strip 40; the log has 28")

	spec := control.LogSpec{Title: "A tank", Minutes: 7, Aim: &control.Patches{BaseFog: 0.12, Low: 0.39, High: 1.21}, Strips: strips[:2]}
	want, err := control.NewLog(spec)
	require.NoError(t, err)
	got, err := ReadControl("new.toml", bytes.NewReader(FormatControl(spec)))
	require.NoError(t, err)
	assert.Equal(t, want, got)
}

func TestProcedureEdits(t *testing.T) {
	data := demoFile(t, "procedure.toml")
	p, err := ReadProcedure("procedure.toml", bytes.NewReader(data))
	require.NoError(t, err)
	again, err := ReadProcedure("new.toml", bytes.NewReader(FormatProcedure(p)))
	require.NoError(t, err)
	assert.Equal(t, p, again)

	steps := p.Steps()
	rinse := darkroom.ProcessStep{Name: "Second rinse", Bath: darkroom.Bath{Name: "water"}, Minutes: 0.5, Dark: true}
	for at := range 5 { // before the steps in the light
		text, err := InsertStep(data, at+1, rinse)
		require.NoError(t, err, at)
		got, err := ReadProcedure("new.toml", bytes.NewReader(text))
		require.NoError(t, err)
		assert.Equal(t, "Second rinse", got.Steps()[at].Name)
		back, err := RemoveStep(text, at+1)
		require.NoError(t, err)
		assert.Equal(t, string(data), string(back))
	}
	_, err = InsertStep(data, 9, rinse)
	assert.ErrorContains(t, err, "step 5 before it is in the light")
	fix := steps[3]
	fix.Bath.Dilution, fix.Minutes, fix.From, fix.ClearingFactor = "1+9", 5, darkroom.TimeStated, 0
	text, err := ReplaceStep(data, 4, fix)
	require.NoError(t, err)
	assert.Contains(t, string(text), `dilution        = "1+9"                 # common practice, no source: the product's sheet`)
	assert.Contains(t, string(text), `minutes         = "5:00"`)
	_, err = RemoveStep(data, 2)
	assert.ErrorContains(t, err, "none is the development")

	for text, want := range map[string]string{"5": "5:00", "5:30": "5:30", "from plan": "from plan", "": ""} {
		from, m, err := StepTime(text)
		require.NoError(t, err)
		assert.Equal(t, want, TimeText(darkroom.ProcessStep{From: from, Minutes: m}))
	}
}

func TestRollEdits(t *testing.T) {
	data := demoFile(t, "harbour.csv")
	frames, err := ReadRoll("harbour.csv", bytes.NewReader(data))
	require.NoError(t, err)
	again, err := ReadRoll("new.csv", bytes.NewReader(FormatRoll(frames)))
	require.NoError(t, err)
	assert.Equal(t, frames, again)
	text, err := AppendFrame(data, frames[0])
	assert.ErrorContains(t, err, `"Lamp room" is the name of line 2 too`)
	assert.Nil(t, text)
	text, err = AppendFrame(data, scene.Frame{Name: `The "long", low wall`, Stops: 6.5})
	require.NoError(t, err)
	assert.Equal(t, string(data)+"\"The \"\"long\"\", low wall\",6.5,,\n", string(text))
	text, err = RemoveFrame(text, 7)
	require.NoError(t, err)
	assert.Equal(t, string(data), string(text))
	text, err = ReplaceFrame(data, 3, scene.Frame{Name: "Gallery", Stops: 7})
	require.NoError(t, err)
	assert.Equal(t, strings.Replace(string(data), "Gallery at noon,,9@III,13.5@VIII", "Gallery,7,,", 1), string(text))
	_, err = ReplaceFrame(data, 9, frames[0])
	assert.EqualError(t, err, "there is no frame 9; the roll has 6")

	// A column that is not there yet, other separators and ends of lines.
	m := &camera.Metering{Shadow: camera.SpotReading{EV: 8, Zone: 3}, Highlight: camera.SpotReading{EV: 13, Zone: 8}}
	stops, err := m.Range()
	require.NoError(t, err)
	text, err = AppendFrame([]byte("Name,Range_Stops\nPier,7\n"), scene.Frame{Name: "Steps", Stops: 6.5})
	require.NoError(t, err)
	assert.Equal(t, "Name,Range_Stops\nPier,7\nSteps,6.5\n", string(text), "the columns that are there, in capitals")
	text, err = AppendFrame([]byte("range_stops;name\r\n\r\n7,5;Pier"), scene.Frame{Name: "Steps", Stops: stops, Metering: m})
	require.NoError(t, err)
	assert.Equal(t, "range_stops;name;shadow;highlight\r\n\r\n7,5;Pier\r\n;Steps;8@III;13@VIII\r\n", string(text))
	_, err = RemoveFrame([]byte("name,range_stops\nPier,7\n"), 1)
	assert.EqualError(t, err, "frame 1 is the only one: to be rid of it, remove the file")
}
