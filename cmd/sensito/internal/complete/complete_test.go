package complete

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
)

// write makes a notebook in a folder that the test then is in.
func write(t *testing.T, files map[string]string) {
	t.Chdir(t.TempDir())
	for name, text := range files {
		require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
}

func TestFiles(t *testing.T) {
	const paper, control = "[paper]\n", "[aim]\n"
	write(t, map[string]string{"slate.toml": paper, "log.toml": control, "notes.txt": paper, ".old.toml": paper, "sub/one.toml": paper,
		"sub/a paper.toml": paper, "sub/new\nline.toml": paper, "sub/roll.csv": "name,range_stops\nquay,7\n"})
	for _, c := range []struct {
		of        Func
		typed     string
		want      []string
		directive cobra.ShellCompDirective
	}{
		{Files(notebook.PaperKind), "", []string{"slate.toml", "sub/"}, cobra.ShellCompDirectiveDefault},
		{Files(notebook.PaperKind), "su", []string{"sub/"}, cobra.ShellCompDirectiveNoSpace},
		{Files(notebook.PaperKind), ".", []string{".old.toml"}, cobra.ShellCompDirectiveDefault},
		{Files(notebook.PaperKind), "sub/", []string{"sub/a paper.toml", "sub/one.toml"}, cobra.ShellCompDirectiveDefault},
		{Files(notebook.PaperKind), "./sub/o", []string{"./sub/one.toml"}, cobra.ShellCompDirectiveDefault},
		{Files(notebook.ControlKind), "l", []string{"log.toml"}, cobra.ShellCompDirectiveDefault},
		{Files(notebook.RollKind), "sub/", []string{"sub/roll.csv"}, cobra.ShellCompDirectiveDefault},
		{Files(notebook.FilmKind), "x", nil, cobra.ShellCompDirectiveDefault},
		{Files(notebook.FilmKind), "nowhere/", nil, cobra.ShellCompDirectiveDefault},
		{Endings("txt"), "n", []string{"notes.txt"}, cobra.ShellCompDirectiveDefault},
		{Folders, "", []string{"sub/"}, cobra.ShellCompDirectiveNoSpace | cobra.ShellCompDirectiveNoFileComp},
	} {
		found, directive := c.of(nil, nil, c.typed)
		assert.Equal(t, c.want, found, c.typed)
		assert.Equal(t, c.directive, directive, c.typed)
	}
}

func TestNamed(t *testing.T) {
	write(t, map[string]string{"good.toml": notebooktest.Good, "broken.toml": "[film]\nname = \n"})
	trial, err := notebook.Read("good.toml", mustOpen(t, "good.toml"))
	require.NoError(t, err)
	for _, args := range [][]string{nil, {"."}, {"good.toml"}, {"none.toml"}} {
		found, directive := Named(Films)(nil, args, "")
		assert.Equal(t, []string{trial.Film().Name}, found, args)
		assert.Equal(t, cobra.ShellCompDirectiveNoFileComp, directive)
	}
	found, _ := Named(Films)(nil, []string{"nowhere/none.toml"}, "")
	assert.Empty(t, found)
	found, _ = Named(Papers)(nil, nil, "")
	assert.Empty(t, found, "a film is no paper")
	found, _ = Strips(nil, []string{"good.toml"}, "")
	assert.Len(t, found, len(trial.Strips()))
	found, _ = Strips(nil, []string{"broken.toml"}, "")
	assert.Empty(t, found)
}

func mustOpen(t *testing.T, path string) *os.File {
	f, err := os.Open(path)
	require.NoError(t, err)
	t.Cleanup(func() { f.Close() })
	return f
}

func TestWords(t *testing.T) {
	offers := func(f Func, typed string) []string {
		found, _ := f(nil, nil, typed)
		return found
	}
	assert.Equal(t, []string{"one", "only"}, offers(Words("one", "only", "two"), "on"))
	assert.Equal(t, []string{"one,two"}, offers(List("one", "two", "three"), "one,tw"))
	assert.Equal(t, []string{"two,one", "two,three"}, offers(List("one", "two", "three"), "two,"))
	assert.Equal(t, []string{"84mm", "84cm"}, offers(Units("mm", "cm"), "84"))
	assert.Equal(t, []string{"8.4mm"}, offers(Units("mm", "cm"), "8.4m"))
	assert.Empty(t, offers(Units("mm", "cm"), ""))
	assert.Empty(t, offers(Units("mm", "cm"), "m"))
	assert.Empty(t, offers(Words("new\nline"), ""))
	given, _ := Arguments(0, Words("one", "two"))(nil, []string{"one"}, "")
	assert.Equal(t, []string{"two"}, given)
	given, _ = Arguments(1, Words("one", "two"))(nil, []string{"one"}, "")
	assert.Empty(t, given)
}
