package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Values are decoded as sRGB where that suits the steps better, however the tablet is off: not those of a device without an
// exponent, which glare would make up for, nor those of another curve.
func TestEncodingChosen(t *testing.T) {
	for _, c := range []struct {
		name   string
		encode func(float64) float64
		least  int
		most   int
	}{
		{"linear", nil, 0, 0}, {"gamma 2.2", gamma, 0, 0}, {"gamma 1.8", func(v float64) float64 { return math.Pow(v, 1/1.8) }, 0, 0},
		{"S", sCurve, 0, 2}, {"sRGB", srgb, 36, 40},
	} {
		b, r := newBench(), random(11)
		b.encode = c.encode
		chosen := 0
		for range 40 {
			k := b.calibrated(t, usual, Tablet{Density: stated(usual, 0.01, 0.005, r), Known: Certificate}, r)
			if k.tone.srgb {
				chosen++
			}
		}
		t.Logf("%s: decoded in %d of 40", c.name, chosen)
		assert.GreaterOrEqual(t, chosen, c.least, c.name)
		assert.LessOrEqual(t, chosen, c.most, c.name)
	}
}

// The derivatives of the curve of a picture in sRGB are those of its values.
func TestSRGBSlopes(t *testing.T) {
	b := newBench()
	b.encode = srgb
	c := b.calibrated(t, usual, Tablet{Density: usual, Known: Certificate}, random(5))
	require.True(t, c.tone.srgb)
	const h = 1e-4
	for _, d := range []float64{0.1, 0.7, 1.3, 1.9, 2.4} {
		below, _, _ := c.tone.logs(d - h)
		at, slope, bend := c.tone.logs(d)
		above, _, _ := c.tone.logs(d + h)
		assert.InDelta(t, (above-below)/(2*h), slope, 1e-5)
		assert.InDelta(t, (above-2*at+below)/(h*h), bend, 1e-3)
		assert.InDelta(t, d, c.tone.densityOf(at), 1e-6)
	}
}
