package main

import (
	"encoding/xml"
	"errors"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/printable"
)

// oddName is a name that a file may have and that must not reach a screen as it
// is: it clears the screen, ends the line and turns the direction of text.
const oddName = "a\x1b[2J\nb\u202ec\x07 "

// The name of a file is printed with escapes, by whatever command and on both
// streams, and drawn so that the figure is well formed.
func TestNamesOfFilesPrint(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	t.Chdir(dir)
	require.NoError(t, os.WriteFile("few.toml", []byte(fewReadings), 0o600))
	files, err := filepath.Glob("*.*")
	require.NoError(t, err)
	for _, name := range files {
		require.NoError(t, os.Rename(name, oddName+name))
	}
	lines := []string{"ls .", "ls missing", "curve missing.toml", "demo few.toml", "export few.toml --what curves", "export slate.toml -o out.csv", "mix few.toml",
		"enter larkfield-camera.toml --minutes 9", "import slate.toml --to new.toml", "import slate.toml --to missing/new.toml", "import larkfield-ashlar.toml --into few.toml",
		"sheet larkfield-camera.toml --minutes 6:30 --done", "plan --film Tern --speed 400 --minutes 9 --skeleton skeleton.toml", "curve few.toml",
		"control control.toml --add --date 2026-06-08 --base-fog 0.12 --low 0.38 --high 1.21",
		"sheet --write-procedure written.toml", "scene larkfield-camera.toml --roll harbour.csv", "scene larkfield-camera.toml --roll few.toml", "card few.toml"}
	for _, name := range slices.Sorted(maps.Keys(goodLines)) {
		lines = append(lines, goodLines[name]+" --plot "+name+".svg", goodLines[name]+" --json")
	}
	shown := 0
	for _, line := range lines {
		args := strings.Fields(line)
		for i, arg := range args {
			if strings.ContainsAny(arg, ".") && strings.Trim(arg, ".") != "" || arg == "missing" {
				args[i] = oddName + arg
			}
		}
		t.Run(line, func(t *testing.T) {
			var out, errOut strings.Builder
			run(args, strings.NewReader("0.10\n"), &out, &errOut)
			assert.Equal(t, printable.Lines(out.String()), out.String())
			assert.Equal(t, printable.Lines(errOut.String()), errOut.String())
			assert.NotContains(t, errOut.String(), "\nb")
			if strings.Contains(out.String()+errOut.String(), printable.Text(oddName)) {
				shown++
			}
		})
	}
	assert.Greater(t, shown, 15)
	figures, err := filepath.Glob("*.svg")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(figures), len(goodLines))
	for _, name := range figures {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		assert.Equal(t, printable.Lines(string(text)), string(text))
		d := xml.NewDecoder(strings.NewReader(string(text)))
		for err == nil {
			_, err = d.Token()
		}
		assert.True(t, errors.Is(err, io.EOF), err)
	}
}

// Texts of the command line are printed texts of a limited length, and what is
// refused is told briefly.
func TestTextsOfFlags(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	t.Chdir(dir)
	long := strings.Repeat("Harrow Quay ", 100_000)
	for _, line := range [][]string{
		{"plan", "--speed", "400", "--minutes", "9", "--film"},
		{"plan", "--film", "Tern", "--speed", "400", "--minutes", "9", "--developer"},
		{"sheet", "larkfield-camera.toml", "--minutes", "6:30", "--note"},
		{"sheet", "larkfield-camera.toml", "--minutes", "6:30", "--done", "--note"},
		{"sheet", "larkfield-camera.toml", "--minutes", "6:30", "--vessel"},
		{"enter", "new.toml", "--lux", "2", "--seconds", "1", "--minutes", "9", "--film"},
		{"enter", "slate.toml", "--grade"},
		{"import", "harbour.csv", "--dry-run", "--title"},
		{"import", "harbour.csv", "--dry-run", "--separator"},
		{"scene", "larkfield-camera.toml", "--range", "7", "--filter"},
		{"scene", "larkfield-camera.toml", "--range", "7", "--dilution"},
		{"curve", "larkfield-camera.toml", "--sd-from"},
		{"control", "control.toml", "--chart"},
		{"control", "control.toml", "--add", "--date", "2026-06-08", "--base-fog", "0.12", "--low", "0.38", "--high", "1.21", "--note"},
		{"curve", "larkfield-camera.toml", "--strip"},
		{"mix"},
		{},
	} {
		for _, text := range []string{"Tern\x1b[31m", "Tern\u202e004", long} {
			var out, errOut strings.Builder
			code := run(append(line[:len(line):len(line)], text), strings.NewReader(""), &out, &errOut)
			assert.Equal(t, console.ExitUsage, code, line)
			assert.Empty(t, out.String(), line)
			assert.Less(t, utf8.RuneCountInString(errOut.String()), 1100, line)
			assert.Equal(t, printable.Lines(errOut.String()), errOut.String(), line)
		}
	}
	var out, errOut strings.Builder
	run([]string{"sheet", "larkfield-camera.toml", "--minutes", "6:30", "--note", "Tern\x1b[31m"}, strings.NewReader(""), &out, &errOut)
	assert.Equal(t, `sensito: --note "Tern\x1b[31m" holds the character U+001B, which does not print`+"\n", errOut.String())
	errOut.Reset()
	run([]string{"plan", "--speed", "400", "--minutes", "9", "--film", strings.Repeat("x", 201)}, strings.NewReader(""), &out, &errOut)
	assert.Regexp(t, `^sensito: the name of the film: "x+ \.\.\. x+" is longer than 200 characters\n$`, errOut.String())
}
