package lighttable

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/png"

	"sensito/sensito/picture"
)

// PNG returns the picture as a PNG file of its bits and channels.
func PNG(im *picture.Image) []byte {
	var out image.Image
	switch {
	case im.Bits == 8:
		out = standard8(im)
	case len(im.Planes) == 1:
		g := image.NewGray16(image.Rect(0, 0, im.Width, im.Height))
		for i, v := range im.Planes[0].Values {
			binary.BigEndian.PutUint16(g.Pix[2*i:], v)
		}
		out = g
	default:
		c := image.NewRGBA64(image.Rect(0, 0, im.Width, im.Height))
		for i := range im.Planes[0].Values {
			for k, p := range im.Planes {
				binary.BigEndian.PutUint16(c.Pix[8*i+2*k:], p.Values[i])
			}
			binary.BigEndian.PutUint16(c.Pix[8*i+6:], 0xffff)
		}
		out = c
	}
	var b bytes.Buffer
	if err := png.Encode(&b, out); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// TIFF returns the picture as a plain TIFF file of its bits and channels (TIFF 6.0, part 1):
// little-endian, one strip, nothing packed, resolution told.
func TIFF(im *picture.Image) []byte {
	const head, entry = 8, 12
	le := binary.LittleEndian
	channels, size := len(im.Planes), im.Bits/8
	var pixels []byte
	for i := range im.Planes[0].Values {
		for _, p := range im.Planes {
			if size == 1 {
				pixels = append(pixels, byte((uint32(p.Values[i])+128)/257))
			} else {
				pixels = le.AppendUint16(pixels, p.Values[i])
			}
		}
	}
	photometric := uint32(1) // black is zero
	if channels == 3 {
		photometric = 2
	}
	const short, long, rational = 3, 4, 5
	tags := [][4]uint32{ // tag, type, count, value; the values of long ones are set below
		{256, long, 1, uint32(im.Width)}, {257, long, 1, uint32(im.Height)}, {258, short, uint32(channels), uint32(im.Bits)},
		{259, short, 1, 1}, {262, short, 1, photometric}, {273, long, 1, 0}, {277, short, 1, uint32(channels)},
		{278, long, 1, uint32(im.Height)}, {279, long, 1, uint32(len(pixels))}, {282, rational, 1, 0}, {283, rational, 1, 0}, {296, short, 1, 2}}
	after := uint32(head + 2 + entry*len(tags) + 4)
	var more []byte
	resolution := le.AppendUint32(le.AppendUint32(nil, uint32(100*im.About.PixelsPerInch+0.5)), 100)
	put := func(i int, b []byte) { tags[i][3] = after + uint32(len(more)); more = append(more, b...) }
	if channels == 3 {
		bits := uint16(im.Bits)
		put(2, le.AppendUint16(le.AppendUint16(le.AppendUint16(nil, bits), bits), bits))
	}
	put(9, resolution)
	put(10, resolution)
	if len(more)%2 == 1 {
		more = append(more, 0)
	}
	put(5, pixels)
	out := le.AppendUint32([]byte("II*\x00"), head)
	out = le.AppendUint16(out, uint16(len(tags)))
	for _, t := range tags {
		out = le.AppendUint16(le.AppendUint16(out, uint16(t[0])), uint16(t[1]))
		out = le.AppendUint32(le.AppendUint32(out, t[2]), t[3])
	}
	return append(le.AppendUint32(out, 0), more...)
}
