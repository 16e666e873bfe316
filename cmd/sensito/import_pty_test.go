//go:build linux || darwin

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/notebook"
)

// numberedTable has strips that are numbered, which were developed for times that
// it does not tell.
const numberedTable = "step;wedge;1;2\n1;0,05;1,42;1,63\n2;0,20;1,31;1,52\n3;0,35;1,20;1,41\n"

var lit = []string{"--film", "Tern 400", "--lux", "2", "--seconds", "0.5"}

// importing sits down to import a table to tern.toml.
func importing(t *testing.T, table string, more ...string) (s *sitting, path string) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "table.csv"), []byte(table), 0o666))
	args := append([]string{"import", "table.csv", "--to", "tern.toml"}, lit...)
	return sit(t, dir, append(args, more...)...), filepath.Join(dir, "tern.toml")
}

// What a table leaves open is asked, what was read is shown, and nothing is
// written before a yes.
func TestImportAsks(t *testing.T) {
	s, path := importing(t, numberedTable)
	s.shown("table.csv, line 1: 1 to 2 can be development times in minutes or the numbers of the strips")
	s.answer("table.csv", down)
	s.answer("Their development times", "4:00,5.30")
	s.shown(`"5.30" can be 5:30 or 5.3 minutes`)
	s.answer("Their development times", erase+"4:00,5:30")
	s.shown("  2      strip 2, developed for 5:30: 3 readings")
	s.shown("Write tern.toml with 2 strips (4:00, 5:30)?")
	assert.NoFileExists(t, path)
	s.answer("Write tern.toml", "y")
	s.leaves()
	assert.Contains(t, s.shows(), "sensito: wrote tern.toml: 2 strips")
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, sensito.Minutes(5.5), trial.Strips()[1].Minutes())

	// The strips again, and one more, for that trial.
	more := strings.NewReplacer(";1;2", ";4:00;8:00", "1,63", "1,73", "1,52", "1,62", "1,41", "1,51").Replace(numberedTable)
	dir := filepath.Dir(path)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "table.csv"), []byte(more), 0o666))
	s = sit(t, dir, "import", "table.csv", "--into", "tern.toml")
	s.shown("Add 1 strip to tern.toml?")
	assert.Contains(t, s.shows(), "strip 1 of the file is strip 1 of the trial again")
	s.answer("Add 1 strip", "y")
	s.leaves()
	trial, err = notebook.ReadFile(path)
	require.NoError(t, err)
	require.Len(t, trial.Strips(), 3)
	assert.Equal(t, sensito.Minutes(8), trial.Strips()[2].Minutes())
}

// A no, a stop and an interruption write nothing.
func TestImportNotSure(t *testing.T) {
	clear := strings.Replace(numberedTable, ";1;2", ";4:00;5:30", 1)
	s, path := importing(t, clear)
	s.answer("Write tern.toml", "n")
	require.Error(t, <-s.ended)
	assert.Contains(t, s.shows(), "sensito: stopped; nothing was written")
	assert.NoFileExists(t, path)

	s, path = importing(t, numberedTable)
	s.answer("table.csv", down+down)
	require.Error(t, <-s.ended)
	assert.Contains(t, s.shows(), "sensito: stopped; nothing was written")
	assert.NoFileExists(t, path)

	s, path = importing(t, clear)
	s.answer("Write tern.toml", ctrlC)
	require.Error(t, <-s.ended)
	assert.NoFileExists(t, path)

	// With --yes nothing is asked: what is clear is written, what is not is refused.
	s, path = importing(t, clear, "--yes")
	s.leaves()
	assert.FileExists(t, path)
	s, path = importing(t, numberedTable, "--yes")
	require.Error(t, <-s.ended)
	assert.Contains(t, s.shows(), "--times minutes or their times, --minutes 4:00,5:30,8:00")
	assert.NoFileExists(t, path)
}

// Line by line, without colours.
func TestImportAsksPlainly(t *testing.T) {
	s, path := importing(t, strings.Replace(numberedTable, ";1;2", ";5:30:00;8:00:00", 1), "--plain")
	s.shown("can be 5 min 30 s or 5 h 30 min")
	s.types("", "1"+enterKey)
	s.shown("Write tern.toml with 2 strips (5:30, 8:00)?")
	s.types("", "y"+enterKey)
	s.leaves()
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, sensito.Minutes(5.5), trial.Strips()[0].Minutes())
}

// A time that can be two is asked for again.
func TestEnterAsksTimeAgain(t *testing.T) {
	dir := t.TempDir()
	s := sit(t, dir, append([]string{"enter", "tern.toml", "--developer", "Ashlar 1+4", "--speed", "400", "--temperature", "20", "--agitation", "none",
		"--way", "contact", "--unit", "density", "--zero", "air", "--wedge-count", "11", "--wedge-first", "0.05", "--wedge-step", "0.3"}, lit...)...)
	s.line("Strip 1, minutes", "5.30")
	s.shown(`"5.30" can be 5:30 or 5.3 minutes; write 5:30 or 5.3`)
	s.line("Strip 1, minutes", "5:30")
	s.shown("Strip 1, 5:30 min")
}
