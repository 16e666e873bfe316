package canvas

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// PNG writes a drawing as PNG of a known resolution. The error is a
// *MissingLetterError where no font has a letter.
func PNG(w io.Writer, d Drawing) error {
	paper := d.Paper
	if paper == nil {
		paper = color.White
	}
	c := &pngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(d.Width, d.Height), vgimg.UseDPI(d.DPI), vgimg.UseBackgroundColor(paper)), d: d}
	d.Draw(c)
	if c.err != nil {
		return c.err
	}
	return encode(w, c.Image().(*image.RGBA), d.DPI, d.Software)
}

// pngCanvas is that of gonum/plot, with text in more than one font.
type pngCanvas struct {
	*vgimg.Canvas
	d   Drawing
	err error
}

func (c *pngCanvas) FillString(f font.Face, pt vg.Point, s string) {
	if f.Font.Size == 0 {
		return
	}
	all, err := pieces(f, s, c.d, "PNG")
	if err != nil && c.err == nil {
		c.err = err
	}
	for _, p := range all {
		c.Canvas.FillString(p.face, vg.Point{X: pt.X + p.at, Y: pt.Y}, p.text)
	}
}

// encode writes an opaque picture as PNG, with the size of a dot, from which a printer
// knows how large the picture is, and what it was made by (W3C PNG, 11.2, 11.3.3.3, 11.3.4.3). Rows are written as they
// are: the filters of the standard are for photographs, take three times as long with
// the encoder of the standard library, and make a drawing larger.
func encode(w io.Writer, img *image.RGBA, dpi int, software string) error {
	const eightBits, trueColour, noFilter, metre = 8, 2, 0, 1
	width, height := img.Rect.Dx(), img.Rect.Dy()
	header := binary.BigEndian.AppendUint32(nil, uint32(width))
	header = binary.BigEndian.AppendUint32(header, uint32(height))
	header = append(header, eightBits, trueColour, 0, 0, 0)

	perMetre := uint32(math.Round(float64(dpi) * float64(vg.Centimeter*100/vg.Inch)))
	size := binary.BigEndian.AppendUint32(nil, perMetre)
	size = append(binary.BigEndian.AppendUint32(size, perMetre), metre)

	var data bytes.Buffer
	z, err := zlib.NewWriterLevel(&data, zlib.BestSpeed)
	if err != nil {
		return err
	}
	row := make([]byte, 1+3*width)
	row[0] = noFilter
	for y := range height {
		pix := img.Pix[y*img.Stride:][:4*width]
		for from, to := 0, 1; from < len(pix); from, to = from+4, to+3 {
			row[to], row[to+1], row[to+2] = pix[from], pix[from+1], pix[from+2]
		}
		if _, err := z.Write(row); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return err
	}
	file := []byte("\x89PNG\r\n\x1a\n")
	for _, chunk := range []struct {
		name string
		data []byte
	}{{"IHDR", header}, {"pHYs", size}, {"tEXt", []byte("Software\x00" + software)}, {"IDAT", data.Bytes()}, {"IEND", nil}} {
		if chunk.name == "tEXt" && software == "" {
			continue
		}
		file = binary.BigEndian.AppendUint32(file, uint32(len(chunk.data)))
		begin := len(file)
		file = append(append(file, chunk.name...), chunk.data...)
		file = binary.BigEndian.AppendUint32(file, crc32.ChecksumIEEE(file[begin:]))
	}
	_, err = w.Write(file)
	return err
}
