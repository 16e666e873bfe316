package pictures

import (
	"encoding/binary"
	"fmt"
	"io"

	"sensito/sensito/picture"
)

// What a TIFF file may be compressed by, and how much larger a byte can become by it at most: Deflate by the longest
// match for two bits of code, LZW by its longest string for a code of 12 bits, PackBits by a run of 128 of two bytes.
var expands = map[uint32]uint64{1: 1, compressLZW: 1 << 12, compressDeflate: 1040, compressOldDeflate: 1040, compressPackBits: 64}

const (
	compressLZW        = 5
	compressDeflate    = 8
	compressPackBits   = 32773
	compressOldDeflate = 32946
)

// A layout is how the values of a picture lie in a TIFF file.
type layout struct {
	order         binary.ByteOrder
	width, height int
	bits          int
	samples       int  // a pixel, those that are passed over with them
	kept          int  // 1 or 3, the first ones
	alpha         bool // the sample after those that are kept says how much a pixel covers
	whiteIsZero   bool
	differences   bool // each value is the difference from that of the pixel before (predictor 2)
	compression   uint32

	blockWidth, blockHeight int // of a strip or of a tile
	tiles                   bool
	offsets, counts         []uint32
}

// rowBytes are the bytes of a row of a block of so many pixels.
func (l *layout) rowBytes(pixels int) int { return pixels * l.samples * l.bits / 8 }

// readTIFF reads the first picture of a TIFF file.
func readTIFF(r io.ReaderAt, size int64) (*picture.Image, error) {
	head := make([]byte, 8)
	if _, err := io.ReadFull(io.NewSectionReader(r, 0, size), head); err != nil {
		return nil, broken("its header", err)
	}
	order, first := readOrder(head)
	t, next, err := readTags(r, size, order, first)
	if err != nil {
		return nil, err
	}
	l, err := layoutOf(t)
	if err != nil {
		return nil, err
	}
	pages, err := countPages(t, first, next)
	if err != nil {
		return nil, err
	}
	if err := l.locate(t, size); err != nil {
		return nil, err
	}
	im := newImage(l.width, l.height, l.kept, l.bits)
	if err := l.decode(r, im); err != nil {
		return nil, err
	}
	im.About = picture.About{Format: "TIFF", Pages: pages, OtherChannels: l.samples - l.kept}
	tell(&im.About, t)
	var claimed claims
	if data, _, err := t.raw(tagProfile, 16<<20); err == nil && len(data) > 0 {
		claimed.profile(data)
	}
	if _, ok := t.all[tagTransfer]; ok {
		claimed.add("a transfer function")
	}
	claimed.exif(t)
	im.About.Encoding = claimed.String()
	orientation := t.told(tagOrientation)
	if orientation >= 5 && orientation <= 8 {
		if across := perInch(t, tagYResolution); across > 0 {
			im.About.PixelsPerInch = across
		}
	}
	turn(im, uint(orientation))
	return im, nil
}

// countPages follows the directories of a file after the first one.
func countPages(t *tags, first, next uint32) (int, error) {
	seen := map[uint32]bool{first: true}
	for next != 0 {
		switch {
		case seen[next]:
			return 0, damaged("its list of pictures leads round in a circle")
		case len(seen) == maxPages:
			return 0, damaged("its list of pictures has more than %d", maxPages)
		}
		seen[next] = true
		n, err := t.length(next)
		if err != nil {
			return 0, damaged("its list of pictures leads beyond the end of the file")
		}
		after := uint64(next) + 2 + 12*uint64(n)
		if after+4 > uint64(t.size) {
			return 0, damaged("its list of pictures leads beyond the end of the file")
		}
		data, err := t.bytes(uint32(after), 4)
		if err != nil {
			return 0, broken("its list of pictures", err)
		}
		next = t.order.Uint32(data)
	}
	return len(seen), nil
}

// layoutOf reads what a directory says of the picture, and refuses what would not be read exactly, by the header alone.
func layoutOf(t *tags) (*layout, error) {
	var err error
	one := func(number uint16, otherwise uint32) uint32 {
		v, e := t.number(number, otherwise)
		if err == nil {
			err = e
		}
		return v
	}
	many := func(number uint16) []uint32 {
		v, e := t.numbers(number, 64)
		if err == nil {
			err = e
		}
		return v
	}
	kind, photometric := one(tagNewSubfileType, 0), one(tagPhotometric, 1<<31)
	width, height := one(tagWidth, 0), one(tagHeight, 0)
	samples, planar := one(tagSamples, 1), one(tagPlanar, 1)
	compression, predictor, fill := one(tagCompression, 0), one(tagPredictor, 1), one(tagFillOrder, 1)
	bits, formats, extra := many(tagBits), many(tagSampleFormat), many(tagExtraSamples)
	if err != nil {
		return nil, err
	}

	_, raw := t.all[tagRawVersion]
	_, sub := t.all[tagSubIFDs]
	switch {
	case raw, sub && kind&1 != 0, photometric == 32803, photometric == 34892:
		return nil, variant(develop, "a raw file of a camera")
	case kind&1 != 0:
		return nil, variant(saveAs, "its first picture is a reduced one of another")
	case kind&4 != 0, photometric == 4:
		return nil, variant(saveAs, "its first picture is a mask of another")
	}
	kept := 1
	switch photometric {
	case 0, 1:
	case 2:
		kept = 3
	case 3:
		return nil, variant(saveAs, "a picture by a palette, whose values are numbers of colours and not tones")
	case 5:
		return nil, variant(saveAs, "a picture of inks (CMYK)")
	case 6:
		return nil, variant(saveAs, "a picture of brightness and colour differences (YCbCr)")
	case 8, 9, 10:
		return nil, variant(saveAs, "a picture in L*a*b*, whose values are not those of the device")
	case 1 << 31:
		return nil, variant(saveAs, "the file does not say whether its lowest value is black or white")
	default:
		return nil, variant(saveAs, "its kind of colour (photometric interpretation %d) is not read", photometric)
	}
	if err := checkSize(uint64(width), uint64(height), kept, MaxColourPixels); err != nil {
		return nil, err
	}

	depth := uint32(1) // as TIFF 6.0 has it where none is told
	if len(bits) > 0 {
		depth = bits[0]
	}
	for _, b := range bits {
		if b != depth {
			return nil, variant(saveAs, "its channels differ in bits: %d and %d", depth, b)
		}
	}
	for _, f := range formats {
		switch f {
		case 1, 4: // whole numbers, and what nobody said
		case 3:
			return nil, variant(saveAs, "its values are floating-point numbers")
		default:
			return nil, variant(saveAs, "its values are no plain whole numbers (sample format %d)", f)
		}
	}
	switch {
	case depth == 1:
		return nil, variant(saveAs, "its pixels are black or white and nothing between (1 bit)")
	case depth != 8 && depth != 16:
		return nil, variant(saveAs, "its values have %d bits", depth)
	case samples < uint32(kept):
		return nil, damaged("its header says %d channels, and red, green and blue", samples)
	case len(bits) != int(samples) && samples <= 64:
		return nil, damaged("its header tells the bits of %d channels of %d", len(bits), samples)
	case samples > uint32(kept)+3:
		return nil, variant(noInfrared, "a pixel of it has %d channels", samples)
	case planar != 1 && samples > 1:
		return nil, variant("save it with the channels together in each pixel (interleaved), or as PNG", "its channels lie apart (planar configuration %d)", planar)
	case fill != 1:
		return nil, variant(saveAs, "the bits of its bytes are in reversed order (fill order %d)", fill)
	case compression == 0:
		return nil, damaged("the file does not say how its values are compressed")
	case expands[compression] == 0:
		return nil, variant("save it without compression, or with LZW or Deflate", "its compression (%s) is not read", compressionName(compression))
	case predictor != 1 && predictor != 2:
		return nil, variant("save it without compression", "its values are differences of a kind that is not read (predictor %d)", predictor)
	case predictor == 2 && (compression == 1 || compression == compressPackBits):
		return nil, variant("save it without compression, or with LZW or Deflate", "it says differences between pixels (predictor 2) without LZW or Deflate, which programs read in two ways")
	}
	l := &layout{order: t.order, width: int(width), height: int(height), bits: int(depth), samples: int(samples), kept: kept,
		whiteIsZero: photometric == 0, differences: predictor == 2, compression: compression}
	if l.samples > kept && len(extra) > 0 {
		l.alpha = extra[0] == 1 || extra[0] == 2
	}
	return l, nil
}

// compressionName returns what a number of compression is called.
func compressionName(c uint32) string {
	switch c {
	case 2, 3, 4:
		return "fax"
	case 6, 7:
		return "JPEG"
	}
	return fmt.Sprintf("number %d", c)
}

// locate reads where the blocks lie, and refuses those that cannot hold the picture before room is made for it.
func (l *layout) locate(t *tags, size int64) error {
	var err error
	one := func(number uint16, otherwise uint32) uint32 {
		v, e := t.number(number, otherwise)
		if err == nil {
			err = e
		}
		return v
	}
	_, l.tiles = t.all[tagTileWidth]
	at, lengths, name := uint16(tagStripOffsets), uint16(tagStripCounts), "strips"
	l.blockWidth, l.blockHeight = l.width, l.height
	if l.tiles {
		at, lengths, name = tagTileOffsets, tagTileCounts, "tiles"
		w, h := one(tagTileWidth, 0), one(tagTileHeight, 0)
		// Tiles are of a multiple of 16 (TIFF 6.0, section 15); one larger than the picture is no use, but some write 4096 at most.
		if err == nil && (w == 0 || h == 0 || w%16 != 0 || h%16 != 0 || w > uint32(max(l.width+15, 4096)) || h > uint32(max(l.height+15, 4096))) {
			return damaged("its tiles have %d x %d pixels", w, h)
		}
		l.blockWidth, l.blockHeight = int(w), int(h)
	} else if rows := one(tagRowsPerStrip, 1<<32-1); rows < uint32(l.height) {
		if l.blockHeight = int(rows); rows == 0 && err == nil {
			return damaged("its strips have no rows")
		}
	}
	if err != nil {
		return err
	}
	n := l.across() * ((l.height + l.blockHeight - 1) / l.blockHeight)
	if l.offsets, err = t.numbers(at, uint32(n)+1); err != nil {
		return err
	}
	if l.counts, err = t.numbers(lengths, uint32(n)+1); err != nil {
		return err
	}
	if len(l.offsets) != n || len(l.counts) != n {
		return damaged("its header has the places of %d and the lengths of %d %s, of %d", len(l.offsets), len(l.counts), name, n)
	}
	for i := range l.offsets {
		if uint64(l.offsets[i])+uint64(l.counts[i]) > uint64(size) {
			return damaged("the file ends early: of its %d %s, number %d lies beyond its end", n, name, i+1)
		}
		if need := uint64(l.rowBytes(l.blockWidth)) * uint64(l.rowsOf(i)); uint64(l.counts[i])*expands[l.compression] < need {
			return damaged("number %d of its %d %s has %d bytes, too few for its pixels", i+1, n, name, l.counts[i])
		}
	}
	return nil
}

// across is how many blocks lie side by side.
func (l *layout) across() int { return (l.width + l.blockWidth - 1) / l.blockWidth }

// rowsOf returns how many rows of the picture are in a block.
func (l *layout) rowsOf(block int) int {
	return min(l.blockHeight, l.height-block/l.across()*l.blockHeight)
}
