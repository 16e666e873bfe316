package plot

import (
	"bytes"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/plot/internal/plottest"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// TestOverlay holds the way from a picture to a PNG that is known as an overlay.
func TestOverlay(t *testing.T) {
	s := lighttable.Alone(lighttable.Even(0.1, 0.1, 5))
	im := s.Picture(lighttable.Flatbed(75), 1)
	row := SeenRow{Name: "8:00"}
	for i := range 5 {
		row.Steps = append(row.Steps, SeenStep{Number: i + 1, Corners: s.Corners(0, i, 75)})
	}
	place := SeenPlace{Name: "fog", Corners: [4]picture.Point{{X: 20, Y: 40}, {X: 30, Y: 40}, {X: 30, Y: 50}, {X: 20, Y: 50}}}
	fig, err := Overlay(im, 0, Seen{Title: "negative 8.tif", Rows: []SeenRow{row}, Places: []SeenPlace{place}, Text: []string{"5 steps"}}, Options{})
	require.NoError(t, err)
	plottest.RequireReadable(t, fig)
	var told []string
	for _, b := range plottest.Texts(t, fig) {
		told = append(told, b.Text)
	}
	assert.Equal(t, []string{"1", "2", "3", "4", "5", "fog", "8:00", "negative 8.tif", "5 steps", "read"}, told)
	var out bytes.Buffer
	require.NoError(t, Write(&out, fig, PNG))
	assert.Contains(t, out.String(), "tEXtSoftware\x00"+OverlaySoftware)
	_, err = png.Decode(&out)
	require.NoError(t, err)
	grey, scale := Grey(im, 0)
	assert.Equal(t, 1600, grey.Rect.Dx())
	assert.InDelta(t, 1600/float64(im.Width), scale, 1e-9)
}
