package pictures

import (
	"crypto/sha256"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/store"
)

// A picture is the same by its path, by a folder that nothing leads out of and through a pipe, whatever its name ends in.
func TestFrom(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(folder, "rgb16-told.tif"))
	require.NoError(t, err)
	dir := t.TempDir()
	path := filepath.Join(dir, "strips.jpg")
	require.NoError(t, os.WriteFile(path, data, 0o600))
	im, sum, err := OpenFile(path)
	require.NoError(t, err)
	assert.Equal(t, sha256.Sum256(data), sum)

	root, err := store.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	r, err := root.Open("strips.jpg")
	require.NoError(t, err)
	defer r.Close()
	within, err := From("strips.jpg", r)
	require.NoError(t, err)
	assert.Equal(t, &File{im, sum}, within)

	out, in, err := os.Pipe()
	require.NoError(t, err)
	defer out.Close()
	go func() {
		_, _ = in.Write(data)
		in.Close()
	}()
	piped, err := From("standard input", out)
	require.NoError(t, err)
	assert.Equal(t, &File{im, sum}, piped)

	_, _, err = OpenFile(filepath.Join(dir, "none.tif"))
	assert.ErrorIs(t, err, fs.ErrNotExist)
	_, _, err = OpenFile(dir)
	assert.ErrorContains(t, err, "is a folder")
}

// failing is a file of which a part cannot be read.
type failing struct{ data []byte }

var errDisk = errors.New("the disk has failed")

func (f failing) ReadAt(p []byte, at int64) (int, error) {
	if at+int64(len(p)) > 100 {
		return 0, errDisk
	}
	return copy(p, f.data[at:]), nil
}

// What fails in reading is told with the name of the file.
func TestReadFails(t *testing.T) {
	for _, name := range []string{"rgb16-told.tif", "rgb16-plain.png", "ramp.jpg"} {
		data, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		_, err = Read(failing{data}, int64(len(data)), name)
		require.Error(t, err)
		assert.Contains(t, err.Error(), name+": ")
		assert.Contains(t, err.Error(), "the disk has failed")
	}
	defer func(was int64) { maxPipe = was }(maxPipe)
	maxPipe = 1 << 20
	_, err := From("strips.tif", zeros{})
	assert.EqualError(t, err, "strips.tif: the file is larger than 1 MiB, which is read from a file only; save it on the disk and name it")
	assert.ErrorIs(t, err, ErrTooLarge)
	_, err = Read(failing{}, maxBytes+1, "strips.tif")
	assert.ErrorIs(t, err, ErrTooLarge)
	assert.EqualError(t, err, "strips.tif: the file has 1024 MiB, above the limit of 1024 MiB; scan the strips and the tablet alone, or at fewer pixels to the inch")
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { return len(p), nil }

// A file that another program writes to is noticed by its size or its time.
func TestWritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "strips.tif")
	require.NoError(t, os.WriteFile(path, []byte("II"), 0o600))
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	require.NoError(t, err)
	defer f.Close()
	before, err := f.Stat()
	require.NoError(t, err)
	assert.False(t, written(f, before))
	require.NoError(t, os.Chtimes(path, before.ModTime(), before.ModTime().Add(1)))
	assert.True(t, written(f, before))
	_, err = f.WriteAt([]byte("*"), 2)
	require.NoError(t, err)
	require.NoError(t, os.Chtimes(path, before.ModTime(), before.ModTime()))
	assert.True(t, written(f, before))
}
