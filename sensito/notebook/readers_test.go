//go:build unix

package notebook

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/store"
)

// readers are the ways to read a file, told by their errors alone.
var readers = map[string]func(path string) error{
	"trial":   func(path string) error { _, err := ReadFile(path); return err },
	"control": func(path string) error { _, err := ReadControlFile(path); return err },
	"roll":    func(path string) error { _, err := ReadRollFile(path); return err },
	"bytes":   func(path string) error { _, err := store.ReadBytes(path); return err },
}

func TestReadersRefuse(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	pipe, endless := filepath.Join(dir, "pipe"), filepath.Join(dir, "endless.toml")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	require.NoError(t, os.Symlink("/dev/zero", endless))
	large := filepath.Join(dir, "large.toml")
	require.NoError(t, os.WriteFile(large, nil, 0o600))
	require.NoError(t, os.Truncate(large, grammar.MaxBytes+1))
	none := filepath.Join(dir, "none.toml")
	for path, want := range map[string]string{
		dir:     dir + " is a folder, not a file",
		pipe:    pipe + ": nobody writes to this pipe",
		endless: endless + ":1: the file is larger than 16 MiB",
		large:   large + ":1: the file is larger than 16 MiB",
		none:    "open " + none + ": no such file or directory",
	} {
		for name, read := range readers {
			assert.EqualError(t, read(path), want, name)
			if path == endless || path == pipe {
				break // one is enough, of 16 MiB or seconds of waiting
			}
		}
	}
	_, err := store.Update(large, nil, func([]byte) ([]byte, error) { return nil, nil }) // a file that is not a notebook is not to be edited as one
	assert.EqualError(t, err, large+":1: the file is larger than 16 MiB")
}

// growing is a file that somebody adds to faster than it is read.
type growing struct{ given int }

func (g *growing) Read(p []byte) (int, error) {
	if g.given += len(p); g.given > 2*grammar.MaxBytes {
		return 0, errors.New("was read beyond any limit")
	}
	for i := range p {
		p[i] = '\n'
	}
	return len(p), nil
}

func TestReadOfGrowing(t *testing.T) {
	_, err := Read("a.toml", &growing{})
	assert.EqualError(t, err, "a.toml:1: the file is larger than 16 MiB")
	_, err = ReadControl("a.toml", &growing{})
	assert.EqualError(t, err, "a.toml:1: the file is larger than 16 MiB")
	_, err = ReadRoll("a.csv", &growing{})
	assert.EqualError(t, err, "a.csv:1: the file is larger than 16 MiB")
}

// A pipe whose writer is late, and slow, is read to its end.
func TestReadOfPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	go func() {
		time.Sleep(20 * time.Millisecond)
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return
		}
		defer f.Close()
		for _, part := range []string{"name,range_stops\n", "Lamp room,9\n"} {
			time.Sleep(20 * time.Millisecond)
			_, _ = f.WriteString(part)
		}
	}()
	frames, err := ReadRollFile(path)
	require.NoError(t, err)
	require.Len(t, frames, 1)
	assert.Equal(t, "Lamp room", frames[0].Name)
}

func TestReadingsOfControlLog(t *testing.T) {
	log := func(strips int) string {
		var b strings.Builder
		var patches []string
		for i := range maxPatches {
			patches = append(patches, fmt.Sprintf("p%d = 0.5", i))
		}
		for range strips {
			fmt.Fprintf(&b, "[[strip]]\ndate = \"2026-03-01\"\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\npatches = { %s }\n", strings.Join(patches, ", "))
		}
		return b.String()
	}
	_, err := ReadControl("log.toml", strings.NewReader(log(grammar.MaxReadings/(maxPatches+3)+1)))
	assert.EqualError(t, err, "log.toml:11317: strip[1887]: brings the file to more than 100000 readings")
}
