package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
)

// zeroLines are command lines that a number of 0 can be added to, where those of
// goodLines cannot take the flag.
var zeroLines = map[string]string{
	"scene --extension":      "scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --aperture 8 --focal 150",
	"scene --focal":          "scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --aperture 8 --extension 300",
	"scene --meter-index":    "scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII",
	"sheet --meter-index":    "sheet larkfield-camera.toml --shadow 8@III --highlight 13@VIII",
	"plan --range":           "plan larkfield-camera.toml",
	"scene --range":          "scene larkfield-camera.toml",
	"tone --range":           "tone larkfield-camera.toml --paper slate.toml --grade 2",
	"sheet --range":          "sheet larkfield-camera.toml",
	"family --range":         "family larkfield-camera.toml --plot a.svg",
	"export --points":        "export larkfield-camera.toml --what curves",
	"export":                 "export larkfield-camera.toml --what card",
	"plan":                   "plan --film Tern --speed 400 --minutes 9",
	"plan --speed":           "plan --film Tern --minutes 9",
	"plan --minutes":         "plan --film Tern --speed 400",
	"plan --step-stops":      "plan --film Tern --speed 400 --minutes 9 --way camera",
	"plan --developer-ml":    "plan --film Tern --speed 400 --minutes 9 --strip-cm2 40",
	"plan --strip-cm2":       "plan --film Tern --speed 400 --minutes 9 --developer-ml 500",
	"control --low":          "control control.toml --add --date 2026-06-08 --base-fog 0.12 --high 1.21",
	"control --high":         "control control.toml --add --date 2026-06-08 --base-fog 0.12 --low 0.38",
	"enter --baud":           "enter new.toml --from readings.txt",
	"enter --bits":           "enter new.toml --from readings.txt",
	"flare --hollow":         "flare larkfield-brinewater.toml --field 1.4 --minutes 6:00",
	"flare --field":          "flare larkfield-brinewater.toml --hollow 0.3 --minutes 6:00",
	"flare":                  "flare larkfield-brinewater.toml --hollow 0.3 --field 1.4 --minutes 6:00",
	"speed --meter-index":    "speed --first-frame -4.5",
	"speed":                  "speed --meter-index 400 --first-frame -4.5",
	"enter":                  "enter larkfield-camera.toml",
	"ls":                     "ls",
	"log":                    "log",
	"serve":                  "serve .",
	"report":                 "report .",
	"sheet --exposure-index": "sheet larkfield-camera.toml --range 7 --done",
	"sheet":                  "sheet larkfield-camera.toml --range 7",
	"picture --scale-sd":     "picture larkfield-ashlar.png --tablet tablet.toml",
	"family":                 "family larkfield-camera.toml --range 7 --plot a.svg",
}

// zeroAims are flags of an aim, which plan has with a trial only.
var zeroAims = []string{"density-range", "shadow-stops", "scan", "callier", "strips", "confidence", "q10", "q10-sd"}

// zeroValues are flags of which 0 is a value: a wedge without density, a film
// without fog, no readings of base plus fog (enter_order.txt), the frame that was metered.
var zeroValues = []string{"wedge-first", "base-fog", "fog", "first-frame"}

// A number that is given as 0 is a value like any other: it is refused by its
// limits, never taken for one that was not given.
func TestZeroIsGiven(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	t.Chdir(dir)
	require.NoError(t, os.WriteFile("readings.txt", []byte("0.10\n"), 0o600))
	tried := 0
	for _, cmd := range newRootCmd(console.Streams{}).Commands() {
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if kind := f.Value.Type(); kind != "float64" && kind != "int" || slices.Contains(zeroValues, f.Name) || cmd.Name() == "tone" && (f.Name == "density-range" || f.Name == "scan") {
				return // a value, or excluded by the paper
			}
			name := cmd.Name() + " --" + f.Name
			line := goodLines[cmd.Name()]
			if general := zeroLines[cmd.Name()]; general != "" {
				line = general
			}
			for _, aim := range zeroAims {
				if cmd.Name() == "plan" && f.Name == aim {
					line = goodLines["plan"]
				}
			}
			if own := zeroLines[name]; own != "" {
				line = own
			}
			switch f.Name {
			case "callier":
				if cmd.Name() != "paper" {
					line += " --enlarger condenser"
				}
			case "q10":
				line += " --at 22"
			case "q10-sd":
				line += " --at 22 --q10 2"
			}
			t.Run(name, func(t *testing.T) {
				tried++
				require.NotEmpty(t, line, "a command line for the flag is missing")
				var out, errOut strings.Builder
				code := run(append(strings.Fields(line), "--"+f.Name, "0"), strings.NewReader(""), &out, &errOut)
				assert.Equal(t, console.ExitUsage, code)
				assert.Empty(t, out.String())
				assert.Regexp(t, `[ "]0(["% ].*)?( is | are |: )`, errOut.String())
			})
		})
	}
	assert.Greater(t, tried, 60)
	figures, err := filepath.Glob("*.svg")
	require.NoError(t, err)
	assert.Empty(t, figures)
}

// A text that is given is never taken for one that was not, whatever the command.
func TestEmptyIsGiven(t *testing.T) {
	tried := 0
	for _, cmd := range newRootCmd(console.Streams{}).Commands() {
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if !strings.HasPrefix(f.Value.Type(), "string") {
				return
			}
			tried++
			for _, empty := range []string{"", " "} {
				var out, errOut strings.Builder
				args := []string{cmd.Name(), "a.toml", "--" + f.Name + "=" + empty}
				if cmd.Name() == "compare" {
					args = append(args, "b.toml")
				}
				if cmd.Name() == "ls" {
					args[1] = "."
				}
				assert.Equal(t, console.ExitUsage, run(args, strings.NewReader(""), &out, &errOut), args)
				assert.Equal(t, "sensito: --"+f.Name+" must not be empty\n", errOut.String())
			}
		})
	}
	assert.Greater(t, tried, 100)
}
