package main

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

// newFailingRoot returns the commands and one more, fail, which reads its files
// and then fails as a program does: at once, or where several work at a time.
func newFailingRoot(to console.Streams) *cobra.Command {
	s, root := streams{ask.Files{Streams: to}}, newRootCmd(to)
	fail := &cobra.Command{Use: "fail FILE...", RunE: func(cmd *cobra.Command, args []string) error {
		index := func(path string) (int, error) {
			trial, err := s.Trial(path)
			if err != nil {
				return 0, err
			}
			return trial.Strips()[len(args)+100].Number(), nil
		}
		if several, _ := cmd.Flags().GetBool("several"); several {
			return console.InOrder(args, index, func(int, int, error) error { return nil })
		}
		_, err := index(args[0])
		return err
	}}
	fail.Flags().Bool("several", false, "")
	fail.Flags().String("plot", "", "")
	root.AddCommand(fail)
	return root
}

// failing is the program with the command that fails.
func failing() { os.Exit(console.Main(newFailingRoot, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// No panic reaches a user: one line says where the input is kept, with the
// command and the place of the fault, for the owner's eyes alone.
func TestCrash(t *testing.T) {
	notebook := filepath.Join(t.TempDir(), "notebook")
	require.NoError(t, writeNotebook(notebook))
	film := filepath.Join(notebook, demoCamera)
	figure := filepath.Join(t.TempDir(), "old.svg")
	require.NoError(t, os.WriteFile(figure, []byte("an old figure"), 0o600))
	text, err := os.ReadFile(film)
	require.NoError(t, err)
	for name, args := range map[string][]string{
		"one":            {"fail", film, "--plot", figure},
		"several":        {"fail", "--several", film, film, film, film, film, film},
		"standard input": {"fail", "-"},
		"folder":         {"fail", film, notebook, "missing.toml"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Setenv("TMPDIR", t.TempDir())
			t.Setenv("TMP", os.Getenv("TMPDIR"))
			var out, errOut strings.Builder
			code := console.New(strings.NewReader(string(text)), &out, &errOut).Execute(t.Context(), newFailingRoot, args)
			assert.Equal(t, console.ExitUsage, code)
			assert.Empty(t, out.String())
			path, told := strings.CutPrefix(errOut.String(), "sensito: the program failed by a fault of its own; the command, what it read and where it failed are kept in ")
			require.True(t, told, errOut.String())
			path, told = strings.CutSuffix(path, "\n")
			require.True(t, told)
			assert.NotContains(t, path, "\n", "one line")
			assert.Equal(t, os.TempDir(), filepath.Dir(path))
			info, err := os.Stat(path)
			require.NoError(t, err)
			if runtime.GOOS != "windows" {
				assert.Equal(t, os.FileMode(0o600), info.Mode())
			}
			kept, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Contains(t, string(kept), `command: sensito ["fail" `)
			assert.Contains(t, string(kept), "panic: runtime error: index out of range")
			assert.Contains(t, string(kept), "crash_test.go:", "where it failed")
			assert.Contains(t, string(kept), string(text))
			assert.NotContains(t, string(kept), "an old figure")
			assert.Equal(t, name == "folder", strings.Contains(string(kept), "==== "+filepath.Join(notebook, demoRoll)))
		})
	}

	t.Run("nowhere to keep it", func(t *testing.T) {
		missing := filepath.Join(t.TempDir(), "missing")
		t.Setenv("TMPDIR", missing)
		t.Setenv("TMP", missing)
		var out, errOut strings.Builder
		assert.Equal(t, console.ExitUsage, console.New(nil, &out, &errOut).Execute(t.Context(), newFailingRoot, []string{"fail", film}))
		assert.Empty(t, out.String())
		assert.Regexp(t, `^sensito: the program failed by a fault of its own; what was read could not be kept: .*missing.*\n$`, errOut.String())
	})

	// A command that is in order, and one that cannot be carried out, keep nothing.
	t.Setenv("TMPDIR", t.TempDir())
	t.Setenv("TMP", os.Getenv("TMPDIR"))
	var out, errOut strings.Builder
	assert.Equal(t, console.ExitDone, run([]string{"curve", "-"}, strings.NewReader(string(text)), &out, &errOut))
	assert.Equal(t, console.ExitData, run([]string{"curve", "missing.toml"}, nil, &out, &errOut))
	left, err := os.ReadDir(os.TempDir())
	require.NoError(t, err)
	assert.Empty(t, left)
}
