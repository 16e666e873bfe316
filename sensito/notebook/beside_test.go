package notebook

import (
	"bytes"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// opened notes which files of a folder are opened, and how far they are read.
type opened struct {
	fstest.MapFS
	read map[string]int
}

func (o opened) Open(name string) (fs.File, error) {
	f, err := o.MapFS.Open(name)
	if info, statErr := fs.Stat(o.MapFS, name); err == nil && statErr == nil && !info.IsDir() {
		return countedFile{f, name, o.read}, nil
	}
	return f, err
}

type countedFile struct {
	fs.File
	name string
	read map[string]int
}

func (f countedFile) Read(b []byte) (int, error) {
	n, err := f.File.Read(b)
	f.read[f.name] += n
	return n, err
}

// The log of the trial's film and developer is found, of two the one with the newest strip;
// of what is no log only the beginning is read, and a broken log is told.
func TestControlOf(t *testing.T) {
	trial, err := readText(demoFile(t, "larkfield-brinewater.toml"))
	require.NoError(t, err)
	log := demoFile(t, "control.toml")
	file := func(data []byte) *fstest.MapFile { return &fstest.MapFile{Data: data} }
	with := func(old, text string) []byte { return bytes.ReplaceAll(log, []byte(old), []byte(text)) }
	long := append(demoFile(t, "larkfield-brinewater.toml"), []byte(strings.Repeat("# more\n", 5000))...)
	folder := opened{fstest.MapFS{
		"a-older.toml": file(with("2026-", "2025-")), "control.toml": file(log), "trial.toml": file(long),
		"other-film.toml": file(with(`"Larkfield 125"`, `"Tern 400"`)), "other-bath.toml": file(with(`"1+19"`, `"1+31"`)),
		"unsaid.toml": file(with("developer =", "# developer =")), ".hidden.toml": file(log), "notes.txt": file(log),
		"torn.toml": file(with("high     = 1.21\n", "high     = x\n")), "older/control.toml": file(log),
	}, map[string]int{}}
	name, found, faults := ControlOf(folder, trial)
	assert.Equal(t, "control.toml", name)
	require.NotNil(t, found)
	assert.Equal(t, "2026-06-04", found.Strips()[27].Date)
	require.Len(t, faults, 1)
	assert.Contains(t, faults[0].Error(), "torn.toml:")
	assert.Equal(t, 4096, folder.read["trial.toml"], "the beginning alone")
	assert.Zero(t, folder.read["notes.txt"]+folder.read[".hidden.toml"]+folder.read["older/control.toml"])

	many := opened{fstest.MapFS{}, map[string]int{}}
	for _, c := range "abcdefghijklmnop" {
		many.MapFS[string(c)+".toml"] = file(log)
	}
	name, _, faults = ControlOf(many, trial)
	assert.Equal(t, "a.toml", name, "of one day the first")
	assert.Empty(t, faults)
	assert.Len(t, many.read, 8, "a handful")

	dir := t.TempDir()
	name, _, faults = ControlOf(os.DirFS(dir+"/none"), trial)
	assert.Empty(t, name)
	assert.Empty(t, faults)
	require.NoError(t, os.WriteFile(dir+"/beyond.toml", log, 0o600))
	require.NoError(t, os.Mkdir(dir+"/in", 0o700))
	require.NoError(t, os.Symlink("../beyond.toml", dir+"/in/link.toml"))
	root, err := os.OpenRoot(dir + "/in")
	require.NoError(t, err)
	defer root.Close()
	name, found, faults = ControlOf(root.FS(), trial)
	assert.Empty(t, name)
	assert.Nil(t, found, "no link leaves a folder")
	assert.Empty(t, faults)
}
