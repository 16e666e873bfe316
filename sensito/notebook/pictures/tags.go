package pictures

import (
	"encoding/binary"
	"io"
)

// Tags of TIFF and of EXIF that are looked at. Numbers are those of TIFF 6.0, and from 30,000 on those of the notes that
// came after it and of EXIF 2.3, from memory.
const (
	tagNewSubfileType  = 254
	tagWidth           = 256
	tagHeight          = 257
	tagBits            = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagFillOrder       = 266
	tagMake            = 271
	tagModel           = 272
	tagStripOffsets    = 273
	tagOrientation     = 274
	tagSamples         = 277
	tagRowsPerStrip    = 278
	tagStripCounts     = 279
	tagXResolution     = 282
	tagYResolution     = 283
	tagPlanar          = 284
	tagResolutionUnit  = 296
	tagTransfer        = 301
	tagSoftware        = 305
	tagPredictor       = 317
	tagTileWidth       = 322
	tagTileHeight      = 323
	tagTileOffsets     = 324
	tagTileCounts      = 325
	tagSubIFDs         = 330
	tagExtraSamples    = 338
	tagSampleFormat    = 339
	tagProfile         = 34675
	tagExif            = 34665
	tagExifColourSpace = 40961
	tagExifGamma       = 42240
	tagRawVersion      = 50706 // of a raw file of a camera
)

// widths are the bytes of one value of each type of TIFF, from 1 on.
var widths = [...]uint64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4}

// A tag is an entry of a directory.
type tag struct {
	kind  uint16
	count uint32
	value [4]byte // the values, or where they lie
}

// Tags is a directory of TIFF or of EXIF: what a file says of one picture.
type tags struct {
	r     io.ReaderAt
	size  int64
	order binary.ByteOrder
	all   map[uint16]tag
}

// readOrder returns the order of bytes that the 8 bytes of a header of TIFF say, and where the first directory is.
func readOrder(head []byte) (binary.ByteOrder, uint32) {
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	return order, order.Uint32(head[4:])
}

// readTags reads the directory at a place, and returns it with the place of the next one, 0 for none. A tag that stands
// twice is an error, since readers differ in which of the two they take.
func readTags(r io.ReaderAt, size int64, order binary.ByteOrder, at uint32) (*tags, uint32, error) {
	t := &tags{r, size, order, map[uint16]tag{}}
	n, err := t.length(at)
	if err != nil {
		return nil, 0, err
	}
	data, err := t.bytes(at+2, uint64(n)*12+4)
	if err != nil {
		return nil, 0, broken("the list of its tags", err)
	}
	for ; n > 0; n-- {
		number := order.Uint16(data)
		if _, twice := t.all[number]; twice {
			return nil, 0, damaged("tag %d stands twice", number)
		}
		t.all[number] = tag{order.Uint16(data[2:]), order.Uint32(data[4:]), [4]byte(data[8:])}
		data = data[12:]
	}
	return t, order.Uint32(data), nil
}

// length returns how many tags the directory at a place has.
func (t *tags) length(at uint32) (int, error) {
	data, err := t.bytes(at, 2)
	if err != nil {
		return 0, broken("the list of its tags", err)
	}
	return int(t.order.Uint16(data)), nil
}

// bytes returns n bytes of the file, and an error before it makes room for what is not there.
func (t *tags) bytes(at uint32, n uint64) ([]byte, error) {
	if uint64(at)+n > uint64(t.size) {
		return nil, io.ErrUnexpectedEOF
	}
	data := make([]byte, n)
	_, err := io.ReadFull(io.NewSectionReader(t.r, int64(at), int64(n)), data)
	return data, err
}

// raw returns the bytes of the values of a tag, and how many values they are, of which no more than most are read; none
// where the tag is not there.
func (t *tags) raw(number uint16, most uint32) ([]byte, uint32, error) {
	e, ok := t.all[number]
	if !ok {
		return nil, 0, nil
	}
	if int(e.kind) >= len(widths) || e.kind == 0 {
		return nil, 0, damaged("tag %d is of type %d, which is not known", number, e.kind)
	}
	n := widths[e.kind] * uint64(min(e.count, most))
	if widths[e.kind]*uint64(e.count) <= 4 {
		return e.value[:n], min(e.count, most), nil
	}
	data, err := t.bytes(t.order.Uint32(e.value[:]), n)
	if err != nil {
		return nil, 0, damaged("tag %d has %d values, which lie beyond the end of the file", number, e.count)
	}
	return data, min(e.count, most), nil
}

// numbers returns the whole numbers of a tag, no more than most; none where it is not there.
func (t *tags) numbers(number uint16, most uint32) ([]uint32, error) {
	data, n, err := t.raw(number, most)
	if err != nil || n == 0 {
		return nil, err
	}
	out := make([]uint32, n)
	for i := range out {
		switch t.all[number].kind {
		case 1: // byte
			out[i] = uint32(data[i])
		case 3: // short
			out[i] = uint32(t.order.Uint16(data[2*i:]))
		case 4, 13: // long, place of a directory
			out[i] = t.order.Uint32(data[4*i:])
		default:
			return nil, damaged("tag %d is no whole number", number)
		}
	}
	return out, nil
}

// number returns the only value of a tag, and otherwise where it is not there.
func (t *tags) number(number uint16, otherwise uint32) (uint32, error) {
	if _, ok := t.all[number]; !ok {
		return otherwise, nil
	}
	v, err := t.numbers(number, 2)
	if err == nil && len(v) != 1 {
		err = damaged("tag %d has %d values, not one", number, t.all[number].count)
	}
	if err != nil {
		return 0, err
	}
	return v[0], nil
}

// told returns a number that is only told to people, 0 where it is not there or makes no sense.
func (t *tags) told(number uint16) uint32 {
	v, err := t.number(number, 0)
	if err != nil {
		return 0
	}
	return v
}

// text returns the text of a tag, "" where there is none.
func (t *tags) text(number uint16) string {
	data, _, err := t.raw(number, 1000)
	if err != nil || t.all[number].kind != 2 {
		return ""
	}
	return clean(data)
}

// ratio returns the first value of a tag as a fraction, 0 where there is none.
func (t *tags) ratio(number uint16) float64 {
	data, n, err := t.raw(number, 1)
	if err != nil || n == 0 || t.all[number].kind != 5 || t.order.Uint32(data[4:]) == 0 {
		return 0
	}
	return float64(t.order.Uint32(data)) / float64(t.order.Uint32(data[4:]))
}
