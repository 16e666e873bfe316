package pictures

import (
	"bufio"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"golang.org/x/image/tiff/lzw"

	"sensito/sensito/picture"
)

// decode reads all blocks into the planes of im, a row at a time, so that no more than a row is held beside them.
func (l *layout) decode(r io.ReaderAt, im *picture.Image) error {
	row := make([]byte, l.rowBytes(l.blockWidth))
	var u unpacker
	across := l.across()
	for i := range l.offsets {
		part := fmt.Sprintf("part %d of %d of its pixels", i+1, len(l.offsets))
		from, err := u.open(io.NewSectionReader(r, int64(l.offsets[i]), int64(l.counts[i])), l.compression)
		if err != nil {
			return broken(part, err)
		}
		x, y := i%across*l.blockWidth, i/across*l.blockHeight
		for n := range l.rowsOf(i) {
			if _, err := io.ReadFull(from, row); err != nil {
				return broken(part, err)
			}
			if l.differences {
				l.sum(row)
			}
			if err := l.spread(row, im, x, y+n); err != nil {
				return err
			}
		}
		// Deflate ends with a sum over all that was unpacked, which is looked at when its end is read: after the rows
		// that a block may have below the picture.
		if l.compression == compressDeflate || l.compression == compressOldDeflate {
			rest := int64(l.blockHeight-l.rowsOf(i)) * int64(len(row))
			switch _, err := io.CopyN(io.Discard, from, rest+1); {
			case err == nil:
				return damaged("%s holds more than its pixels", part)
			case err != io.EOF:
				return broken(part, err)
			}
		}
	}
	return nil
}

// sum turns differences from the pixel before into values (TIFF 6.0, section 14).
func (l *layout) sum(row []byte) {
	if l.bits == 8 {
		for i := l.samples; i < len(row); i++ {
			row[i] += row[i-l.samples]
		}
		return
	}
	for i := 2 * l.samples; i < len(row); i += 2 {
		l.order.PutUint16(row[i:], l.order.Uint16(row[i:])+l.order.Uint16(row[i-2*l.samples:]))
	}
}

// transparent refuses a picture whose pixels are not all whole.
func transparent() error {
	return variant(saveAs+", without an alpha channel", "it is transparent in places")
}

// spread puts a row of a block, which begins at x, y of the picture, into its planes.
func (l *layout) spread(row []byte, im *picture.Image, x, y int) error {
	n := min(l.blockWidth, l.width-x)
	turned := uint16(0)
	if l.whiteIsZero {
		turned = 0xffff
	}
	for c := range l.kept {
		out := im.Planes[c].Values[y*l.width+x:][:n]
		if l.bits == 8 {
			at := c
			for i := range out {
				out[i] = uint16(row[at])*257 ^ turned
				at += l.samples
			}
			continue
		}
		high, low := 0, 1
		if l.order == binary.LittleEndian {
			high, low = 1, 0
		}
		at := 2 * c
		for i := range out {
			out[i] = (uint16(row[at+high])<<8 | uint16(row[at+low])) ^ turned
			at += 2 * l.samples
		}
	}
	if l.alpha {
		bytes := l.bits / 8
		for i := range n {
			for _, b := range row[(i*l.samples+l.kept)*bytes:][:bytes] {
				if b != 0xff {
					return transparent()
				}
			}
		}
	}
	return nil
}

// An unpacker opens compressed blocks one after another.
type unpacker struct {
	buffered *bufio.Reader
	inflater io.ReadCloser
}

// open returns what a block holds, unpacked.
func (u *unpacker) open(block io.Reader, compression uint32) (io.Reader, error) {
	if u.buffered == nil {
		u.buffered = bufio.NewReaderSize(block, 1<<16)
	} else {
		u.buffered.Reset(block)
	}
	switch compression {
	case compressLZW:
		// Bits in the order of before TIFF 5: the code to begin with is then 00 01.
		if first, err := u.buffered.Peek(2); err == nil && first[0] == 0 && first[1]&1 == 1 {
			return nil, errors.New("LZW of before 1988, with its bits reversed")
		}
		return lzw.NewReader(u.buffered, lzw.MSB, 8), nil
	case compressDeflate, compressOldDeflate:
		if u.inflater == nil {
			var err error
			u.inflater, err = zlib.NewReader(u.buffered)
			return u.inflater, err
		}
		return u.inflater, u.inflater.(zlib.Resetter).Reset(u.buffered, nil)
	case compressPackBits:
		return &packBits{from: u.buffered}, nil
	}
	return u.buffered, nil
}

// packBits unpacks runs of bytes (TIFF 6.0, section 9).
type packBits struct {
	from  *bufio.Reader
	plain int // bytes that stand as they are
	run   int // times that again is to be repeated
	again byte
}

func (p *packBits) Read(out []byte) (int, error) {
	for p.plain == 0 && p.run == 0 {
		n, err := p.from.ReadByte()
		if err != nil {
			return 0, err
		}
		switch {
		case n < 128:
			p.plain = int(n) + 1
		case n > 128:
			if p.again, err = p.from.ReadByte(); err != nil {
				return 0, err
			}
			p.run = 257 - int(n)
		}
	}
	if p.plain > 0 {
		n, err := p.from.Read(out[:min(len(out), p.plain)])
		p.plain -= n
		return n, err
	}
	n := min(len(out), p.run)
	for i := range n {
		out[i] = p.again
	}
	p.run -= n
	return n, nil
}
