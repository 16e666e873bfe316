package ask

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/demo"
	"sensito/cmd/sensito/internal/console"
)

// flagged is a question with its flags set.
func flagged[Q interface{ Register(*pflag.FlagSet) }](t *testing.T, q Q, flags ...string) Q {
	t.Helper()
	f := pflag.NewFlagSet("", pflag.ContinueOnError)
	q.Register(f)
	for _, flag := range flags {
		name, value, _ := strings.Cut(flag, "=")
		require.NoError(t, Set(f, name, value))
	}
	require.NoError(t, CheckTexts(f))
	return q
}

// Confined to a folder, no question reads a file beyond it or standard input, by
// whatever flag it is named, and none looks into a folder.
func TestWithin(t *testing.T) {
	outside := t.TempDir()
	inside := filepath.Join(outside, "notebook")
	require.NoError(t, os.CopyFS(inside, demo.Files()))
	require.NoError(t, os.CopyFS(filepath.Join(outside, "other"), demo.Files()))
	folder, err := os.OpenRoot(inside)
	require.NoError(t, err)
	defer folder.Close()
	t.Chdir(inside) // so that a name means the same to whoever does not ask the opener
	input := strings.NewReader("not to be read")
	var opened []string
	var opening sync.Mutex
	from := console.New(input, io.Discard, io.Discard).Within(func(path string) (io.ReadCloser, error) {
		opening.Lock() // several files are opened at once
		opened = append(opened, path)
		opening.Unlock()
		return folder.Open(path)
	})
	const film = "larkfield-brinewater.toml"
	ways := map[string]func(file string) error{
		"curve":  func(file string) error { _, err := flagged(t, &Curve{}).Ask(from, file); return err },
		"family": func(file string) error { _, err := flagged(t, &Family{}).Ask(from, file); return err },
		"scene":  func(file string) error { _, err := flagged(t, &Scene{}, "range=7").Ask(from, file); return err },
		"scene --paper": func(file string) error {
			_, err := flagged(t, &Scene{}, "range=7", "grade=2", "paper="+file).Ask(from, film)
			return err
		},
		"scene --roll": func(file string) error { _, err := flagged(t, &Scene{}, "roll="+file).Ask(from, film); return err },
		"scene --control": func(file string) error {
			_, err := flagged(t, &Scene{}, "range=7", "control="+file).Ask(from, film)
			return err
		},
		"card":  func(file string) error { _, err := flagged(t, &Card{}).Ask(from, file); return err },
		"paper": func(file string) error { _, err := flagged(t, &Paper{}).Ask(from, file); return err },
		"tone": func(file string) error {
			_, err := flagged(t, &Tone{}, "range=7", "paper=slate.toml", "grade=2").Ask(from, file)
			return err
		},
		"compare": func(file string) error {
			_, err := flagged(t, &Compare{}).Ask(from, []string{"larkfield-ashlar.toml", file})
			return err
		},
		"control": func(file string) error { _, err := flagged(t, &Control{}).Ask(from, file); return err },
		"control --trial": func(file string) error {
			_, err := flagged(t, &Control{}, "trial="+file).Ask(from, "control.toml")
			return err
		},
		"plan":  func(file string) error { _, err := flagged(t, &Plan{}, "range=7").Ask(from, file); return err },
		"sheet": func(file string) error { _, err := flagged(t, &Sheet{}, "minutes=6:30").Ask(from, file); return err },
		"sheet --procedure": func(file string) error {
			_, err := flagged(t, &Sheet{}, "minutes=6:30", "procedure="+file).Ask(from, film)
			return err
		},
		"log": func(file string) error { _, err := flagged(t, &Log{}).Ask(from, []string{file}); return err },
	}
	for name, ask := range ways {
		t.Run(name, func(t *testing.T) {
			of := film // a file that the way can read where it lies inside
			switch name {
			case "scene --paper", "paper":
				of = "slate.toml"
			case "scene --roll":
				of = "harbour.csv"
			case "scene --control", "control":
				of = "control.toml"
			case "sheet --procedure":
				of = demo.Procedure
			}
			require.NoError(t, ask(of))

			err := ask("-")
			assert.ErrorAs(t, err, &console.UsageError{})
			assert.EqualError(t, err, "- is standard input, which cannot be read here: name a file")
			for _, beyond := range []string{"../other/" + of, filepath.Join(inside, of)} {
				opened = nil
				err := ask(beyond)
				require.Error(t, err, beyond)
				assert.Contains(t, err.Error(), "path escapes from parent")
				assert.Contains(t, opened, beyond)
			}
			opened = nil
			assert.Error(t, ask("."))
			assert.Contains(t, opened, ".", "a folder is opened as any name, and not listed")
		})
	}
	assert.Equal(t, len("not to be read"), input.Len())
}

// What an opener says is what a question returns.
func TestWithinOpener(t *testing.T) {
	closed := errors.New("this notebook is closed")
	from := console.New(nil, io.Discard, io.Discard).Within(func(string) (io.ReadCloser, error) { return nil, closed })
	_, err := flagged(t, &Scene{}, "range=7").Ask(from, "any.toml")
	assert.ErrorIs(t, err, closed)
}

// A flag is set as on a command line, and what it cannot be is told alike.
func TestSet(t *testing.T) {
	f := pflag.NewFlagSet("", pflag.ContinueOnError)
	(&Scene{}).Register(f)
	for _, bad := range []struct{ flag, value, want string }{
		{"colour", "red", "unknown flag: --colour"},
		{"range", "0,5", `--range "0,5" is not a number, which is written with a decimal point`},
		{"correct", "perhaps", `--correct "perhaps" is not true or false`},
	} {
		err := Set(f, bad.flag, bad.value)
		assert.EqualError(t, err, bad.want)
		assert.ErrorAs(t, err, &console.UsageError{})
	}
	assert.False(t, f.Changed("range"))
	require.NoError(t, Set(f, "filter", "2x"))
	require.NoError(t, Set(f, "filter", "+1 stop"))
	filters, err := f.GetStringArray("filter")
	require.NoError(t, err)
	assert.Equal(t, []string{"2x", "+1 stop"}, filters)
	require.NoError(t, Set(f, "paper", " "))
	assert.EqualError(t, CheckTexts(f), "--paper must not be empty")
}
