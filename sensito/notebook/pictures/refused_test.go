package pictures

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each form that would not be read exactly is refused in one sentence, which says how to save the picture instead.
func TestRefused(t *testing.T) {
	const save = "; save it as TIFF or PNG, 16-bit grey or RGB"
	refused := map[string]string{
		"refused-bigtiff.tif":    "a BigTIFF file; save it as TIFF of the usual kind (not BigTIFF) or PNG, 16-bit grey or RGB",
		"refused-separate.tif":   "its channels lie apart (planar configuration 2); save it with the channels together in each pixel (interleaved), or as PNG",
		"refused-fill-order.tif": "the bits of its bytes are in reversed order (fill order 2)" + save,
		"refused-jpeg.tif":       "a picture of brightness and colour differences (YCbCr)" + save,
		"refused-lzma.tif":       "its compression (number 34925) is not read; save it without compression, or with LZW or Deflate",
		"refused-palette.tif":    "a picture by a palette, whose values are numbers of colours and not tones" + save,
		"refused-cmyk.tif":       "a picture of inks (CMYK)" + save,
		"refused-float.tif":      "its values are floating-point numbers" + save,
		"refused-32-bits.tif":    "its values have 32 bits" + save,
		"refused-4-bits.tif":     "its values have 4 bits" + save,
		"refused-fax.tif":        "its pixels are black or white and nothing between (1 bit)" + save,
		"refused-lab.tif":        "a picture in L*a*b*, whose values are not those of the device" + save,
		"refused-alpha.tif":      "it is transparent in places" + save + ", without an alpha channel",
		"refused-alpha.png":      "it is transparent in places" + save + ", without an alpha channel",
		"refused-palette.png":    "a picture by a palette, whose values are numbers of colours and not tones" + save,
		"refused-1-bit.png":      "its pixels are black or white and nothing between (1 bit)" + save,
		"refused-4-bits.png":     "its values have 4 bits" + save,
		"refused-cmyk.jpg":       "a picture of inks (CMYK)" + save,
	}
	for _, name := range names(t, "refused") {
		path := filepath.Join(folder, name)
		im, _, err := OpenFile(path)
		require.Error(t, err, name)
		assert.Nil(t, im)
		assert.ErrorIs(t, err, ErrVariant)
		assert.Equal(t, path+": "+refused[name], err.Error())
		delete(refused, name)
	}
	assert.Empty(t, refused, "not in the folder")
}

// Files of other kinds are known by how they begin, whatever their name says.
func TestOtherKinds(t *testing.T) {
	const develop = "; have its software write a linear TIFF, 16-bit grey or RGB, with no correction of tone"
	for begin, want := range map[string]struct {
		kind error
		text string
	}{
		"\x00\x00\x00\x18ftypheic\x00\x00":  {ErrVariant, "a HEIC or AVIF picture, whose tones follow the scene; switch its corrections of tone off and save it as TIFF or PNG, 16-bit grey or RGB"},
		"\x00\x00\x00\x18ftypcrx \x00\x00":  {ErrVariant, "a raw file of a camera" + develop},
		"II*\x00\x10\x00\x00\x00CR\x02\x00": {ErrVariant, "a raw file of a camera" + develop},
		"GIF89a\x01\x00\x01\x00":            {ErrOther, "a picture of another kind than TIFF, PNG or JPEG; save it as TIFF or PNG, 16-bit grey or RGB"},
		"kind = \"film\"\n":                 {ErrOther, "this is no TIFF, PNG or JPEG file; name the picture; one of another kind, or a raw file of a camera: save it as TIFF or PNG, 16-bit grey or RGB"},
		"":                                  {ErrDamaged, "the file is empty; copy it anew, or save the picture again"},
		"II*\x00":                           {ErrDamaged, "the file ends early, within its header; copy it anew, or save the picture again"},
	} {
		_, err := readBytes([]byte(begin))
		require.Error(t, err, begin)
		assert.ErrorIs(t, err, want.kind)
		assert.Equal(t, "strips.tif: "+want.text, err.Error())
	}
}

// What the header of a TIFF file says beside what the pictures of the folder have.
func TestRefusedByTags(t *testing.T) {
	for want, change := range map[string]map[uint16]uint32{
		"a raw file of a camera":                          {tagPhotometric: 32803},
		"a raw file of a camera;":                         {tagNewSubfileType: 1, tagSubIFDs: 8},
		"its first picture is a reduced one of another":   {tagNewSubfileType: 1},
		"its first picture is a mask of another":          {tagNewSubfileType: 4},
		"(photometric interpretation 9999) is not read":   {tagPhotometric: 9999},
		"does not say whether its lowest value is black":  {tagPhotometric: missing},
		"differences of a kind that is not read":          {tagPredictor: 3, tagCompression: 5},
		"without LZW or Deflate, which programs read in":  {tagPredictor: 2},
		"no plain whole numbers (sample format 2)":        {tagSampleFormat: 2},
		"does not say how its values are compressed":      {tagCompression: missing},
		"LZW of before 1988, with its bits reversed":      {tagCompression: 5},
		"its compression (JPEG) is not read":              {tagCompression: 7},
		"its header tells the bits of 1 channels of 2":    {tagSamples: 2},
		"its header says 1 channels, and red, green":      {tagPhotometric: 2},
		"its values have 12 bits":                         {tagBits: 12},
		"its pixels are black or white":                   {tagBits: missing},
		"of its 1 strips, number 1 lies beyond its end":   {tagStripOffsets: 1 << 20},
		"has 3 bytes, too few for its pixels":             {tagStripCounts: 3},
		"the places of 0 and the lengths of 1 strips":     {tagStripOffsets: missing},
		"its strips have no rows":                         {tagRowsPerStrip: 0},
		"its tiles have 24 x 16 pixels":                   {tagTileWidth: 24, tagTileHeight: 16},
		"its tiles have 65536 x 16 pixels":                {tagTileWidth: 1 << 16, tagTileHeight: 16},
		"its header says 0 x 2 pixels":                    {tagWidth: missing},
		"the places of 1 and the lengths of 1 strips, of": {tagHeight: 4, tagRowsPerStrip: 2, tagStripCounts: 4},
	} {
		_, err := readBytes(smallTIFF(change, 0))
		require.Error(t, err, want)
		assert.Contains(t, err.Error()+";", want)
	}
	im, err := readBytes(smallTIFF(nil, 0))
	require.NoError(t, err)
	assert.Equal(t, []uint16{0, 257, 2 * 257, 3 * 257}, im.Planes[0].Values)
	im, err = readBytes(smallTIFF(map[uint16]uint32{tagPhotometric: 0}, 0))
	require.NoError(t, err)
	assert.Equal(t, []uint16{65535, 65535 - 257, 65535 - 2*257, 65535 - 3*257}, im.Planes[0].Values)
}
