package pictures

import (
	"math/rand/v2"
	"testing"
)

// BenchmarkRead reads the largest pictures: 24 megapixels of 16-bit colour in one strip, and 100 of grey.
func BenchmarkRead(b *testing.B) {
	noise := rand.New(rand.NewPCG(1, 2))
	values := func(rows, bytes, filter int) []byte {
		out := make([]byte, 0, rows*(bytes+filter))
		for y := range rows {
			out = append(out, make([]byte, filter)...)
			for x := 0; x < bytes; x += 2 { // a ramp, with noise of 10 bits
				v := uint16(x+8*y) + uint16(noise.Uint32()&1023)
				out = append(out, byte(v), byte(v>>8))
			}
		}
		return out
	}
	for _, c := range []struct {
		name string
		make func() []byte
	}{
		{"format=TIFF/packed=none/megapixels=24", func() []byte { return colourTIFF(6000, 4000, 1, values(4000, 36000, 0)) }},
		{"format=TIFF/packed=deflate/megapixels=24", func() []byte { return colourTIFF(6000, 4000, 8, deflated(values(4000, 36000, 0))) }},
		{"format=PNG/packed=deflate/megapixels=24", func() []byte { return smallPNG(6000, 4000, 16, 2, deflated(values(4000, 36000, 1))) }},
		{"format=PNG/packed=deflate/megapixels=100", func() []byte { return smallPNG(10000, 10000, 16, 0, deflated(values(10000, 20000, 1))) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			data := c.make()
			b.ReportAllocs()
			for b.Loop() {
				if _, err := readBytes(data); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
