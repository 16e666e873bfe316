package plot

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// Resolutions of a PNG, in dots per inch.
const (
	pngDPI  = 200
	cardDPI = 300 // small type, to be printed
)

func writePNG(out *bytes.Buffer, fig *Figure) error {
	dpi := fig.dpi
	if dpi == 0 {
		dpi = pngDPI
	}
	c := vgimg.NewWith(vgimg.UseWH(fig.Width, fig.Height), vgimg.UseDPI(dpi))
	fig.Draw(c)
	var b bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: c}).WriteTo(&b); err != nil {
		return err
	}
	// The header, which is always as long, then the size of a dot.
	out.Write(b.Next(pngHeader))
	out.Write(dotSize(dpi))
	out.Write(b.Bytes())
	return nil
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
