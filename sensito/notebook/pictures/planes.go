package pictures

import (
	"fmt"
	"image"
	"image/color"

	"sensito/sensito/picture"
)

// The largest pictures that are read, so that a header alone, which can claim anything, does not use the memory up.
const (
	MaxColourPixels = 40_000_000  // of red, green and blue: A4 at 600 to the inch has 35 million
	maxDecoded      = 25_000_000  // the same of PNG and JPEG, since the standard library holds all of it beside the planes
	MaxGreyPixels   = 100_000_000 // of grey
	maxSide         = 200_000     // pixels of a row or of a column
	maxPages        = 10_000      // pictures of a file that are counted
	million         = 1_000_000
)

// checkSize refuses a picture by what its header says of its sides. Channels are those that are kept: 1 or 3; mostColour is
// how many pixels of three may be.
func checkSize(width, height uint64, channels int, mostColour uint64) error {
	if width == 0 || height == 0 {
		return damaged("its header says %d x %d pixels", width, height)
	}
	most, of := uint64(MaxGreyPixels), "grey"
	if channels == 3 {
		most, of = mostColour, "red, green and blue"
	}
	if width > maxSide || height > maxSide || width*height > most {
		limit, instead := fmt.Sprintf("at most %d million of %s are read", most/million, of), smallerPart
		if most < MaxColourPixels {
			limit += fmt.Sprintf(", of TIFF %d million", MaxColourPixels/million)
			instead = "save it as TIFF, or " + instead
		}
		return &Error{Kind: ErrTooLarge, What: fmt.Sprintf("its header says %d x %d pixels; %s, %d on a side", width, height, limit, maxSide), Instead: instead}
	}
	return nil
}

// newImage returns an image of black, of 1 or 3 channels.
func newImage(width, height, channels, bits int) *picture.Image {
	names := []string{"grey"}
	if channels == 3 {
		names = []string{"red", "green", "blue"}
	}
	im := &picture.Image{Width: width, Height: height, Bits: bits}
	for _, name := range names {
		im.Planes = append(im.Planes, picture.Plane{Name: name, Values: make([]uint16, width*height)})
	}
	return im
}

// planes takes the values out of a picture that the standard library decoded. An alpha channel must say that all is
// whole.
func planes(from image.Image, channels, bits int) (*picture.Image, error) {
	b := from.Bounds()
	im := newImage(b.Dx(), b.Dy(), channels, bits)
	switch m := from.(type) {
	case *image.Gray:
		return im, narrow(im, m.Pix, m.Stride, 1, false)
	case *image.Gray16:
		return im, wide(im, m.Pix, m.Stride, 2, false)
	case *image.RGBA:
		return im, narrow(im, m.Pix, m.Stride, 4, true)
	case *image.NRGBA:
		return im, narrow(im, m.Pix, m.Stride, 4, true)
	case *image.RGBA64:
		return im, wide(im, m.Pix, m.Stride, 8, true)
	case *image.NRGBA64:
		return im, wide(im, m.Pix, m.Stride, 8, true)
	case *image.YCbCr:
		for y := range im.Height {
			for x := range im.Width {
				i, j := m.YOffset(x, y), m.COffset(x, y)
				r, g, b := color.YCbCrToRGB(m.Y[i], m.Cb[j], m.Cr[j])
				at := y*im.Width + x
				im.Planes[0].Values[at], im.Planes[1].Values[at], im.Planes[2].Values[at] = uint16(r)*257, uint16(g)*257, uint16(b)*257
			}
		}
		return im, nil
	}
	return nil, variant(saveAs, "its kind of colour (%s) is not read", fmt.Sprintf("%T", from)[len("*image."):])
}

// narrow takes values of 8 bits. A pixel is of so many bytes; the last of them covers where it has an alpha channel.
func narrow(im *picture.Image, pix []byte, stride, pixel int, alpha bool) error {
	for y := range im.Height {
		row := pix[y*stride:][:im.Width*pixel]
		for c := range im.Planes {
			out := im.Planes[c].Values[y*im.Width:][:im.Width]
			for x := range out {
				out[x] = uint16(row[x*pixel+c]) * 257
			}
		}
		for x := pixel - 1; alpha && x < len(row); x += pixel {
			if row[x] != 0xff {
				return transparent()
			}
		}
	}
	return nil
}

// wide takes values of 16 bits, as narrow does.
func wide(im *picture.Image, pix []byte, stride, pixel int, alpha bool) error {
	for y := range im.Height {
		row := pix[y*stride:][:im.Width*pixel]
		for c := range im.Planes {
			out := im.Planes[c].Values[y*im.Width:][:im.Width]
			for x := range out {
				at := x*pixel + 2*c
				out[x] = uint16(row[at])<<8 | uint16(row[at+1])
			}
		}
		for x := pixel - 2; alpha && x < len(row); x += pixel {
			if row[x] != 0xff || row[x+1] != 0xff {
				return transparent()
			}
		}
	}
	return nil
}
