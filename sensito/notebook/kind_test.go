package notebook

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/notebooktest"
)

func TestKindOf(t *testing.T) {
	for _, c := range []struct {
		name, file string
		want       Kind
	}{
		{"film", notebooktest.Good, FilmKind},
		{"film that says so", "kind = \"film\"\n" + notebooktest.Good, FilmKind},
		{"film, broken", strings.Replace(notebooktest.Good, "density = [", "density = ", 1), FilmKind},
		{"film, inline", "film = {name = \"Tern 400\"}\nstrip = [{minutes = 5}]\n", FilmKind},
		{"film, dotted", "film.name = \"Tern 400\"\n", FilmKind},
		{"film of control strips alone by title", "title = \"control\"\n[film]\nname = \"Tern 400\"\n", FilmKind},
		{"strips alone", "[[strip]]\nminutes = 5\ndensity = [1, 2]\n", FilmKind},
		{"paper", notebooktest.GoodPaper, PaperKind},
		{"paper, broken", "kind = 'paper'\n[paper\n", PaperKind},
		{"paper without its kind", "[paper]\nname = \"Slate\"\n", PaperKind},
		{"control", notebooktest.GoodControl, ControlKind},
		{"control without its kind", "[[strip]]\ndate = 2026-03-02\nlow = 0.4\n", ControlKind},
		{"control by its aim", "\ufeff[aim]\r\nlow = 0.4\r\n", ControlKind},
		{"control by its strips, with its film", "film = \"Tern 400\"\ndeveloper = \"Ashlar\"\n[[strip]]\ndate = 2026-03-02\n", ControlKind},
		{"calibration of pictures", "kind = \"picture\"\n[fit]\nmethod = \"smooth\"\n", PictureKind},
		{"tablet without its kind", "[tablet]\nfirst = 0.05\n", PictureKind},
		{"film read by a tablet", "[reading]\ntablet_first = 0.05\n[[strip]]\npicture = \"a.tif, 1f\"\n", FilmKind},
		{"roll", "\n\"name\";range_stops\nLamp;9\n", RollKind},
		{"roll of readings", "Shadow,Highlight,Name\n", RollKind},
		{"roll of odd names", "name,range_stops\n[film],9\nfilm.jpg,7\n", RollKind},
		{"readings", "# made in May\nminutes,step,density\n5,1,1.1\n", TableKind},
		{"measurement data", "CGATS.17\nORIGINATOR \"x\"\n", TableKind},
		{"export", "{\"film\": {\"name\": \"Tern 400\"}}", TableKind},
		{"spreadsheet", "PK\x03\x04\x00", TableKind},
		{"another program's", "[server]\nport = 80\n", UnknownKind},
		{"prose", "Minutes of a meeting, in which film was spoken of.\n", UnknownKind},
		{"table of something", "name,price\nLamp,9\n", UnknownKind},
		{"empty", "", UnknownKind},
	} {
		assert.Equal(t, c.want, KindOf([]byte(c.file)), c.name)
	}
}

func TestList(t *testing.T) {
	dir := t.TempDir()
	for name, file := range map[string]string{
		"b.toml": notebooktest.Good, "a.toml": notebooktest.GoodPaper, "log.toml": notebooktest.GoodControl, "roll.csv": "name,range_stops\nLamp,9\n",
		"torn.toml": "title = \"", "empty.toml": "", "other.toml": "[server]\n", "notes.md": "# film\n",
		".hidden.toml": notebooktest.Good, "picture.png": "\x89PNG\r\n\x1a\n\x00", "later.csv": "step,density\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(file), 0o600))
	}
	require.NoError(t, os.Mkdir(filepath.Join(dir, "older.toml"), 0o700))
	require.NoError(t, os.Symlink("b.toml", filepath.Join(dir, "c.toml")))
	require.NoError(t, os.Symlink("nowhere", filepath.Join(dir, "d.toml")))
	list, err := List(dir)
	require.NoError(t, err)
	got := map[string]Kind{}
	var names []string
	for _, e := range list {
		names = append(names, e.Name)
		got[e.Name] = e.Kind
		assert.Equal(t, filepath.Join(dir, e.Name), e.Path)
	}
	assert.IsIncreasing(t, names)
	assert.Equal(t, map[string]Kind{
		"a.toml": PaperKind, "b.toml": FilmKind, "c.toml": FilmKind, "d.toml": FilmKind, "empty.toml": FilmKind, "torn.toml": FilmKind,
		"log.toml": ControlKind, "roll.csv": RollKind, "later.csv": TableKind, "other.toml": UnknownKind, "notes.md": UnknownKind, "picture.png": UnknownKind,
	}, got)
	_, err = List(filepath.Join(dir, "none"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// What would take the decoder half a minute and more is refused before it is
// decoded; what a notebook may hold is not.
func TestCrowded(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	for name, file := range map[string]string{
		"keys":                    manyKeys(100_000),
		"keys of an inline table": "x = {" + strings.ReplaceAll(manyKeys(100_000), "\n", ", ") + "}",
		"tables":                  strings.Repeat("[a]\n", 200_000),
		"lists of tables between": "[a]\n" + manyKeys(4000) + strings.Repeat("[[b]]\n", 200_000),
		"a key of a list":         "[[b]]\n[a]\n" + manyKeys(4000) + strings.Repeat("[[b]]\nx = 1\n", 100_000),
		"a dotted key":            "a" + strings.Repeat(".a", 500_000) + " = 1",
		"a dotted header":         "[a" + strings.Repeat(".a", 500_000) + "]",
		"a dotted key inside":     "x = {a = 1, a" + strings.Repeat(".a", 500_000) + " = 1}",
	} {
		t.Run(name, func(t *testing.T) {
			trial, err := Read("t.toml", strings.NewReader(file))
			assert.Nil(t, trial)
			assert.ErrorContains(t, err, grammar.TooManyKeys)
		})
	}
	for name, file := range map[string]string{
		"strips":         notebooktest.Good + strings.Repeat(notebooktest.Strips, 9000),
		"inline strips":  "strip = [\n" + strings.Repeat("{minutes = 5.5, base_fog = 0.1, density = [1, 2], note = \"a = b\"},\n", 9000) + "]",
		"a long note":    "[film]\nname = \"" + strings.Repeat("x", 9000) + "\"",
		"a comment":      strings.Repeat("# =================\n", 10_000),
		"repeats":        "density = [\n" + strings.Repeat("[1.1],\n[1.2],\n", 400) + "]",
		"control strips": notebooktest.GoodControl + strings.Repeat("[[strip]]\ndate = 2026-03-02\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\npatches = { middle = 0.7 }\n", 9000),
	} {
		assert.Zero(t, grammar.Crowded([]byte(file)), name)
	}
}

func BenchmarkCrowded(b *testing.B) {
	data := []byte(notebooktest.Good)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		grammar.Crowded(data)
	}
}

func BenchmarkKindOf(b *testing.B) {
	data := []byte(notebooktest.Good)
	for b.Loop() {
		KindOf(data)
	}
}

func BenchmarkRead(b *testing.B) {
	data, err := os.ReadFile(demo + "/larkfield-brinewater.toml")
	require.NoError(b, err)
	for b.Loop() {
		if _, err := Read("t.toml", strings.NewReader(string(data))); err != nil {
			b.Fatal(err)
		}
	}
}
