package main

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook"
)

// shared is a trial that several hands write to.
const shared = `# Kept by hand.
[film]
name = "Tern 400"
[process]
developer = "Ashlar"
[exposure]
kind = "contact"
illuminance_lx = 2
seconds = 0.5
wedge = [0.1, 0.5, 0.9, 1.3, 1.7]
[[strip]]
minutes = 5
density = [1.40, 1.10, 0.70, 0.40, 0.20]
`

var sharedReadings = []string{"1.50", "1.20", "0.80", "0.45", "0.20"}

func shareTrial(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "tern.toml")
	require.NoError(t, os.WriteFile(path, []byte(shared), 0o644))
	return path
}

// depth returns how often to do what a variable of the environment can deepen.
func depth(variable string, otherwise int) int {
	if n, err := strconv.Atoi(os.Getenv(variable)); err == nil {
		return n
	}
	return otherwise
}

// stripsRead returns the development times of the strips of which every step has
// the reading of sharedReadings.
func stripsRead(t *testing.T, path string) map[float64]bool {
	trial, err := notebook.ReadFile(path)
	require.NoError(t, err)
	out := map[float64]bool{}
	for _, s := range trial.Strips() {
		var got []string
		for _, step := range s.Steps() {
			got = append(got, fmt.Sprintf("%.2f", float64(step.Density)))
		}
		if strings.Join(got, " ") == strings.Join(sharedReadings, " ") {
			out[float64(s.Minutes())] = true
		}
	}
	return out
}

// Several people key in strips of one trial, and others import theirs into it,
// at the same time: everything is there at the end.
func TestManyHands(t *testing.T) {
	const entering, importing = 8, 32
	path := shareTrial(t)
	var wg sync.WaitGroup
	command := func(in string, args ...string) {
		wg.Go(func() {
			var out, errOut bytes.Buffer
			assert.Equal(t, console.ExitDone, run(args, strings.NewReader(in), &out, &errOut), errOut.String())
		})
	}
	for i := range entering {
		command(strings.Join(sharedReadings, "\n")+"\n", "enter", path, "--minutes", strconv.Itoa(10+i))
	}
	var table strings.Builder
	table.WriteString("step,density\n")
	for i, reading := range sharedReadings {
		fmt.Fprintf(&table, "%d,%s\n", i+1, reading)
	}
	for i := range importing {
		command(table.String(), "import", "-", "--minutes", strconv.Itoa(100+i), "--into", path)
	}
	wg.Wait()
	read := stripsRead(t, path)
	for i := range entering {
		assert.True(t, read[float64(10+i)], "strip of %d minutes", 10+i)
	}
	for i := range importing {
		assert.True(t, read[float64(100+i)], "strip of %d minutes", 100+i)
	}
	assert.Len(t, read, entering+importing)
}

// Several people add control strips at the same time, each telling of theirs twice:
// every strip is there once at the end.
func TestManyControlStrips(t *testing.T) {
	const hands = 6
	path := filepath.Join(t.TempDir(), "log.toml")
	require.NoError(t, os.WriteFile(path, []byte("repeatability = 0.01\n[aim]\nbase_fog = 0.11\nlow = 0.39\nhigh = 1.21\n"), 0o644))
	var wg sync.WaitGroup
	for i := range 2 * hands {
		wg.Go(func() {
			var out, errOut bytes.Buffer
			args := []string{"control", path, "--add", "--date", "2026-03-05", "--base-fog", "0.11", "--low", "0.4", "--high", "1.2", "--note", fmt.Sprintf("tank %d", i%hands)}
			assert.Equal(t, console.ExitDone, run(args, strings.NewReader(""), &out, &errOut), errOut.String())
		})
	}
	wg.Wait()
	log, err := notebook.ReadControlFile(path)
	require.NoError(t, err)
	notes := map[string]int{}
	for _, s := range log.Strips() {
		notes[s.Note]++
	}
	require.Len(t, notes, hands)
	for note, times := range notes {
		assert.Equal(t, 1, times, note)
	}
}

// An entered is how enter ended.
type entered struct {
	code int
	said string // on standard error
}

// entering runs enter on a new strip of 12 minutes.
func entering(path string) (typed io.WriteCloser, ended <-chan entered) {
	in, typed := io.Pipe()
	end := make(chan entered, 1)
	go func() {
		var errOut bytes.Buffer
		code := run([]string{"enter", path, "--minutes", "12"}, in, io.Discard, &errOut)
		in.Close() // so that nobody types on
		end <- entered{code, errOut.String()}
	}()
	return typed, end
}

// put replaces a file as an editor does.
func put(t *testing.T, path, text string) {
	require.NoError(t, os.WriteFile(path+".editor", []byte(text), 0o644))
	require.NoError(t, os.Rename(path+".editor", path))
}

func textOf(t *testing.T, path string) string {
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(text)
}

// An editor that saves while a strip is keyed in loses none of its saves, nor
// does the strip lose a reading: SENSITO_SAVES saves, half as many readings.
func TestEditorWhileEntering(t *testing.T) {
	path := shareTrial(t)
	saves := depth("SENSITO_SAVES", 24)
	typed, ended := entering(path)
	edited := make(chan struct{})
	go func() {
		defer close(edited)
		for i := range saves {
			time.Sleep(rand.N(12 * time.Millisecond))
			put(t, path, textOf(t, path)+fmt.Sprintf("# remark %d\n", i))
		}
	}()
	fmt.Fprintln(typed, sharedReadings[0])
	for i := range saves / 2 { // the first step, again and again
		time.Sleep(rand.N(20 * time.Millisecond))
		fmt.Fprintf(typed, "back 1\n%.2f\n", 1.5+float64(i%5)/100)
	}
	<-edited
	fmt.Fprintln(typed, "back 1")
	for _, reading := range sharedReadings {
		fmt.Fprintln(typed, reading)
	}
	typed.Close()
	end := <-ended
	require.Equal(t, console.ExitDone, end.code, end.said)
	text := textOf(t, path)
	lost := 0
	for i := range saves {
		if !strings.Contains(text, fmt.Sprintf("# remark %d\n", i)) {
			lost++
		}
	}
	t.Logf("%d saves by an editor: %d lost", saves, lost)
	assert.Zero(t, lost)
	assert.True(t, stripsRead(t, path)[12], text)
}

// An editor that had the file open since before some of the readings puts them
// back to what they were; the next one brings them all again.
func TestEditorOfAnOldVersion(t *testing.T) {
	for _, since := range []string{"before the strip", "after a reading"} {
		path := shareTrial(t)
		typed, ended := entering(path)
		wait := func(reading string) {
			require.Eventually(t, func() bool { return strings.Contains(textOf(t, path), reading) }, 5*time.Second, time.Millisecond)
		}
		old := shared
		fmt.Fprintln(typed, sharedReadings[0])
		wait("1.50, nan")
		if since == "after a reading" {
			old = textOf(t, path)
		}
		fmt.Fprintln(typed, sharedReadings[1])
		wait("1.50, 1.20,  nan")
		put(t, path, strings.Replace(old, "by hand", "by many hands", 1))
		for _, reading := range sharedReadings[2:] {
			fmt.Fprintln(typed, reading)
		}
		typed.Close()
		end := <-ended
		require.Equal(t, console.ExitDone, end.code, end.said)
		assert.True(t, stripsRead(t, path)[12], "%s: %s", since, textOf(t, path))
		assert.Contains(t, textOf(t, path), "# Kept by many hands.\n")
		assert.Contains(t, end.said, "another program had put back an earlier version of strip 2; all that was keyed in is there again\n")
	}
}

// What a command reads and writes goes through files.go of console, which knows
// what must not be replaced; a file that enter or import adds to is not replaced.
func TestOneWayInAndOut(t *testing.T) {
	through := regexp.MustCompile(`(notebook|store|table)\.(Open|\w*File)\(`)
	way := filepath.Join("internal", "console", "files.go")
	created := []string{filepath.Join("internal", "enter", "kept.go"), filepath.Join("internal", "page", "keyed", "trial.go")}
	read := 0
	require.NoError(t, filepath.WalkDir(".", func(file string, _ fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(file) != ".go" || strings.HasSuffix(file, "_test.go") || file == way {
			return err
		}
		read++
		text := textOf(t, file)
		if slices.Contains(created, file) {
			require.Contains(t, text, "store.CreateFile(")
			text = strings.Replace(text, "store.CreateFile(", "", 1) // of a new trial, never with force
		}
		assert.Empty(t, through.FindString(text), file)
		return nil
	}))
	require.Greater(t, read, 40)
	assert.Regexp(t, through, textOf(t, way))
}
