package pictures

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/picture"
)

// What a file claims of itself is told.
func TestAbout(t *testing.T) {
	for name, want := range map[string]picture.About{
		"grey16-none-le.tif":      {Format: "TIFF", Pages: 1},
		"rgb16-told.tif":          {Format: "TIFF", Pages: 1, PixelsPerInch: 1270, Device: "Harrow Quay Bed 4", Software: "scanner of the trust"},
		"rgb16-three-pages.tif":   {Format: "TIFF", Pages: 3},
		"rgb8-infrared.tif":       {Format: "TIFF", Pages: 1, OtherChannels: 1},
		"rgb16-alpha-whole.tif":   {Format: "TIFF", Pages: 1, OtherChannels: 1},
		"rgb16-alpha-whole.png":   {Format: "PNG", Pages: 1, OtherChannels: 1, Encoding: "gamma 2.2"},
		"grey16-told.png":         {Format: "PNG", Pages: 1, PixelsPerInch: 600, Encoding: "gamma 2.2", Software: "scanner of the trust"},
		"grey8-orientation-6.tif": {Format: "TIFF", Pages: 1, Turned: true},
		"ramp.jpg":                {Format: "JPEG", Pages: 1, PixelsPerInch: 300},
		"grey8-plain.png":         {Format: "PNG", Pages: 1, Encoding: "gamma 2.2"},
		"rgb16-other-deflate.tif": {Format: "TIFF", Pages: 1},
		"rgb8-other-packbits.tif": {Format: "TIFF", Pages: 1},
	} {
		im, _, err := OpenFile(filepath.Join(folder, name))
		require.NoError(t, err)
		im.About.PixelsPerInch = float64(int(im.About.PixelsPerInch*100+0.5)) / 100
		assert.Equal(t, want, im.About, name)
	}
}

// exif returns a directory of EXIF that asks for a turn and tells of a device, of sRGB and of a resolution.
func exif(orientation uint16) []byte {
	out := append([]byte("MM\x00*"), 0, 0, 0, 8, 0, 6)
	row := func(tag, kind uint16, count uint32, value ...byte) {
		out = binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(out, tag), kind)
		out = append(binary.BigEndian.AppendUint32(out, count), append(value, make([]byte, 4-len(value))...)...)
	}
	row(tagMake, 2, 4, 'B', 'e', 'd', 0)
	row(tagModel, 2, 12, 0, 0, 0, 86)
	row(tagOrientation, 3, 1, 0, byte(orientation))
	row(tagXResolution, 5, 1, 0, 0, 0, 98)
	row(tagResolutionUnit, 3, 1, 0, 2)
	row(tagExif, 4, 1, 0, 0, 0, 106)
	out = append(out, 0, 0, 0, 0) // no next one; 86 is here
	out = append(out, "bed 4\x1b[2J...\x00"[:12]...)
	out = append(out, 0, 0, 4, 176, 0, 0, 0, 2) // 1200/2
	out = append(out, 0, 1)                     // 106
	row(tagExifColourSpace, 3, 1, 0, 1)
	return append(out, 0, 0, 0, 0)
}

// profile returns an ICC profile of a name, in the form of version 2 or of version 4.
func profile(name string, four bool) []byte {
	out := make([]byte, 128)
	out = binary.BigEndian.AppendUint32(out, 1)
	var d []byte
	if four {
		d = append([]byte("mluc\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x0cenGB"), 0, 0, 0, byte(2*len(name)), 0, 0, 0, 28)
		for _, c := range name {
			d = append(d, byte(c>>8), byte(c))
		}
	} else {
		d = append(binary.BigEndian.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(name)+1)), name+"\x00"...)
	}
	out = append(out, "desc"...)
	out = binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(out, uint32(len(out)+8)), uint32(len(d)))
	return append(out, d...)
}

// A turn of EXIF is done in JPEG and PNG, and what is told is escaped.
func TestAboutEXIF(t *testing.T) {
	want := picture.About{Pages: 1, PixelsPerInch: 600, Encoding: "sRGB by EXIF", Device: `bed 4\x1b[2J...`, Turned: true}
	values := deflated([]byte{0, 1, 2, 3, 0, 4, 5, 6})
	im, err := readBytes(smallPNG(3, 2, 8, 0, values, pngPart("eXIf", exif(6))))
	require.NoError(t, err)
	want.Format = "PNG"
	assert.Equal(t, want, im.About)
	assert.Equal(t, [2]int{2, 3}, [2]int{im.Width, im.Height})
	assert.Equal(t, []uint16{4 * 257, 257, 5 * 257, 2 * 257, 6 * 257, 3 * 257}, im.Planes[0].Values)

	data, err := os.ReadFile(filepath.Join(folder, "ramp.jpg"))
	require.NoError(t, err)
	straight, err := readBytes(data)
	require.NoError(t, err)
	body := append([]byte("Exif\x00\x00"), exif(3)...)
	part := append(binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(body)+2)), body...)
	im, err = readBytes(append(append(bytes.Clone(data[:2]), part...), data[2:]...))
	require.NoError(t, err)
	want.Format, want.PixelsPerInch = "JPEG", 300 // of the part that every JPEG file begins with
	assert.Equal(t, want, im.About)
	n := width * height
	for i, v := range straight.Planes[2].Values {
		require.Equal(t, v, im.Planes[2].Values[n-1-i])
	}

	// EXIF that makes no sense tells nothing and refuses nothing.
	for _, bad := range [][]byte{nil, []byte("MM"), exif(6)[:60], []byte("II*\x00\xff\xff\xff\xff")} {
		im, err := readBytes(smallPNG(3, 2, 8, 0, values, pngPart("eXIf", bad)))
		require.NoError(t, err)
		assert.Equal(t, picture.About{Format: "PNG", Pages: 1}, im.About)
	}
}

// What tones are said to be is told in words.
func TestAboutEncoding(t *testing.T) {
	values := deflated([]byte{0, 1, 2, 3, 0, 4, 5, 6})
	packed := func(p []byte) []byte { return append([]byte("short\x00\x00"), deflated(p)...) }
	for want, part := range map[string][]byte{
		"gamma 1":                               pngPart("gAMA", []byte{0, 1, 0x86, 0xa0}),
		"sRGB":                                  pngPart("sRGB", []byte{0}),
		"profile Grey gamma 2.2":                pngPart("iCCP", packed(profile("Grey gamma 2.2", false))),
		"profile Light, straight":               pngPart("iCCP", packed(profile("Light, straight", true))),
		"profile short":                         pngPart("iCCP", packed([]byte("nothing"))),
		"colours of code 1, transfer of code 8": pngPart("cICP", []byte{1, 8, 0, 1}),
		"sRGB, gamma 2":                         append(pngPart("sRGB", []byte{0}), pngPart("gAMA", []byte{0, 0, 0xc3, 0x50})...),
	} {
		im, err := readBytes(smallPNG(3, 2, 8, 0, values, part))
		require.NoError(t, err, want)
		assert.Equal(t, want, im.About.Encoding)
	}
	im, err := readBytes(smallPNG(3, 2, 8, 0, values, pngPart("iCCP", packed(profile(strings.Repeat("l", 400), false)))))
	require.NoError(t, err)
	assert.Contains(t, im.About.Encoding, "l ... l")
	assert.LessOrEqual(t, len(im.About.Encoding), len("profile ")+maxTold)
	for i := range profile("Light", true) {
		profileName(profile("Light", true)[:i]) // no cut makes it fail
		profileName(profile("Light", false)[:min(i, 140)])
	}
	im, err = readBytes(smallPNG(3, 2, 8, 0, values, pngPart("acTL", []byte{0, 0, 0, 7, 0, 0, 0, 0}), pngPart("tEXt", []byte("Software\x00lamp\nroom"))))
	require.NoError(t, err)
	assert.Equal(t, picture.About{Format: "PNG", Pages: 7, Software: `lamp\nroom`}, im.About)
}
