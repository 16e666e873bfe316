package canvas

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image/png"
	"io"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// PNG writes a drawing as PNG of a known resolution. The error is a
// *MissingLetterError where no font has a letter.
func PNG(w io.Writer, d Drawing) error {
	c := &pngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(d.Width, d.Height), vgimg.UseDPI(d.DPI)), d: d}
	d.Draw(c)
	if c.err != nil {
		return c.err
	}
	// To seek what is shorter takes twice as long, and saves a twentieth.
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	var b bytes.Buffer
	if err := encoder.Encode(&b, c.Image()); err != nil {
		return err
	}
	// The header, which is always as long, then the size of a dot.
	for _, part := range [][]byte{b.Next(pngHeader), dotSize(d.DPI), b.Bytes()} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
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

// pngHeader is the length of a PNG's signature and IHDR chunk (W3C PNG, 5.2
// and 11.2.1).
const pngHeader = 8 + 4 + 4 + 13 + 4

// dotSize returns a pHYs chunk, from which a printer knows how large the
// picture is: dots a metre along each side, and 1 for the metre (W3C PNG,
// 11.3.4.3).
func dotSize(dpi int) []byte {
	perMetre := uint32(math.Round(float64(dpi) * float64(vg.Centimeter*100/vg.Inch)))
	chunk := []byte("\x00\x00\x00\x09pHYs")
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1)
	return binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
}
