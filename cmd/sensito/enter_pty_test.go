//go:build linux || darwin

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
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
	s.answer("Film", "Tern 400")
	s.answer("Speed on its box", "4o0")
	s.shown(`* "4o0" is not a number other than 0`)
	s.answer("Speed on its box", erase+"400")
	s.answer("Developer", "Ashlar 1+4")
	s.answer("Temperature", "20")
	s.answer("Agitation", down)
	s.answer("Exposed under a step wedge", "")
	s.answer("The densitometer was zeroed on", "")
	s.answer("Steps of the wedge", erase+"11")
	s.answer("Density of its step 1", "")
	s.answer("Density from one step to the next", erase+"0,3")
	s.answer("Illuminance at the film", "2")
	s.answer("Exposure, seconds", "0.5")
	s.answer("Development time of strip 1", "9:30")
	s.sawAll(strings.TrimSpace(`
sensito: wrote tern.toml
Tern 400 in Ashlar 1+4
Strip 1, 9:30 min; help lists what can be typed, Ctrl-C interrupts.
base plus fog, reading 1 of 2 (Enter goes on):`))
	s.types("reading 1 of 2 (Enter goes on):", "0.10"+enterKey)
	s.types("reading 2 of 2 (Enter goes on):", "0.12"+enterKey)
	s.types("step 1 of 11,", "2.04"+enterKey)
	s.types("step 2 of 11,", "1.86"+enterKey)
	s.types("step 3 of 11,", "1.36"+enterKey)
	s.types("keep, or the reading again:", "1.66"+enterKey)
	s.types("step 4 of 11,", "144"+enterKey)
	s.types("yes, or the reading:", "yes"+enterKey)
	s.types("step 5 of 11,", "1.22"+enterKey)
	s.types("step 6 of 11,", "again 1.24"+enterKey)
	s.types("expected about 1.03:", "1.05"+enterKey)
	s.types("step 7 of 11,", "back"+enterKey)
	s.types("has 1.05 (Enter keeps):", "1.00"+enterKey)
	s.types("step 7 of 11,", "skip"+enterKey)
	s.types("step 8 of 11,", ctrlC)
	s.isInterrupted()
	s.sawAll(strings.TrimSpace(`
sensito: wrote tern.toml
Tern 400 in Ashlar 1+4
Strip 1, 9:30 min; help lists what can be typed, Ctrl-C interrupts.
base plus fog, reading 1 of 2 (Enter goes on): 0.10
base plus fog, reading 2 of 2 (Enter goes on): 0.12
step 1 of 11, wedge 0.05: 2.04
step 2 of 11, wedge 0.35, expected about 1.86: 1.86
step 3 of 11, wedge 0.65, expected about 1.67: 1.36
1.36 is far from the 1.67 expected at step 3.
keep, or the reading again: 1.66
step 4 of 11, wedge 0.95, expected about 1.46: 144
144 has no decimal point. Is it 1.44?
yes, or the reading: yes
step 5 of 11, wedge 1.25, expected about 1.22: 1.22
step 6 of 11, wedge 1.55, expected about 1.01: again 1.24
step 5: 1.22 and 1.24, mean 1.230
step 6 of 11, wedge 1.55, expected about 1.03: 1.05
step 7 of 11, wedge 1.85, expected about 0.88: back
step 6 of 11, wedge 1.55, expected about 1.03, has 1.05 (Enter keeps): 1.00
step 7 of 11, wedge 1.85, expected about 0.78: skip
step 8 of 11, wedge 2.15, expected about 0.58: ^C
Strip 1 goes on at step 8 of 11: sensito enter tern.toml
Strip 1, 9:30 min: 6 of 11 steps read, 1 of them more than once
Readings of one step scatter by 0.014 (1 of the steps); stated is 0.010
sensito: interrupted; what was saved is in tern.toml`))
	assert.True(t, s.bold("1.36 is far"))
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
	s.types("all steps are read (Enter ends):", enterKey)
	s.leaves()
	s.sawAll(strings.TrimSpace(`
Tern 400 in Ashlar 1+4
Strip 1, 9:30 min; help lists what can be typed, Ctrl-C interrupts.
step 8 of 11, wedge 2.15, expected about 0.58: 0.57
step 9 of 11, wedge 2.45, expected about 0.38: 0.38
step 10 of 11, wedge 2.75, expected about 0.21: back 7
step 7 of 11, wedge 1.85, expected about 0.78: 0.78 0.79
step 10 of 11, wedge 2.75, expected about 0.21: 0.24
step 11 of 11, wedge 3.05, expected about 0.11: 0.16
all steps are read (Enter ends):
Strip 1, 9:30 min: 11 of 11 steps read, 2 of them more than once
Readings of one step scatter by 0.011 (2 of the steps); stated is 0.010
Base plus fog 0.11, speed 543, contrast index 0.65, average gradient 0.64, readings scatter by 0.007`))
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
var ofTern = strings.Fields("--film Tern --wedge-count 11 --wedge-step 0.3 --lux 2 --seconds 0.5 --minutes 9:30 --way contact --zero air " +
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
sensito: wrote tern.toml
Tern in Ashlar
Strip 1, 9:30 min; help lists what can be typed, Ctrl-C interrupts.
base plus fog, reading 1 of 2 (Enter goes on):
step 1 of 11, wedge 0.05: 2.64
step 2 of 11, wedge 0.35, expected about 2.42: 1.86
1.86 is far from the 2.42 expected at step 2.
keep, or the reading again: keep
step 3 of 11, wedge 0.65: 1.66
Step 1 reads 2.64, but the steps about it lead to expect 2.06. To read it again: back 1
step 4 of 11, wedge 0.95, expected about 1.46: back 1
step 1 of 11, wedge 0.05, expected about 2.06, has 2.64 (Enter keeps): 2.04
step 4 of 11, wedge 0.95, expected about 1.46: 1.74
1.74 is far from the 1.46 expected at step 4.
keep, or the reading again: k
step 5 of 11, wedge 1.25, expected about 1.26: note step 4 has a scratch
noted: step 4 has a scratch
step 5 of 11, wedge 1.25, expected about 1.26: 1,2x
"1,2x" is not a reading, like 1.13; see help
step 5 of 11, wedge 1.25, expected about 1.26: stop
Strip 1 goes on at step 5 of 11: sensito enter tern.toml
Strip 1, 9:30 min: 4 of 11 steps read`))
	trial, err := notebook.ReadFile(filepath.Join(dir, "tern.toml"))
	require.NoError(t, err)
	assert.Equal(t, "step 4 has a scratch", trial.Strips()[0].Note())
}

// A reading without its decimal point goes where its line said once it is
// confirmed; a strip that is read from its other end is told at the terminal too,
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
	s.shown("The readings fall where the exposures rise. Is the strip the other way round? To begin anew: back 1")
	s.types("step 5 of 11", "again 61"+enterKey)
	s.types("yes, or the reading:", "yes"+enterKey)
	s.types("step 5 of 11", "step 7 79"+enterKey)
	s.types("yes, or the reading:", "yes"+enterKey)
	s.types("step 8 of 11", "1.0 144"+enterKey)
	s.shown("144 has no decimal point; write 1.44 if that is meant")
	s.types("step 8 of 11", "stop"+enterKey)
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
sensito: wrote tern.toml
Tern in Ashlar
Strip 1, 9:30 min; help lists what can be typed, Ctrl-C interrupts.
base plus fog, reading 1 of 2 (Enter goes on): 0.11
base plus fog, reading 2 of 2 (Enter goes on): 0.11
step 1 of 11, wedge 0.05: 2.04
step 2 of 11, wedge 0.35, expected about 1.86:
Passed over: "LOW BATTERY" tells of the instrument's state: no reading
step 2 of 11, wedge 0.35, expected about 1.86: 0.86
0.86 is far from the 1.86 expected at step 2.
keep, or the reading again: 1.86
step 3 of 11, wedge 0.65, expected about 1.67: back
step 2 of 11, wedge 0.35, expected about 1.86, has 1.86 (Enter keeps):
step 3 of 11, wedge 0.65, expected about 1.67: skip
step 4 of 11, wedge 0.95, expected about 1.49: 1.44
step 5 of 11, wedge 1.25, expected about 1.23: ^C
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
sensito: wrote tern.toml
Tern in Ashlar
Strip 1, 9:30 min; help lists what can be typed, Ctrl-C interrupts.
base plus fog, reading 1 of 2 (Enter goes on):
step 1 of 11, wedge 0.05: 2.04
step 2 of 11, wedge 0.35, expected about 1.86: 1.86
step 3 of 11, wedge 0.65, expected about 1.68: 1.66
Strip 1 goes on at step 3 of 11: sensito enter tern.toml
sensito: tern.toml: strip 1 was changed by somebody else while it was being keyed in; the last line
was not saved: enter goes on with what is there now`))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(text), "rated_speed = 320 # as I rate it")
	assert.Contains(t, string(text), "2.05, 1.86, nan")
}

// The questions line by line, and interrupted: nothing is written.
func TestEnterPlainQuestions(t *testing.T) {
	dir := t.TempDir()
	s := sit(t, dir, "enter", "tern.toml", "--plain", "--way", "camera", "--zero", "air", "--developer", "Ashlar 1+4", "--temperature", "20", "--agitation", "none")
	s.types("Film", "Tern 400"+enterKey)
	s.types("Speed on its box", "400"+enterKey)
	s.types("Index set on the meter", "400"+enterKey)
	s.types("Exposures, in stops", "-5..3"+enterKey)
	s.types("Stops from one exposure", enterKey)
	s.types("Development time of strip 1", "9:30"+enterKey)
	s.types("reading 1 of 2", enterKey)
	s.types("step 1 of 9, -5 stops", ctrlC)
	s.isInterrupted()
	s.sawAll(strings.TrimSpace(`
Film Tern 400

Speed on its box 400

Index set on the meter 400

Exposures, in stops from the metered one (-6..6) -5..3

Stops from one exposure to the next (1)

Development time of strip 1, like 5:30 9:30

sensito: wrote tern.toml
Tern 400 in Ashlar 1+4
Strip 1, 9:30 min; help lists what can be typed, Ctrl-C interrupts.
base plus fog, reading 1 of 2 (Enter goes on):
step 1 of 9, -5 stops: ^C
Strip 1 goes on at step 1 of 9: sensito enter tern.toml
Strip 1, 9:30 min: 0 of 9 steps read
sensito: interrupted; what was saved is in tern.toml`))

	s = sit(t, dir, "enter", "other.toml", "--plain")
	s.types("Film", "Tern"+enterKey)
	s.types("Speed on its box", ctrlD)
	require.EqualError(t, <-s.ended, "exit status 4")
	assert.Contains(t, s.shows(), "sensito: standard input ended before all was answered; nothing was written")
	assert.NoFileExists(t, filepath.Join(dir, "other.toml"))

	s = sit(t, dir, "enter", "other.toml")
	s.answer("Film", ctrlC)
	s.isInterrupted()
	assert.Contains(t, s.shows(), "sensito: interrupted; nothing was written")
	assert.NoFileExists(t, filepath.Join(dir, "other.toml"))
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
