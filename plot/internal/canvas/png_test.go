package canvas

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/png"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

func TestPNG(t *testing.T) {
	d := saying("東I")
	d.Fallback = fallback(t, "東")
	file := written(t, PNG, d)
	assert.Equal(t, file, written(t, PNG, d))
	_, after, found := strings.Cut(file, "pHYs")
	require.True(t, found)
	assert.InDelta(t, 144*39.37, float64(binary.BigEndian.Uint32([]byte(after))), 0.6, "dots a metre")
	img, err := png.Decode(strings.NewReader(file))
	require.NoError(t, err)
	assert.Equal(t, 400, img.Bounds().Dx())
	assert.Equal(t, 200, img.Bounds().Dy())
	dark := func(x, y vg.Length) bool { // in points from the bottom left
		r, _, _, _ := img.At(int(2*x), int(200-2*y)).RGBA()
		return r < 0x8000
	}
	// The square of 5 points in the middle of its cell of 10, which begins at 10, 80;
	// behind the cell the letter.
	for _, x := range []vg.Length{13, 15, 17} {
		assert.True(t, dark(x, 85), "%g", x)
	}
	for _, x := range []vg.Length{11, 12, 18, 19} {
		assert.False(t, dark(x, 85), "%g", x)
	}
	assert.True(t, dark(20+Width(10, "I")/2, 83))
}

// Every pixel is read back as it was, and the page is of its paper up to the edges.
func TestPNGPixels(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 37, 300))
	for i := range img.Pix {
		if img.Pix[i] = uint8(i * i / 7); i%4 == 3 {
			img.Pix[i] = 255
		}
	}
	var out bytes.Buffer
	require.NoError(t, encode(&out, img, 200, ""))
	read, err := png.Decode(&out)
	require.NoError(t, err)
	require.Equal(t, img.Rect, read.Bounds())
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			require.Equal(t, img.RGBAAt(x, y), color.RGBAModel.Convert(read.At(x, y)), "%d, %d", x, y)
		}
	}
	d := drawing(func(vg.Canvas) {})
	d.Width, d.Paper = 100.3, color.RGBA{20, 30, 40, 255}
	read, err = png.Decode(strings.NewReader(written(t, PNG, d)))
	require.NoError(t, err)
	for _, corner := range []image.Point{{}, {read.Bounds().Dx() - 1, read.Bounds().Dy() - 1}} {
		require.Equal(t, d.Paper, color.RGBAModel.Convert(read.At(corner.X, corner.Y)))
	}
}

// What the picture was made by stands before its pixels, where it is asked for.
func TestPNGSoftware(t *testing.T) {
	d := drawing(func(vg.Canvas) {})
	assert.NotContains(t, written(t, PNG, d), "tEXt")
	d.Software = "harbour"
	file := written(t, PNG, d)
	at := strings.Index(file, "tEXtSoftware\x00harbour")
	assert.Greater(t, at, 0)
	assert.Less(t, at, strings.Index(file, "IDAT"))
	_, err := png.Decode(strings.NewReader(file))
	assert.NoError(t, err)
}
