//go:build linux || darwin

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/demo"
	"sensito/sensito"
	"sensito/sensito/notebook"
)

// pasted is a column as a terminal sends it.
func pasted(lines ...string) string { return strings.Join(lines, enterKey) + enterKey }

// A column of readings that is pasted fills as many steps; the lines after one that is
// questioned wait for their own steps, whatever is typed meanwhile.
func TestEnterPastedReadings(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := sit(t, dir, append([]string{"enter", "tern.toml"}, ofTern...)...)
	s.types("reading 1 of 2", pasted("0.10", "12", "2.04", "186", "1.36", "1.44", "1,22", "1.03", "0.86", "0.68", "0.47", "0.31", "0.20", ""))
	s.shown("1.36 at step 3 does not fit the others. Read it again.\n8 pasted lines wait for your answer; drop forgets them.")
	s.line("keep, or the reading again:", "back 1")
	s.shown("Step 1, and then step 3.")
	s.line("has 2.04 (Enter keeps)", "2.05")
	s.line("step 3 of 11,", "1.66")
	s.sees("strip 2, minutes, like 6:30 (Enter ends):")
	s.line("strip 2", "95")
	s.shown("all 11 steps are read; if 95 is a time, write 95:00")
	s.line("strip 2", "stop")
	s.leaves()
	strip := theStrip(t, filepath.Join(dir, "tern.toml"), 1)
	assert.Equal(t, []sensito.Density{0.10, 0.12}, strip.BaseFog)
	assert.Equal(t, []sensito.Density{2.05, 1.86, 1.66, 1.44, 1.22, 1.03, 0.86, 0.68, 0.47, 0.31, 0.20}, strip.Density)

	// Those that are left at the end are told, and forgotten on request.
	s = sit(t, dir, "enter", "tern.toml", "--minutes", "12")
	s.types("reading 1 of 2", pasted("0.11", "0.11", "2.28", "1.10", "1.88", "1.66"))
	s.shown("2 pasted lines wait for your answer")
	s.line("keep, or the reading again:", "drop")
	s.shown("Forgotten: 2 pasted lines.")
	s.types("keep, or the reading again:", pasted("2.10", "3.1", "1.66"))
	s.shown("1 pasted line waits for your answer; drop forgets it.")
	s.line("keep, or the reading again:", "stop")
	s.leaves()
	s.shown(`Not taken: 1 pasted line, from "1.66" on.`)
	strip = theStrip(t, filepath.Join(dir, "tern.toml"), 2)
	assert.Equal(t, []sensito.Density{2.28, 2.10}, strip.Density[:2])
	assert.Equal(t, 3, strip.NextStep)
}

func theStrip(t *testing.T, path string, number int) sensito.StripSpec {
	t.Helper()
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(trial.Strips()), number)
	return trial.Strips()[number-1].Spec()
}

// A paste into a question answers this one and those that follow, readings included;
// after an answer that is none the others wait for their questions. So does a row.
func TestEnterPastedAnswers(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "tern.toml")
	s := sit(t, dir, "enter", "tern.toml")
	s.types("What it is", pasted("film", "Tern 400", "", "Ashlar 1+4", "two", "c", "density", "air"))
	s.shown("\"two\" is not a temperature like 22.5 or 72F\n3 pasted lines wait for your answer; drop forgets them.")
	s.line("Temperature", "68F")
	s.line("Exposed", "contact; 11; .05; 0,3; 2; 1/2; 9:30")
	s.types("reading 1 of 2", pasted("0.10", "0.12", "2.04"))
	s.line("step 2 of 11", "stop")
	s.leaves()
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, sensito.Film{Name: "Tern 400", RatedSpeed: 400}, trial.Film())
	assert.Equal(t, sensito.Process{Developer: "Ashlar", Dilution: "1+4", TemperatureC: 20, Agitation: "continuous"}, trial.Process())
	assert.Equal(t, 11, trial.Exposures().Len())
	assert.Equal(t, sensito.Seconds(0.5), trial.Exposures().Seconds())
	assert.Equal(t, sensito.Density(2.04), trial.Strips()[0].Spec().Density[0])
}

// What was expected is told after the reading, or not at all; a reading far from it is
// questioned all the same, without the number that would be read instead.
func TestEnterTellsNoExpectation(t *testing.T) {
	t.Parallel()
	for _, flag := range []string{"--no-expect", "--no-expect=false"} {
		s := sit(t, t.TempDir(), append([]string{"enter", "tern.toml", flag}, ofTern...)...)
		s.line("reading 1 of 2", "")
		s.line("step 1 of 11", "2.04")
		s.line("step 2 of 11", "1.86")
		s.sees("step 3 of 11")
		assert.Equal(t, flag == "--no-expect=false", strings.Contains(s.shows(), "was expected"))
		s.line("step 3 of 11", "1.36")
		s.shown("1.36 at step 3 does not fit the others. Read it again.")
		assert.NotContains(t, s.shows(), "1.68", "before it is read again")
		s.line("keep, or the reading again", "1.66")
		s.line("step 4 of 11", "stop")
		s.leaves()
		assert.Equal(t, flag == "--no-expect=false", strings.Contains(s.shows(), "1.68 was expected"))
	}
}

// A strip is taken out once that is confirmed, and brought back.
func TestEnterDeletes(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	data, err := demo.Read("larkfield-brinewater.toml")
	require.NoError(t, err)
	path := filepath.Join(dir, "larkfield-brinewater.toml")
	require.NoError(t, os.WriteFile(path, data, 0o666))
	before := textOf(t, path)
	strips := strings.Count(before, "[[strip]]")
	s := sit(t, dir, "enter", path, "--strip", "2", "--delete")
	s.line("Delete Strip 2, 5:00 min, 20 of 21 steps read: yes or no:", "")
	s.shown("is needed")
	s.line("yes or no:", "n")
	require.EqualError(t, <-s.ended, "exit status 1")
	assert.Equal(t, before, textOf(t, path))
	s = sit(t, dir, "enter", path, "--strip", "2", "--delete")
	s.line("yes or no:", "y")
	s.leaves()
	assert.Equal(t, strips-1, strings.Count(textOf(t, path), "[[strip]]"))
	s = sit(t, dir, "enter", path, "--undo")
	s.leaves()
	assert.Equal(t, before, textOf(t, path))
}

// A control strip that is interrupted goes on at its question; the date is offered for
// the first one only.
func TestEnterControlStrips(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "tank.toml")
	s := sit(t, dir, "enter", "tank.toml")
	s.line("What it is", "con")
	s.line("Title:", "A tank")
	s.line("Film of the strips:", "Larkfield 125")
	s.line("Developer, dilution", "brinewater 1+19")
	s.line("Minutes", "7")
	s.line("Aim: base plus fog", "")
	s.line("Date [20", "2026-03-02")
	s.line("Base plus fog:", "12")
	s.line("Low patch:", "138")
	s.types("High patch:", ctrlC)
	s.isInterrupted()
	assert.NoFileExists(t, path)
	s = sit(t, dir, "enter", "tank.toml")
	s.line("High patch:", "122")
	s.line("First after", "")
	s.line("Note:", "")
	s.shown("low 1.38 is not below high, 1.22; were the patches exchanged?")
	s.line("Low patch [1.38]:", "38")
	s.line("High patch [1.22]:", "")
	s.line("Date (Enter ends):", "")
	s.leaves()
	log, err := notebook.ReadControlFile(path)
	require.NoError(t, err)
	require.Len(t, log.Strips(), 1)
	assert.Equal(t, sensito.Density(0.38), log.Strips()[0].Low)
	assert.Equal(t, sensito.Minutes(7), log.Minutes())
	assert.Equal(t, "Larkfield 125", log.Film())
	developer, dilution := log.Developer()
	assert.Equal(t, []string{"brinewater", "1+19"}, []string{developer, dilution})
}
