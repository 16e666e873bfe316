package pictures

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"image/color"
	"image/jpeg"
	"io"

	"sensito/sensito/picture"
)

// maxScans is how many passes over the picture a JPEG file may have. A progressive one has ten or so; each takes the
// time of the whole picture, however few bytes it has.
const maxScans = 100

// A jpegWalk is what the parts of a JPEG file say (ITU-T T.81; numbers from memory).
type jpegWalk struct {
	framed      bool // that the header of the picture was seen
	scans       int
	about       picture.About
	claimed     claims
	orientation uint
	icc         []byte // the first piece of the profile, where its name stands
}

// readJPEG reads a JPEG file. Whether the tones of one can be taken is for others to judge.
func readJPEG(r io.ReaderAt, size int64) (*picture.Image, error) {
	w := &jpegWalk{}
	if err := w.walk(bufio.NewReaderSize(io.NewSectionReader(r, 2, size-2), 1<<16)); err != nil {
		if endsEarly(err) {
			err = broken("its pixels", err)
		}
		return nil, err
	}
	if !w.framed || w.scans == 0 {
		return nil, damaged("it has no pixels")
	}
	open := func() io.Reader { return bufio.NewReaderSize(io.NewSectionReader(r, 0, size), 1<<16) }
	head, err := jpeg.DecodeConfig(open())
	if err != nil {
		return nil, undecoded(err)
	}
	channels := 3
	if head.ColorModel == color.GrayModel {
		channels = 1
	}
	if err := checkSize(uint64(head.Width), uint64(head.Height), channels, maxDecoded); err != nil {
		return nil, err
	}
	// Each block of 8 x 8 pixels takes a bit at least, before room is made for it.
	if int64(head.Width)*int64(head.Height) > size*512 {
		return nil, damaged("its %d bytes are too few for %d x %d pixels", size, head.Width, head.Height)
	}
	decoded, err := jpeg.Decode(open())
	if err != nil {
		return nil, undecoded(err)
	}
	im, err := planes(decoded, channels, 8)
	if err != nil {
		return nil, err
	}
	im.About = w.about
	if len(w.icc) > 0 {
		w.claimed.profile(w.icc)
	}
	im.About.Format, im.About.Pages, im.About.Encoding = "JPEG", 1, w.claimed.String()
	turn(im, w.orientation)
	return im, nil
}

// walk looks at the parts of the file up to its end, and refuses by them what would not be read.
func (w *jpegWalk) walk(r *bufio.Reader) error {
	for {
		marker, err := nextMarker(r)
		if err != nil {
			return err
		}
		if marker == 0xd9 { // end
			return nil
		}
		if marker >= 0xd0 && marker <= 0xd8 || marker == 1 { // no more than the marker
			continue
		}
		var long [2]byte
		if _, err := io.ReadFull(r, long[:]); err != nil {
			return err
		}
		n := int(binary.BigEndian.Uint16(long[:])) - 2
		if n < 0 {
			return damaged("a part of it has no length")
		}
		data := make([]byte, n)
		if _, err := io.ReadFull(r, data); err != nil {
			return err
		}
		if err := w.part(marker, data); err != nil {
			return err
		}
	}
}

// nextMarker passes over values up to the next marker: 0xff and what is neither 0, which stands for 0xff itself, nor
// another 0xff, which fills.
func nextMarker(r *bufio.Reader) (byte, error) {
	for {
		if _, err := r.ReadSlice(0xff); err != nil {
			if errors.Is(err, bufio.ErrBufferFull) {
				continue
			}
			return 0, err
		}
		b, err := r.ReadByte()
		for err == nil && b == 0xff {
			b, err = r.ReadByte()
		}
		if err != nil {
			return 0, err
		}
		if b != 0 {
			return b, nil
		}
	}
}

// part looks at one part of the file.
func (w *jpegWalk) part(marker byte, data []byte) error {
	switch {
	case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc: // frame
		return w.frame(data)
	case marker == 0xda:
		if w.scans++; w.scans > maxScans {
			return damaged("it has more than %d passes over the picture", maxScans)
		}
	case marker == 0xe0 && bytes.HasPrefix(data, []byte("JFIF\x00")) && len(data) >= 12:
		across := float64(binary.BigEndian.Uint16(data[8:]))
		switch data[7] {
		case 1:
			w.about.PixelsPerInch = across
		case 2:
			w.about.PixelsPerInch = across * 2.54
		}
	case marker == 0xe1 && bytes.HasPrefix(data, []byte("Exif\x00\x00")):
		if t := readEXIF(data[6:]); t != nil {
			tell(&w.about, t)
			w.claimed.exif(t)
			w.orientation = uint(t.told(tagOrientation))
		}
	case marker == 0xe2 && bytes.HasPrefix(data, []byte("ICC_PROFILE\x00")) && len(data) > 14 && w.icc == nil:
		w.icc = data[14:]
	}
	return nil
}

// frame judges the kind of the picture.
func (w *jpegWalk) frame(data []byte) error {
	if len(data) < 6 {
		return damaged("its header has %d bytes", len(data))
	}
	w.framed = true
	switch channels := data[5]; {
	case channels == 4:
		return variant(saveAs, "a picture of inks (CMYK)")
	case channels != 1 && channels != 3:
		return variant(saveAs, "a pixel of it has %d channels", channels)
	case data[0] != 8:
		return variant(saveAs, "its values have %d bits, in a JPEG", data[0])
	}
	return nil
}

// undecoded says why the decoder took no picture.
func undecoded(err error) error {
	if unread := jpeg.UnsupportedError(""); errors.As(err, &unread) {
		return variant(saveAs, "its form of JPEG (%s) is not read", string(unread))
	}
	return broken("its pixels", err)
}
