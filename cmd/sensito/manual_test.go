package main

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/manual"
)

// A release has its manual written by this test, so that it has the pages that
// were tested.
var (
	manualDir     = flag.String("manual", "", "write the pages of the manual into this folder")
	manualVersion = flag.String("manual-version", "0.0.0", "the version that they are of")
	manualDate    = flag.String("manual-date", "2026-01-01", "the date that they are of")
)

// commonSections end the pages of commands.
var commonSections = []manual.Section{
	{Title: "EXIT STATUS", Text: strings.TrimPrefix(console.ExitCodes, "Exit codes:\n")},
	{Title: "FILES", Text: `A notebook is a folder of small files: trials of film and of paper, control logs
and procedures in TOML, rolls of scenes in CSV. What a file is shows in its
content. Nothing is kept elsewhere; should the program itself fail, it keeps a
report among the temporary files, and names it.

  .NAME.sensito-before   NAME as it was before the last save
  .NAME.sensito-lock     while NAME is written, and removed then`},
	{Title: "ENVIRONMENT", Text: `  NO_COLOR, TERM   no bold type at a terminal where NO_COLOR is set, or TERM is dumb`},
	{Title: "CAUTION", Text: `A computed time is a starting point: verify it on your own process. Chemicals are
hazardous: gloves, eye protection, ventilation; never mix acids or bleach with
fixer; read the product's safety sheet and dispose by local rules.`},
}

var flagWord = regexp.MustCompile(`(?:^|[\s(])--([a-z][a-z0-9-]*)`)

// TestManual holds help and manual to the commands: every command has an example
// with flags that it has, every flag is explained, and every page has them all.
func TestManual(t *testing.T) {
	root := newRootCmd(console.New(os.Stdin, os.Stdout, os.Stderr))
	for _, cmd := range root.Commands() {
		if cmd.IsAdditionalHelpTopicCommand() {
			cmd.Long = topicText(cmd.Name())
		}
	}
	pages := map[string]string{}
	for _, p := range manual.Pages(root, manual.Options{Version: *manualVersion, Date: *manualDate, Groups: grouped, Common: commonSections}) {
		pages[p.Name] = string(p.Text)
		for line := range strings.Lines(string(p.Text)) {
			assert.Regexp(t, `^[ -~]*\n$`, line, p.Name)
			if strings.HasPrefix(line, ".") {
				assert.Regexp(t, `^\.(TH|SH|SS|TP|PP|IP|ad|br|fi|nf|nh)\b`, line, p.Name)
			}
		}
		if *manualDir != "" {
			require.NoError(t, os.WriteFile(filepath.Join(*manualDir, p.Name), p.Text, 0o644))
		}
	}
	every := map[string]bool{"version": true} // of the root, which adds it when it runs
	for _, cmd := range root.Commands() {
		cmd.Flags().VisitAll(func(f *pflag.Flag) { every[f.Name] = true })
	}
	commands, flags := 0, 0
	for _, cmd := range append(root.Commands(), root) {
		assert.NotEmpty(t, cmd.Short, cmd.Name())
		assert.NotEmpty(t, cmd.Long, cmd.Name())
		for _, named := range flagWord.FindAllStringSubmatch(cmd.Long, -1) {
			assert.True(t, every[named[1]], "help of %s: there is no --%s", cmd.Name(), named[1])
		}
		if cmd.IsAdditionalHelpTopicCommand() {
			assert.Contains(t, pages, "sensito-"+cmd.Name()+".7")
			continue
		}
		page := "sensito-" + cmd.Name() + ".1"
		if cmd == root {
			page = "sensito.1"
		}
		require.Contains(t, pages, page)
		commands++
		listed := 0
		cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if f.Hidden {
				return
			}
			listed++
			assert.NotEmpty(t, f.Usage, "%s --%s", cmd.Name(), f.Name)
			assert.Contains(t, pages[page], `\fB`+strings.ReplaceAll("--"+f.Name, "-", `\-`)+`\fR`, page)
		})
		assert.Equal(t, listed, strings.Count(pages[page][strings.Index(pages[page], `.SH "OPTIONS"`):], "\n.TP\n"), "flags on %s", page)
		flags += listed
		if cmd != root {
			checkExamples(t, cmd)
		}
	}
	assert.Len(t, pages, len(root.Commands())+1)
	assert.Greater(t, commands, 15)
	assert.Greater(t, flags, 300)
}

// checkExamples fails on a command without an example, and on one with a flag that
// the command does not have.
func checkExamples(t *testing.T, cmd *cobra.Command) {
	require.NotEmpty(t, cmd.Example, "%s has no example", cmd.Name())
	own := 0
	for line := range strings.Lines(cmd.Example) {
		words := strings.Fields(line)
		require.Greater(t, len(words), 1, "%s: %s", cmd.Name(), line)
		require.Equal(t, "sensito", words[0], line)
		of, _, err := cmd.Root().Find(words[1:2])
		require.NoError(t, err, line)
		if of == cmd {
			own++
		}
		for _, named := range flagWord.FindAllStringSubmatch(line, -1) {
			assert.NotNil(t, of.Flags().Lookup(named[1]), "%s: there is no --%s", strings.TrimSpace(line), named[1])
		}
	}
	assert.Positive(t, own, "an example of %s", cmd.Name())
}
