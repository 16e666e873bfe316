//go:build linux || darwin

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A person builds a trial by questions and keys in a strip: base plus fog, a slip
// that is questioned and retyped, a forgotten point, a step read twice, one step
// back, one skipped, an interruption; then resumes, goes back to the step that
// was skipped, and ends.
func TestEnterSession(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")

	s := sit(t, dir, "enter", "tern.toml")
	s.line("What it is: film, paper, control or procedure [film]:", "")
	s.line("Film:", "Tern 400")
	s.line("Speed on its box [400]:", "4o0")
	s.shown(`speed on its box: "4o0" is not a number other than 0`)
	s.line("Speed on its box [400]:", "")
	s.line("Developer, dilution, like Ashlar 1+4:", "Ashlar 1:4")
	s.line("Temperature, °C or 68F:", "68F")
	s.line("Agitation: continuous, intermittent or none:", "i")
	s.line("Readings in: density, EV or step [density]:", "")
	s.line("Densitometer zeroed on: air or base [air]:", "back")
	s.line("Readings in: density, EV or step [density]:", "back")
	s.line("Agitation: continuous, intermittent or none [intermittent]:", "c")
	s.line("Readings in: density, EV or step [density]:", "")
	s.line("Densitometer zeroed on: air or base [air]:", "")
	s.line("Exposed (contact: a wedge): contact, relative or camera [contact]:", "")
	s.line("Steps of the wedge [21]:", "11")
	s.line("Density of its step 1 [0.05]:", "")
	s.line("Density from step to step [0.15]:", "0,3")
	s.line("Light at the film without the wedge, lux:", "2")
	s.line("Exposure, seconds:", "1/2")
	s.line("Strip 1, minutes, like 5:30:", "9.5")
	s.types("reading 1 of 2 (Enter goes on):", "10"+enterKey)
	s.types("reading 2 of 2 (Enter goes on):", "0.12"+enterKey)
	s.types("step 1 of 11,", "2.04"+enterKey)
	s.types("step 2 of 11,", "1.86"+enterKey)
	s.types("step 3 of 11,", "1.36"+enterKey)
	s.types("keep, or the reading again:", "1.66"+enterKey)
	s.types("step 4 of 11,", "144"+enterKey)
	s.types("step 5 of 11,", "1.22"+enterKey)
	s.types("step 6 of 11,", "again 1.24"+enterKey)
	s.shown("mean 1.230")
	s.types("step 6 of 11,", "1.05"+enterKey)
	s.types("step 7 of 11,", "back"+enterKey)
	s.types("has 1.05 (Enter keeps):", "1.00"+enterKey)
	s.types("step 7 of 11,", "skip"+enterKey)
	s.types("step 8 of 11,", ctrlC)
	s.isInterrupted()
	s.sawAll(strings.TrimSpace(`
Steps of the wedge [21]: 11
Density of its step 1 [0.05]:
Density from step to step [0.15]: 0,3
Light at the film without the wedge, lux: 2
Exposure, seconds: 1/2
  = 0.5 s
Strip 1, minutes, like 5:30: 9.5
  = 9:30 min
Tern 400 in Ashlar 1+4; help lists what can be typed.
Strip 1, 9:30 min.
base plus fog, reading 1 of 2 (Enter goes on): 10
  0.10
sensito: wrote tern.toml
base plus fog, reading 2 of 2 (Enter goes on): 0.12
step 1 of 11, wedge 0.05: 2.04
step 2 of 11, wedge 0.35: 1.86
  1.86 was expected
step 3 of 11, wedge 0.65: 1.36
1.36 at step 3 does not fit the others. Read it again.
keep, or the reading again: 1.66
  1.67 was expected
step 4 of 11, wedge 0.95: 144
  1.44; 1.46 was expected
step 5 of 11, wedge 1.25: 1.22
  1.22 was expected
step 6 of 11, wedge 1.55: again 1.24
step 5: 1.22 and 1.24, mean 1.230
step 6 of 11, wedge 1.55: 1.05
  1.03 was expected
step 7 of 11, wedge 1.85: back
Step 6, and then step 7.
step 6 of 11, wedge 1.55, has 1.05 (Enter keeps): 1.00
  1.03 was expected
step 7 of 11, wedge 1.85: skip
step 8 of 11, wedge 2.15: ^C
Strip 1 goes on at step 8 of 11: sensito enter tern.toml
Strip 1, 9:30 min: 6 of 11 steps read, 1 of them more than once
Readings of one step scatter by 0.014 (1 of the steps); stated is 0.010
sensito: interrupted; what was saved is in tern.toml`))
	assert.True(t, s.bold("1.36 at step 3 does not fit"))
	assert.False(t, s.bold("Strip 1 goes on"))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, `title = "Tern 400 in Ashlar 1+4"

[film]
name        = "Tern 400"
rated_speed = 400

[process]
developer     = "Ashlar"
dilution      = "1+4"
temperature_c = 20
agitation     = "continuous"

[exposure]
kind           = "contact"
illuminance_lx = 2
seconds        = 0.5
wedge_first    = 0.05
wedge_step     = 0.3
wedge_count    = 11

[reading]
repeatability = 0.01
zero          = "air"

[[strip]]
minutes   = "9:30"
base_fog  = [0.10, 0.12]
next_step = 8
density   = [
  2.04, 1.86, 1.66, 1.44, [1.22, 1.24], 1.00, nan,
  nan, nan, nan, nan,
]
`, string(text))

	s = sit(t, dir, "enter", "tern.toml")
	s.types("step 8 of 11,", "0.57"+enterKey)
	s.types("step 9 of 11,", "0.38"+enterKey)
	s.types("step 10 of 11,", "back 7"+enterKey)
	s.types("step 7 of 11,", "0.78 0.79"+enterKey)
	s.types("step 10 of 11,", "0.24"+enterKey)
	s.types("step 11 of 11,", "0.16"+enterKey)
	s.line("strip 2, minutes, like 6:30 (Enter ends):", "9")
	s.shown("Strip 2, 9:00 min.")
	s.line("reading 1 of 2", "minutes 12")
	s.shown("Strip 2, 12:00 min.")
	s.line("reading 1 of 2", "stop")
	s.leaves()
	s.sawAll(strings.TrimSpace(`
Tern 400 in Ashlar 1+4; help lists what can be typed.
Strip 1, 9:30 min.
step 8 of 11, wedge 2.15: 0.57
  0.58 was expected
step 9 of 11, wedge 2.45: 0.38
  0.38 was expected
step 10 of 11, wedge 2.75: back 7
Step 7, and then step 10.
step 7 of 11, wedge 1.85: 0.78 0.79
  0.78 and 0.79, mean 0.785; 0.78 was expected
step 10 of 11, wedge 2.75: 0.24
  0.21 was expected
step 11 of 11, wedge 3.05: 0.16
  0.11 was expected
Strip 1, 9:30 min: 11 of 11 steps read, 2 of them more than once
Readings of one step scatter by 0.011 (2 of the steps); stated is 0.010
Base plus fog 0.11, speed 543, contrast index 0.65, average gradient 0.64, readings scatter by 0.007
strip 2, minutes, like 6:30 (Enter ends): 9
Strip 2, 9:00 min.
base plus fog, reading 1 of 2 (Enter goes on): minutes 12
Strip 2, 12:00 min.
base plus fog, reading 1 of 2 (Enter goes on): stop
Answers kept; to go on: sensito enter tern.toml`))
	text, err = os.ReadFile(path)
	require.NoError(t, err)
	_, strip, _ := strings.Cut(string(text), "[[strip]]\n")
	assert.Equal(t, `minutes   = "9:30"
base_fog  = [0.10, 0.12]
density   = [
  2.04, 1.86, 1.66, 1.44, [1.22, 1.24], 1.00, [0.78, 0.79],
  0.57, 0.38, 0.24, 0.16,
]
`, strip)
}

// ofTern are the flags of a trial of eleven steps.
var ofTern = strings.Fields("--film Tern --wedge-count 11 --wedge-step 0.3 --lux 2 --seconds 0.5 --minutes 9:30 --way contact --unit density --zero air " +
	"--wedge-first 0.05 --speed 400 --developer Ashlar --temperature 20 --agitation none")

// The first reading is wrong, which only the second shows, and which of them is
// wrong only the third; a reading far off is kept since the film has a scratch.
func TestEnterFirstReadingWrong(t *testing.T) {
	dir := t.TempDir()
	s := sit(t, dir, append([]string{"enter", "tern.toml"}, ofTern...)...)
	s.types("reading 1 of 2", enterKey)
	s.types("step 1 of 11", "2.64"+enterKey)
	s.types("step 2 of 11", "1.86"+enterKey)
	s.types("keep, or the reading again:", "keep"+enterKey)
	s.types("step 3 of 11", "1.66"+enterKey)
	s.types("step 4 of 11", "back 1"+enterKey)
	s.types("has 2.64", "2.04"+enterKey)
	s.types("step 4 of 11", "1.74"+enterKey)
	s.types("keep, or the reading again:", "k"+enterKey)
	s.types("step 5 of 11", "note step 4 has a scratch"+enterKey)
	s.shown("noted")
	s.types("step 5 of 11", "1,2x"+enterKey)
	s.shown("not a reading")
	s.types("step 5 of 11", "stop"+enterKey)
	s.leaves()
	s.sawAll(strings.TrimSpace(`
Tern in Ashlar; help lists what can be typed.
Strip 1, 9:30 min.
base plus fog, reading 1 of 2 (Enter goes on):
step 1 of 11, wedge 0.05: 2.64
sensito: wrote tern.toml
step 2 of 11, wedge 0.35: 1.86
1.86 at step 2 does not fit the others. Read it again.
keep, or the reading again: keep
step 3 of 11, wedge 0.65: 1.66
2.64 at step 1 does not fit the steps about it.
To read it again: back 1
step 4 of 11, wedge 0.95: back 1
Step 1, and then step 4.
step 1 of 11, wedge 0.05, has 2.64 (Enter keeps): 2.04
  2.06 was expected
step 4 of 11, wedge 0.95: 1.74
1.74 at step 4 does not fit the others. Read it again.
keep, or the reading again: k
step 5 of 11, wedge 1.25: note step 4 has a scratch
noted: step 4 has a scratch
step 5 of 11, wedge 1.25: 1,2x
"1,2x" is not a reading, like 1.13; see help
step 5 of 11, wedge 1.25: stop
Strip 1 goes on at step 5 of 11: sensito enter tern.toml
Strip 1, 9:30 min: 4 of 11 steps read`))
	trial, err := notebook.ReadFile(filepath.Join(dir, "tern.toml"))
	require.NoError(t, err)
	assert.Equal(t, "step 4 has a scratch", trial.Strips()[0].Note())
}

// A reading without its decimal point goes where its line said; a strip that is read from its other end is told at the terminal too,
// and base plus fog as often as wanted.
func TestEnterMarklessAndContrary(t *testing.T) {
	dir := t.TempDir()
	s := sit(t, dir, append([]string{"enter", "tern.toml", "--fog", "3"}, ofTern...)...)
	s.types("reading 1 of 3", "0.10"+enterKey)
	s.types("reading 2 of 3", "0.10 0.11"+enterKey)
	s.types("step 1 of 11", "0.16"+enterKey)
	s.types("step 2 of 11", "0.24"+enterKey)
	s.types("step 3 of 11", "0.42"+enterKey)
	s.types("step 4 of 11", "0.60"+enterKey)
	s.shown("The readings fall where the exposures rise. Is the strip\nthe other way round? To begin anew: back 1")
	s.line("step 5 of 11", "again 61")
	s.shown("step 4: 0.60 and 0.61, mean 0.605")
	s.line("step 5 of 11", "step 7 79")
	s.shown("  0.79")
	s.line("step 8 of 11", "1.0 5")
	s.shown("5 can be 5.00 or 0.05; write it with its decimal point")
	s.line("step 8 of 11", "stop")
	s.leaves()
	trial, err := notebook.ReadFile(filepath.Join(dir, "tern.toml"))
	require.NoError(t, err)
	strip := trial.Strips()[0].Spec()
	assert.Equal(t, []sensito.Density{0.10, 0.10, 0.11}, strip.BaseFog)
	assert.Equal(t, []sensito.Density{0.60, 0.61}, strip.Repeats[4])
	assert.Equal(t, sensito.Density(0.79), strip.Density[6])
	assert.Equal(t, 8, strip.NextStep)
}

// Readings of an instrument come beside what is typed.
func TestEnterFromInstrument(t *testing.T) {
	near, far, err := pty.Open()
	require.NoError(t, err)
	defer near.Close()
	defer far.Close()
	dir := t.TempDir()
	s := sit(t, dir, append([]string{"enter", "tern.toml", "--from", far.Name()}, ofTern...)...)
	s.sees("reading 1 of 2")
	send(t, near, "D 0.11\r\n")
	s.sees("reading 2 of 2")
	send(t, near, "D 0.11\r\n")
	s.sees("step 1 of 11")
	send(t, near, "D 2.04\r\n")
	s.sees("step 2 of 11")
	send(t, near, "LOW BATTERY\r\n")
	send(t, near, "D 0.86\r\n") // of another strip
	s.sees("keep, or the reading again:")
	send(t, near, "D 1.86\r\n")
	s.types("step 3 of 11", "back"+enterKey)
	s.types("has 1.86", enterKey)
	s.types("step 3 of 11", "skip"+enterKey)
	s.sees("step 4 of 11")
	send(t, near, "D 1.44\r\n")
	s.types("step 5 of 11", ctrlC)
	s.isInterrupted()
	s.sawAll(strings.TrimSpace(`
Tern in Ashlar; help lists what can be typed.
Strip 1, 9:30 min.
base plus fog, reading 1 of 2 (Enter goes on): 0.11
sensito: wrote tern.toml
base plus fog, reading 2 of 2 (Enter goes on): 0.11
step 1 of 11, wedge 0.05: 2.04
step 2 of 11, wedge 0.35:
Passed over: "LOW BATTERY" tells of the instrument's state: no reading
step 2 of 11, wedge 0.35: 0.86
0.86 at step 2 does not fit the others. Read it again.
keep, or the reading again: 1.86
  1.86 was expected
step 3 of 11, wedge 0.65: back
Step 2, and then step 3.
step 2 of 11, wedge 0.35, has 1.86 (Enter keeps):
step 3 of 11, wedge 0.65: skip
step 4 of 11, wedge 0.95: 1.44
  1.49 was expected
step 5 of 11, wedge 1.25: ^C
Strip 1 goes on at step 5 of 11: sensito enter tern.toml
Strip 1, 9:30 min: 3 of 11 steps read
sensito: interrupted; what was saved is in tern.toml`))
	trial, err := notebook.ReadFile(filepath.Join(dir, "tern.toml"))
	require.NoError(t, err)
	assert.Equal(t, 5, trial.Strips()[0].NextStep())
}

// Somebody else edits the file meanwhile: another part of it, then the strip.
func TestEnterFileChanges(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")
	edit := func(old, new string) {
		_, err := store.Update(path, nil, func(text []byte) ([]byte, error) {
			require.Contains(t, string(text), old)
			return []byte(strings.Replace(string(text), old, new, 1)), nil
		})
		require.NoError(t, err)
	}
	s := sit(t, dir, append([]string{"enter", "tern.toml", "--plain"}, ofTern...)...)
	s.types("reading 1 of 2", enterKey)
	s.types("step 1 of 11", "2.04"+enterKey)
	s.sees("step 2 of 11")
	edit("rated_speed = 400", "rated_speed = 320 # as I rate it")
	s.types("step 2 of 11", "1.86"+enterKey)
	s.sees("step 3 of 11")
	edit("2.04", "2.05")
	s.types("step 3 of 11", "1.66"+enterKey)
	require.Error(t, <-s.ended)
	s.sawAll(strings.TrimSpace(`
Tern in Ashlar; help lists what can be typed.
Strip 1, 9:30 min.
base plus fog, reading 1 of 2 (Enter goes on):
step 1 of 11, wedge 0.05: 2.04
sensito: wrote tern.toml
step 2 of 11, wedge 0.35: 1.86
  1.86 was expected
step 3 of 11, wedge 0.65: 1.66
  1.68 was expected
Strip 1 goes on at step 3 of 11: sensito enter tern.toml
sensito: tern.toml: strip 1 was changed by somebody else while it was being keyed in; the last line
was not saved: enter goes on with what is there now`))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(text), "rated_speed = 320 # as I rate it")
	assert.Contains(t, string(text), "2.05, 1.86,  nan")
}

// Interrupted among the questions, or with the terminal gone, the answers are there
// again; there is no file before its first reading.
func TestEnterDraft(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")
	some := []string{"enter", "tern.toml", "--plain", "--way", "camera", "--unit", "density", "--zero", "air", "--developer", "Ashlar 1+4", "--agitation", "none"}
	s := sit(t, dir, some...)
	s.line("Film:", "Tern 400")
	s.line("Speed on its box [400]:", "320")
	s.types("Temperature", ctrlC)
	s.isInterrupted()
	s.sawAll(strings.TrimSpace(`
Film: Tern 400
Speed on its box [400]: 320
Temperature, °C or 68F: ^C
Answers kept; to go on: sensito enter tern.toml
sensito: interrupted; what was saved is in .tern.toml.sensito-draft`))
	assert.NoFileExists(t, path)

	s = sit(t, dir, "enter", "tern.toml")
	s.line("Temperature", "20")
	s.sees("Index set on the meter:")
	require.NoError(t, s.cmd.Process.Signal(syscall.SIGHUP)) // as of a terminal that is closed
	require.EqualError(t, <-s.ended, "exit status 129")
	assert.FileExists(t, store.Draft(path))

	s = sit(t, dir, "enter", "tern.toml")
	s.types("Index set on the meter:", ctrlD)
	require.EqualError(t, <-s.ended, "exit status 4")
	assert.Contains(t, s.shows(), "sensito: standard input ended before index set on the meter was answered")

	s = sit(t, dir, "enter", "tern.toml")
	s.line("Index set on the meter:", "stop")
	s.leaves()

	s = sit(t, dir, "enter", "tern.toml")
	s.line("Index set on the meter:", "400")
	s.line("Exposures, in stops", "-5..3")
	s.line("Stops from one exposure", "")
	s.line("Strip 1, minutes", "9:30")
	s.types("reading 1 of 2", ctrlC)
	s.isInterrupted()
	assert.NoFileExists(t, path, "an empty strip")

	s = sit(t, dir, "enter", "tern.toml")
	s.line("reading 1 of 2", "")
	s.line("step 1 of 9, -5 stops", "0.16")
	s.types("step 2 of 9, -4 stops", ctrlC)
	s.isInterrupted()
	s.sawAll(strings.TrimSpace(`
Taken up where it was interrupted; back goes back.
  Film: Tern 400
  Speed on its box: 320
  Developer, dilution, like Ashlar 1+4: Ashlar 1+4
  Temperature, °C or 68F: 20
  Agitation: none
  Readings in: density
  Densitometer zeroed on: air
  Exposed (contact: a wedge): camera
  Index set on the meter: 400
  Exposures, in stops from the metered one: -5..3
  Stops from one exposure to the next: 1
  Strip 1, minutes, like 5:30: 9:30
Tern 400 in Ashlar 1+4; help lists what can be typed.
Strip 1, 9:30 min.
base plus fog, reading 1 of 2 (Enter goes on):
step 1 of 9, -5 stops: 0.16
sensito: wrote tern.toml
step 2 of 9, -4 stops: ^C
Strip 1 goes on at step 2 of 9: sensito enter tern.toml
Strip 1, 9:30 min: 1 of 9 steps read
sensito: interrupted; what was saved is in tern.toml`))
	assert.NoFileExists(t, store.Draft(path))
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, sensito.Speed(320), trial.Film().RatedSpeed)
	assert.Equal(t, sensito.Process{Developer: "Ashlar", Dilution: "1+4", TemperatureC: 20, Agitation: "none"}, trial.Process())
}

// A process that is killed loses nothing: enter goes on at the very step.
func TestEnterKilled(t *testing.T) {
	dir := t.TempDir()
	args := append([]string{"enter", "tern.toml"}, ofTern...)
	for step, reading := range []string{"2.04", "1.86", "1.66", "1.44"} {
		s := sit(t, dir, args...)
		if step == 0 {
			s.types("reading 1 of 2", enterKey)
		}
		s.types(fmt.Sprintf("step %d of 11,", step+1), reading+enterKey)
		s.sees(fmt.Sprintf("step %d of 11,", step+2))
		require.NoError(t, s.cmd.Process.Kill())
		require.Error(t, <-s.ended)
		args = args[:2]
	}
	trial, err := notebook.ReadFile(filepath.Join(dir, "tern.toml"))
	require.NoError(t, err)
	strip := trial.Strips()[0].Spec()
	assert.Equal(t, 5, strip.NextStep)
	assert.Equal(t, []sensito.Density{2.04, 1.86, 1.66, 1.44}, strip.Density[:4])
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, 2, "something is left behind")
	assert.Equal(t, ".tern.toml.sensito-before", entries[0].Name())
}

// send writes to the near end of a serial line.
func send(t *testing.T, near *os.File, text string) {
	t.Helper()
	_, err := near.WriteString(text)
	require.NoError(t, err)
}
