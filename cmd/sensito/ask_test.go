package main

import (
	"bytes"
	"io"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito/report"
)

// A question is one of package ask, to be asked about files by their names.
type question struct {
	register func(*pflag.FlagSet)
	ask      func(from console.Streams, paths []string) (ask.Answer, error)
}

// ofOne is a question about one file, ofSeveral one about several.
func ofOne[A ask.Answer](q interface {
	Register(*pflag.FlagSet)
	Ask(console.Streams, string) (A, error)
}) question {
	return question{q.Register, func(from console.Streams, paths []string) (ask.Answer, error) {
		return q.Ask(from, strings.Join(paths, " "))
	}}
}

func ofSeveral[A ask.Answer](q interface {
	Register(*pflag.FlagSet)
	Ask(console.Streams, []string) (A, error)
}) question {
	return question{q.Register, func(from console.Streams, paths []string) (ask.Answer, error) { return q.Ask(from, paths) }}
}

// questionOf returns the question that a command asks.
func questionOf(command string) (question, bool) {
	switch command {
	case "curve":
		return ofOne(&ask.Curve{}), true
	case "family":
		return ofOne(&ask.Family{}), true
	case "scene":
		return ofOne(&ask.Scene{}), true
	case "card":
		return ofOne(&ask.Card{Made: today()}), true
	case "paper":
		return ofOne(&ask.Paper{}), true
	case "tone":
		return ofOne(&ask.Tone{}), true
	case "control":
		return ofOne(&ask.Control{}), true
	case "plan":
		return ofOne(&ask.Plan{}), true
	case "sheet":
		return ofOne(&ask.Sheet{Made: today()}), true
	case "compare":
		return ofSeveral(&ask.Compare{}), true
	case "picture":
		return ofSeveral(&ask.Picture{Made: today()}), true
	case "log":
		return ofSeveral(&ask.Log{}), true
	}
	return question{}, false
}

// words parts a command line, in which a text in quotation marks is one word.
func words(line string) []string {
	var out []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, part)
		} else {
			out = append(out, strings.Fields(part)...)
		}
	}
	return out
}

// askedWithin asks what a command line asks, flag by flag and confined to the folder, as
// a page does. Left says that the line is no question, or has flags of its output.
func askedWithin(t *testing.T, folder *os.Root, line string) (a ask.Answer, left bool, err error) {
	args := words(line)
	q, known := questionOf(args[0])
	if !known {
		return nil, true, nil
	}
	f := pflag.NewFlagSet(args[0], pflag.ContinueOnError)
	q.register(f)
	var paths []string
	for i := 1; i < len(args); i++ {
		name, flag := strings.CutPrefix(args[i], "--")
		name, value, given := strings.Cut(name, "=")
		switch {
		case args[i] == "-" || strings.HasPrefix(args[i], "-") && !flag:
			return nil, true, nil
		case !flag:
			paths = append(paths, args[i])
			continue
		case slices.Contains([]string{"json", "full", "plot", "font", "force", "width", "theme", "csv", "add", "date", "base-fog", "low", "high", "patch", "fresh", "note",
			"skeleton", "write-procedure", "run", "done", "temperature", "ended", "exposure-index"}, name) && f.Lookup(name) == nil:
			return nil, true, nil
		case given:
		case f.Lookup(name) != nil && f.Lookup(name).NoOptDefVal != "":
			value = f.Lookup(name).NoOptDefVal
		case i+1 == len(args) || args[i+1] == "-":
			return nil, true, nil
		default:
			i++
			value = args[i]
		}
		if err := ask.Set(f, name, value); err != nil {
			return nil, false, err
		}
	}
	if err := ask.CheckTexts(f); err != nil {
		return nil, false, err
	}
	from := console.New(strings.NewReader("not to be read"), io.Discard, io.Discard).
		Within(func(path string) (io.ReadCloser, error) { return folder.Open(path) })
	a, err = q.ask(from, paths)
	return a, false, err
}

// askedLines are command lines that answer, with every question among them.
var askedLines = []string{
	"curve larkfield-camera.toml --strip 2 --gradient-span 1.3",
	"curve larkfield-brinewater.toml --apart --keep-all --confidence 0.9",
	"family larkfield-brinewater.toml --range 7 --at 22.5 --gradient-to 1.2",
	"scene larkfield-brinewater.toml --range 7 --paper slate.toml --grade 2 --control control.toml --correct",
	"scene larkfield-brinewater.toml --shadow 8@III --highlight 13@VIII --aperture 16 --filter 2x --filter 4x --sd-from repeatability",
	"scene larkfield-brinewater.toml --range 7 --index 160 --keep range",
	"scene larkfield-brinewater.toml --roll harbour.csv --meter-index 100",
	"card larkfield-brinewater.toml --flare veil=0.01 --page index",
	"card larkfield-brinewater.toml --temperatures",
	"paper slate.toml --callier 1.3",
	"tone larkfield-brinewater.toml --paper slate.toml --grade 1 --enlarger condenser --range 7",
	"compare larkfield-brinewater.toml larkfield-ashlar.toml --gradient 0.58 --figure gradient",
	"control control.toml --trial larkfield-brinewater.toml --rules nelson --chart individuals --chart ewma",
	"plan larkfield-brinewater.toml --range 5 --within 3%",
	`plan --film Tern --speed 400 --minutes 9 --way camera --developer "Ashlar 1+4"`,
	`sheet larkfield-brinewater.toml --range 7 --vessel "tank 1000ml" --films 4x5in`,
	`sheet larkfield-brinewater.toml --minutes 6:30 --procedure procedure.toml --page a4`,
	"log larkfield-brinewater.toml tern-ashlar.toml control.toml --last 1",
	"picture larkfield-ashlar.png --tablet tablet.toml --tablet-ends 33,90:427,95 --ends 33,34:427,38 --steps 21 --fog step=0 --minutes 8",
}

// A question that is asked flag by flag, with files of one folder alone, has the answer
// that the command gives, and draws the same figure.
func TestAskedAsCommanded(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, writeNotebook("."))
	folder, err := os.OpenRoot(".")
	require.NoError(t, err)
	defer folder.Close()
	asked := map[string]bool{}
	for _, line := range askedLines {
		asked[words(line)[0]] = true
		a, left, err := askedWithin(t, folder, line)
		require.NoError(t, err, line)
		require.False(t, left, line)
		r, err := a.Report()
		require.NoError(t, err, line)
		var told, out, errOut bytes.Buffer
		require.NoError(t, report.JSON(&told, r))
		code := run(append(words(line), "--json", "--plot", "figure.svg", "--force"), strings.NewReader(""), &out, &errOut)
		require.Equal(t, console.ExitDone, code, "%s: %s", line, errOut.String())
		assert.JSONEq(t, out.String(), told.String(), line)
		fig, err := a.Figure(plot.Options{Theme: plot.Themes()[0]})
		require.NoError(t, err, line)
		var drawn bytes.Buffer
		require.NoError(t, plot.Write(&drawn, fig, plot.SVG))
		want, err := os.ReadFile("figure.svg")
		require.NoError(t, err)
		assert.True(t, bytes.Equal(want, drawn.Bytes()), "the figure of %s", line)
	}
	for name := range goodLines {
		assert.True(t, asked[name], "a line of %s", name)
	}
}

// What cannot be asked is told as the command tells it, and as of the same kind.
func TestAskedInVain(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, writeNotebook("."))
	folder, err := os.OpenRoot(".")
	require.NoError(t, err)
	defer folder.Close()
	tried := 0
	for _, bad := range badLines {
		_, left, err := askedWithin(t, folder, bad.line)
		if left || strings.Contains(bad.want, "--plot") || strings.Contains(bad.want, " takes ") || strings.HasPrefix(bad.want, ". holds") {
			continue // of the output, of how many files the command takes, or of a folder
		}
		tried++
		want, _, _ := strings.Cut(bad.want, "; see: sensito")
		if assert.Error(t, err, bad.line) {
			assert.Contains(t, err.Error(), want, bad.line)
			assert.ErrorAs(t, err, &console.UsageError{}, bad.line)
		}
	}
	assert.Greater(t, tried, 80)
}
