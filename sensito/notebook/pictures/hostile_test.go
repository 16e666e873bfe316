package pictures

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/picture"
)

// missing takes a tag away from smallTIFF.
const missing = 1<<32 - 1

// smallTIFF returns a file of 2 x 2 pixels of 8-bit grey, 0, 1, 2 and 3, with some of its tags changed and with the
// place of a next picture. Its pixels are at 8, its directory at 12.
func smallTIFF(change map[uint16]uint32, next uint32) []byte {
	t := map[uint16]uint32{tagWidth: 2, tagHeight: 2, tagBits: 8, tagCompression: 1, tagPhotometric: 1, tagStripOffsets: 8, tagSamples: 1, tagRowsPerStrip: 2, tagStripCounts: 4}
	maps.Copy(t, change)
	maps.DeleteFunc(t, func(_ uint16, v uint32) bool { return v == missing })
	out := append([]byte("II*\x00"), 12, 0, 0, 0, 0, 1, 2, 3)
	out = binary.LittleEndian.AppendUint16(out, uint16(len(t)))
	for _, number := range slices.Sorted(maps.Keys(t)) {
		out = binary.LittleEndian.AppendUint16(out, number)
		out = append(out, 4, 0, 1, 0, 0, 0) // one long
		out = binary.LittleEndian.AppendUint32(out, t[number])
	}
	return binary.LittleEndian.AppendUint32(out, next)
}

// smallPNG returns a file of some sides with those bytes as compressed values, and parts before them.
func smallPNG(width, height uint32, depth, colour byte, values []byte, parts ...[]byte) []byte {
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, width), height)
	out := append([]byte("\x89PNG\r\n\x1a\n"), pngPart("IHDR", append(head, depth, colour, 0, 0, 0))...)
	for _, p := range parts {
		out = append(out, p...)
	}
	return append(append(out, pngPart("IDAT", values)...), pngPart("IEND", nil)...)
}

func pngPart(name string, data []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	out = append(append(out, name...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

func deflated(data []byte) []byte {
	var b bytes.Buffer
	w := zlib.NewWriter(&b)
	_, _ = w.Write(data)
	_ = w.Close()
	return b.Bytes()
}

func readBytes(data []byte) (*picture.Image, error) {
	return Read(bytes.NewReader(data), int64(len(data)), "strips.tif")
}

// allocated returns how much room f took in all, what was given back included.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// A header can claim anything; it is refused before room is made for what it claims.
func TestHostileHeaders(t *testing.T) {
	ours := map[uint16]uint32{tagCompression: 8, tagRowsPerStrip: 1 << 30}
	with := func(more map[uint16]uint32) map[uint16]uint32 {
		out := maps.Clone(ours)
		maps.Copy(out, more)
		return out
	}
	circle := smallTIFF(nil, 12)
	far := smallTIFF(nil, 1<<31)
	counted := smallTIFF(nil, 0)
	binary.LittleEndian.PutUint32(counted[12+2+5*12+4:], 1<<31) // values of the sixth tag, where the strips are
	beyond := slices.Clone(counted)
	binary.LittleEndian.PutUint32(beyond[12+2+5*12+8:], uint32(len(beyond))-4)
	kind := smallTIFF(nil, 0)
	kind[12+2+2] = 99 // type of the first tag
	twice := smallTIFF(nil, 0)
	twice[12+2+12] = 0 // the second tag is the first again: 257 becomes 256
	many := smallTIFF(nil, 0)
	binary.LittleEndian.PutUint16(many[12:], 65535)
	jpegHead := []byte("\xff\xd8\xff\xc0\x00\x0b\x08\x10\x00\x10\x00\x01\x01\x11\x00\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00\xff\xd9")
	wideJPEG := bytes.Replace(jpegHead, []byte("\x10\x00\x10\x00"), []byte("\xff\xff\xff\xff"), 1)
	for _, c := range []struct {
		name, want string
		kind       error
		data       []byte
	}{
		{"sides of 2^31", "its header says 2147483648 x 2147483648 pixels; at most 100 million of grey are read, 200000 on a side", ErrTooLarge,
			smallTIFF(map[uint16]uint32{tagWidth: 1 << 31, tagHeight: 1 << 31}, 0)},
		{"sides that overflow", "its header says 4294967295 x 4294967294 pixels", ErrTooLarge, overflowing()},
		{"much grey", "its header says 10001 x 10000 pixels", ErrTooLarge, smallTIFF(with(map[uint16]uint32{tagWidth: 10001, tagHeight: 10000}), 0)},
		{"much colour", "at most 40 million of red, green and blue are read", ErrTooLarge, smallTIFF(with(map[uint16]uint32{tagPhotometric: 2, tagWidth: 5001, tagHeight: 8000}), 0)},
		{"colour of A4 at 600 to the inch", "has 4 bytes, too few for its pixels", ErrDamaged, colourTIFF(4961, 7016, 1, make([]byte, 4))},
		{"much colour in PNG", "its header says 5001 x 5000 pixels; at most 25 million of red, green and blue are read, of TIFF 40 million, 200000 on a side", ErrTooLarge, smallPNG(5001, 5000, 16, 2, nil)},
		{"long", "its header says 200001 x 1 pixels", ErrTooLarge, smallTIFF(with(map[uint16]uint32{tagWidth: 200001, tagHeight: 1}), 0)},
		{"nothing for much grey", "number 1 of its 1 strips has 4 bytes, too few for its pixels", ErrDamaged, smallTIFF(with(map[uint16]uint32{tagWidth: 10000, tagHeight: 10000}), 0)},
		{"LZW for much grey", "too few for its pixels", ErrDamaged, smallTIFF(with(map[uint16]uint32{tagCompression: 5, tagWidth: 10000, tagHeight: 10000}), 0)},
		{"runs for much grey", "too few for its pixels", ErrDamaged, smallTIFF(with(map[uint16]uint32{tagCompression: 32773, tagWidth: 10000, tagHeight: 10000}), 0)},
		{"many tiles", "the places of 1 and the lengths of 1 tiles, of 390625", ErrDamaged,
			smallTIFF(with(map[uint16]uint32{tagTileWidth: 16, tagTileHeight: 16, tagTileOffsets: 8, tagTileCounts: 4, tagWidth: 10000, tagHeight: 10000}), 0)},
		{"a circle of pictures", "its list of pictures leads round in a circle", ErrDamaged, circle},
		{"a picture beyond the end", "its list of pictures leads beyond the end of the file", ErrDamaged, far},
		{"a count of 2^31", "the places of 2 and the lengths of 1 strips, of 1", ErrDamaged, counted},
		{"values beyond the end", "tag 273 has 2147483648 values, which lie beyond the end of the file", ErrDamaged, beyond},
		{"an unknown type", "tag 256 is of type 99", ErrDamaged, kind},
		{"a tag twice", "tag 256 stands twice", ErrDamaged, twice},
		{"65535 tags", "the file ends early, within the list of its tags", ErrDamaged, many},
		{"PNG of 2^31", "its header says 2147483647 x 2147483647 pixels", ErrTooLarge, smallPNG(1<<31-1, 1<<31-1, 16, 2, nil)},
		{"PNG of nothing", "its 11 bytes of pixels are too few for 10000 x 10000", ErrDamaged, smallPNG(10000, 10000, 16, 0, deflated(nil))},
		{"PNG without a header", "its parts are not in order", ErrDamaged, append([]byte("\x89PNG\r\n\x1a\n"), pngPart("IEND", nil)...)},
		{"JPEG of nothing", "its 27 bytes are too few for 4096 x 4096 pixels", ErrDamaged, jpegHead},
		{"JPEG of 2^16", "its header says 65535 x 65535 pixels", ErrTooLarge, wideJPEG},
	} {
		var err error
		took := allocated(func() { _, err = readBytes(c.data) })
		require.Error(t, err, c.name)
		assert.ErrorIs(t, err, c.kind, c.name)
		assert.Contains(t, err.Error(), "strips.tif: ", c.name)
		assert.Contains(t, err.Error(), c.want, c.name)
		assert.Less(t, took, uint64(1<<20), "%s: room that was taken", c.name)
	}
}

// What is only told costs neither a refusal nor room, wherever it claims to lie.
func TestHostileProfile(t *testing.T) {
	data := smallTIFF(map[uint16]uint32{tagProfile: 8, tagSoftware: 1 << 30, tagXResolution: 1 << 31, tagExif: 1 << 31}, 0)
	i := bytes.Index(data, []byte{tagProfile & 0xff, tagProfile >> 8, 4, 0})
	require.Positive(t, i)
	binary.LittleEndian.PutUint32(data[i+4:], 1<<30)
	var im *picture.Image
	var err error
	took := allocated(func() { im, err = readBytes(data) })
	require.NoError(t, err)
	assert.Equal(t, picture.About{Format: "TIFF", Pages: 1}, im.About)
	assert.Less(t, took, uint64(1<<20))
}

// overflowing is a file whose sides multiply to more than 64 bits hold.
func overflowing() []byte {
	data := smallTIFF(map[uint16]uint32{tagHeight: 1<<32 - 2}, 0)
	binary.LittleEndian.PutUint32(data[12+2+8:], 1<<32-1)
	return data
}

// A file that was cut short anywhere is refused with its name; what was cut may be no more than what is not needed.
func TestCutShort(t *testing.T) {
	for _, name := range []string{"rgb16-lzw-predictor-be.tif", "grey8-tiles-deflate-predictor.tif", "grey16-packbits.tif", "rgb16-told.tif", "rgb8-interlaced.png", "ramp.jpg", "ramp-progressive.jpg"} {
		data, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		whole, err := readBytes(data)
		require.NoError(t, err)
		refused := 0
		for n := range len(data) {
			im, err := readBytes(data[:n])
			if err == nil {
				require.Equal(t, whole.Planes, im.Planes, "%s cut to %d bytes", name, n)
				continue
			}
			refused++
			require.Nil(t, im)
			require.Contains(t, err.Error(), "strips.tif: ", "%s cut to %d bytes", name, n)
		}
		assert.Greater(t, refused, len(data)*9/10, name)
	}
}

// Deflate sums up what it holds, so a changed byte in it is found; in PNG one of any part is.
func TestChangedByte(t *testing.T) {
	for _, name := range []string{"grey16-deflate.tif", "grey8-tiles-deflate-predictor.tif", "rgb16-plain.png"} {
		data, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		whole, err := readBytes(data)
		require.NoError(t, err)
		end := len(data)
		if whole.About.Format == "TIFF" {
			end = int(binary.LittleEndian.Uint32(data[4:])) // where the tags begin, of which there is no sum
		}
		for n := 8; n < end; n++ {
			changed := slices.Clone(data)
			changed[n] ^= 0x10
			if im, err := readBytes(changed); err == nil { // what nothing is unpacked from, such as how hard the packer tried
				require.Equal(t, whole.Planes, im.Planes, "%s with byte %d changed", name, n)
			}
		}
	}
}

// No more room is taken than for the planes of TIFF, whatever the size of its strips, and for one image more of PNG.
func TestRoom(t *testing.T) {
	const side = 1000
	plain := make([]byte, side*side*6)
	for i := range plain {
		plain[i] = byte(i * i >> 7)
	}
	rows := make([]byte, 0, len(plain)+side)
	for y := range side {
		rows = append(append(rows, 0), plain[y*side*6:][:side*6]...)
	}
	file := colourTIFF(side, side, 8, deflated(plain))
	for _, c := range []struct {
		name string
		data []byte
		most uint64 // bytes a pixel
	}{{"TIFF", file, 6}, {"PNG", smallPNG(side, side, 16, 2, deflated(rows)), 6 + 8}} {
		var err error
		took := allocated(func() { _, err = readBytes(c.data) })
		require.NoError(t, err)
		assert.Less(t, took, c.most*side*side+1<<19, c.name)
	}
}

// colourTIFF returns a file of 16-bit red, green and blue in one strip.
func colourTIFF(width, height, compression uint32, packed []byte) []byte {
	file := smallTIFF(map[uint16]uint32{tagWidth: width, tagHeight: height, tagRowsPerStrip: height, tagCompression: compression, tagPhotometric: 2, tagSamples: 3, tagStripOffsets: 200, tagStripCounts: uint32(len(packed))}, 0)
	binary.LittleEndian.PutUint16(file[12+2+2*12+2:], 3) // bits: three shorts, at 150
	binary.LittleEndian.PutUint32(file[12+2+2*12+4:], 3)
	binary.LittleEndian.PutUint32(file[12+2+2*12+8:], 150)
	file = append(file, make([]byte, 200-len(file))...)
	copy(file[150:], []byte{16, 0, 16, 0, 16, 0})
	return append(file, packed...)
}

// FuzzRead: what is read has as many values as pixels; an error is of a kind, with the name of the file and in a
// sentence; no more room is taken than 64 times the file, and what the picture needs that the header claims.
func FuzzRead(f *testing.F) {
	for _, name := range names(f, "grey", "rgb", "ramp", "refused") {
		data, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add(smallTIFF(nil, 12))
	f.Add(smallTIFF(map[uint16]uint32{tagWidth: 1 << 31, tagHeight: 1 << 31}, 0))
	f.Fuzz(func(t *testing.T, data []byte) {
		var im *picture.Image
		var err error
		took := allocated(func() { im, err = readBytes(data) })
		// A header that passes claims no more pixels than this (LZW), and each takes 20 bytes at most: its values, an
		// image of the standard library and, in JPEG, coefficients.
		claimed := min(uint64(len(data))<<12, MaxGreyPixels)
		require.LessOrEqual(t, took, 64*uint64(len(data))+20*claimed+1<<20)
		if err != nil {
			require.Nil(t, im)
			var e *Error
			require.True(t, errors.As(err, &e), "%v", err)
			require.Equal(t, "strips.tif", e.File)
			require.NotEmpty(t, e.What)
			require.NotEmpty(t, e.Instead)
			require.True(t, slices.Contains([]error{ErrOther, ErrVariant, ErrTooLarge, ErrDamaged}, e.Kind))
			return
		}
		require.Contains(t, []int{1, 3}, len(im.Planes))
		require.Contains(t, []int{8, 16}, im.Bits)
		require.Positive(t, im.Width*im.Height)
		for _, p := range im.Planes {
			require.Len(t, p.Values, im.Width*im.Height)
		}
		require.Positive(t, im.About.Pages)
	})
}
