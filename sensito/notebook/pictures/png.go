package pictures

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"image/png"
	"io"

	"sensito/sensito/picture"
)

// maxChunk is how much of a part of a PNG file is read to be told.
const maxChunk = 1 << 20

// A pngWalk is what the parts of a PNG file say (PNG, third edition, 2025; numbers from memory).
type pngWalk struct {
	width, height uint32
	depth, colour byte
	packed        uint64 // bytes of compressed values
	pages         int
	about         picture.About
	claimed       claims
	orientation   uint
}

// readPNG reads a PNG file.
func readPNG(r io.ReaderAt, size int64) (*picture.Image, error) {
	w, err := walkPNG(r, size)
	if err != nil {
		return nil, err
	}
	in := bufio.NewReaderSize(io.NewSectionReader(r, 0, size), 1<<16)
	decoded, err := png.Decode(in)
	if err != nil {
		return nil, broken("its pixels", err)
	}
	channels := 1
	if w.colour&2 != 0 {
		channels = 3
	}
	im, err := planes(decoded, channels, int(w.depth))
	if err != nil {
		return nil, err
	}
	im.About = w.about
	im.About.Format, im.About.Pages, im.About.Encoding = "PNG", w.pages, w.claimed.String()
	if w.colour&4 != 0 {
		im.About.OtherChannels = 1
	}
	turn(im, w.orientation)
	return im, nil
}

// walkPNG looks at the parts of the file, and refuses by them what would not be read exactly or is too large.
func walkPNG(r io.ReaderAt, size int64) (*pngWalk, error) {
	w := &pngWalk{pages: 1}
	var head [8]byte
	for at := int64(8); ; {
		if _, err := io.ReadFull(io.NewSectionReader(r, at, size-at), head[:]); err != nil {
			return nil, broken("the list of its parts", err)
		}
		long, name := int64(binary.BigEndian.Uint32(head[:])), string(head[4:])
		if at+8+long+4 > size {
			return nil, damaged("the file ends early, within its part %s", clean(head[4:]))
		}
		if (at == 8) != (name == "IHDR") {
			return nil, damaged("its parts are not in order")
		}
		switch name {
		case "IDAT":
			w.packed += uint64(long)
		case "IEND":
			return w, w.enough()
		default:
			data := make([]byte, min(long, maxChunk))
			if _, err := io.ReadFull(io.NewSectionReader(r, at+8, long), data); err != nil {
				return nil, broken("the list of its parts", err)
			}
			if err := w.part(name, data); err != nil {
				return nil, err
			}
		}
		at += 8 + long + 4
	}
}

// part looks at one part of the file.
func (w *pngWalk) part(name string, data []byte) error {
	switch name {
	case "IHDR":
		return w.header(data)
	case "acTL":
		if len(data) >= 4 {
			w.pages = int(min(max(binary.BigEndian.Uint32(data), 1), maxPages))
		}
	case "gAMA":
		if len(data) == 4 && binary.BigEndian.Uint32(data) > 0 { // 100,000 times the power of light that values are
			w.claimed.add("gamma %.3g", 1e5/float64(binary.BigEndian.Uint32(data)))
		}
	case "sRGB":
		w.claimed.add("sRGB")
	case "cICP":
		if len(data) == 4 {
			w.claimed.add("colours of code %d, transfer of code %d", data[0], data[1])
		}
	case "iCCP":
		w.profile(data)
	case "pHYs":
		if len(data) == 9 && data[8] == 1 { // per metre
			w.about.PixelsPerInch = float64(binary.BigEndian.Uint32(data)) * 0.0254
		}
	case "tEXt":
		if key, text, ok := bytes.Cut(data, []byte{0}); ok && string(key) == "Software" {
			w.about.Software = clean(text)
		}
	case "iTXt":
		// keyword, 0, two bytes of compression, language, 0, keyword in it, 0, text
		if key, rest, ok := bytes.Cut(data, []byte{0}); ok && string(key) == "Software" && len(rest) > 2 && rest[0] == 0 {
			if parts := bytes.SplitN(rest[2:], []byte{0}, 3); len(parts) == 3 {
				w.about.Software = clean(parts[2])
			}
		}
	case "eXIf":
		if t := readEXIF(data); t != nil {
			tell(&w.about, t)
			w.claimed.exif(t)
			w.orientation = uint(t.told(tagOrientation))
		}
	}
	return nil
}

// header judges the sides and the kind of the picture.
func (w *pngWalk) header(data []byte) error {
	if len(data) != 13 {
		return damaged("its header has %d bytes", len(data))
	}
	w.width, w.height = binary.BigEndian.Uint32(data), binary.BigEndian.Uint32(data[4:])
	w.depth, w.colour = data[8], data[9]
	channels := 1
	switch w.colour {
	case 0, 4:
	case 2, 6:
		channels = 3
	case 3:
		return variant(saveAs, "a picture by a palette, whose values are numbers of colours and not tones")
	default:
		return damaged("its header says colour type %d", w.colour)
	}
	if err := checkSize(uint64(w.width), uint64(w.height), channels, maxDecoded); err != nil {
		return err
	}
	switch w.depth {
	case 8, 16:
		return nil
	case 1:
		return variant(saveAs, "its pixels are black or white and nothing between (1 bit)")
	case 2, 4:
		return variant(saveAs, "its values have %d bits", w.depth)
	}
	return damaged("its header says %d bits", w.depth)
}

// profile tells of the colour profile in a part iCCP: its name, 0, the method, and the profile compressed.
func (w *pngWalk) profile(data []byte) {
	name, rest, ok := bytes.Cut(data, []byte{0})
	if !ok || len(rest) < 1 {
		return
	}
	if z, err := zlib.NewReader(bytes.NewReader(rest[1:])); err == nil {
		p, _ := io.ReadAll(io.LimitReader(z, min(maxChunk, 32*int64(len(rest))))) // what could be unpacked of it
		if known := profileName(p); known != "" {
			w.claimed.add("profile %s", known)
			return
		}
	}
	w.claimed.add("profile %s", clean(name))
}

// enough refuses a file whose compressed values cannot hold the picture, before room is made for it: Deflate makes a
// byte 1040 times as large at most.
func (w *pngWalk) enough() error {
	if w.width == 0 {
		return damaged("it has no header")
	}
	channels := map[byte]uint64{0: 1, 2: 3, 4: 2, 6: 4}[w.colour]
	if need := uint64(w.width) * uint64(w.height) * channels * uint64(w.depth) / 8; w.packed*1040 < need {
		return damaged("its %d bytes of pixels are too few for %d x %d", w.packed, w.width, w.height)
	}
	return nil
}
