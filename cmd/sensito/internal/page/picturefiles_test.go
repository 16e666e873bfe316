package page

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/picture/lighttable"
)

// A picture is read once until its file is another; whoever leaves gets none, and no more is kept than may be.
func TestCacheOfPictures(t *testing.T) {
	dir := t.TempDir()
	s, err := New(dir, nobody{})
	require.NoError(t, err)
	path := filepath.Join(dir, "a.png")
	one := lighttable.PNG(lighttable.Alone(lighttable.Even(0.1, 0.1, 9)).Picture(lighttable.Flatbed(30), 1))
	require.NoError(t, os.WriteFile(path, one, 0o666))

	left, leave := context.WithCancel(t.Context())
	in := &readWhile{left, bytes.NewReader(one)}
	_, err = in.ReadAt(make([]byte, 8), 0)
	require.NoError(t, err)
	leave()
	_, err = in.ReadAt(make([]byte, 8), 8)
	require.ErrorIs(t, err, context.Canceled)
	_, err = s.pictures.open(left, "a.png")
	require.ErrorIs(t, err, context.Canceled)
	require.Empty(t, s.pictures.kept)

	first, err := s.pictures.open(t.Context(), "a.png")
	require.NoError(t, err)
	again, err := s.pictures.open(t.Context(), "a.png")
	require.NoError(t, err)
	assert.Same(t, first.Image, again.Image)
	assert.True(t, s.pictures.is(t.Context(), first))

	two := lighttable.PNG(lighttable.Alone(lighttable.Even(0.1, 0.1, 9)).Picture(lighttable.Flatbed(31), 1))
	require.NoError(t, os.WriteFile(path, two, 0o666))
	require.NoError(t, os.Chtimes(path, time.Time{}, time.Now().Add(time.Minute)))
	assert.False(t, s.pictures.is(t.Context(), first))
	other, err := s.pictures.open(t.Context(), "a.png")
	require.NoError(t, err)
	assert.NotEqual(t, first.Image.Width, other.Image.Width)
	require.Len(t, s.pictures.kept, 1, "the file as it was is not kept")

	for i := range 5 {
		s.pictures.keep(pictureID{name: string(rune('b' + i))}, first)
		s.pictures.kept[len(s.pictures.kept)-1].bytes = mostKept / 3
	}
	total := int64(0)
	for _, k := range s.pictures.kept {
		total += k.bytes
	}
	assert.LessOrEqual(t, total, int64(mostKept))
	assert.Equal(t, "f", s.pictures.kept[len(s.pictures.kept)-1].id.name)
	large := first
	large.Image = first.Image
	s.pictures.keep(pictureID{name: "last"}, large)
	assert.Equal(t, "last", s.pictures.kept[len(s.pictures.kept)-1].id.name)
}
