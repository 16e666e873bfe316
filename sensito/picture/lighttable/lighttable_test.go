package lighttable

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"sensito/sensito/internal/simulated"
	"sensito/sensito/picture"
)

// exact is a device that adds nothing of its own.
func exact(perInch float64) Device { return Device{PerInch: perInch, Channels: 1, Open: 1, Bits: 16} }

// within returns the mean of the middle of a step, 0 to 1, and the standard deviation of a pixel.
func within(s Scene, im *picture.Image, plane, row, step int, perInch float64) (mean, sd float64) {
	c := s.Corners(row, step, perInch)
	at := func(u, v float64) (int, int) {
		x := c[0].X + u*(c[1].X-c[0].X) + v*(c[3].X-c[0].X)
		y := c[0].Y + u*(c[1].Y-c[0].Y) + v*(c[3].Y-c[0].Y)
		return int(x), int(y)
	}
	n, sum, squares := 0.0, 0.0, 0.0
	for i := range 40 {
		for j := range 40 {
			x, y := at(0.25+0.5*float64(i)/39, 0.25+0.5*float64(j)/39)
			v := float64(im.Planes[plane].Values[y*im.Width+x]) / 65535
			n, sum, squares = n+1, sum+v, squares+v*v
		}
	}
	return sum / n, math.Sqrt(max(0, squares/n-sum*sum/n/n))
}

// TestLightOfSteps holds that each step lets through its density, whatever the grain and
// however the scene lies, and that it lies where the truth says.
func TestLightOfSteps(t *testing.T) {
	strip, tablet := Even(0.12, 0.07, 21), Even(0.05, 0.1, 21)
	for _, degrees := range []float64{0, 3, 41, 90, 180, -7} {
		for _, mirror := range []bool{false, true} {
			s := Beside(strip, tablet).WithPlaces().Turned(degrees)
			s.Mirrored, s.Quarters = mirror, 3
			im := s.Picture(exact(150), 1)
			for row, densities := range [][]float64{strip, tablet} {
				for i, d := range densities {
					mean, _ := within(s, im, 0, row, i, 150)
					assert.InDelta(t, d, -math.Log10(mean), 0.004, "row %d, step %d, turned by %g, %t", row, i, degrees, mirror)
				}
			}
			for at, light := range map[Point]float64{s.Fog: math.Pow(10, -0.12), s.Tape: 0, s.Clear: 1} {
				p := s.Pixel(at, 150)
				assert.InDelta(t, light, float64(im.Planes[0].Values[int(p.Y)*im.Width+int(p.X)])/65535, 0.05)
			}
		}
	}
}

// TestEdges holds that the light crosses over exactly where Ends has the edge of a step.
func TestEdges(t *testing.T) {
	for _, degrees := range []float64{0, 2, 90} {
		for _, mirror := range []bool{false, true} {
			s := Alone([]float64{2, 0.1, 2, 0.1, 2}).Turned(degrees)
			s.Rows[0].Base, s.Rows[0].Grain, s.Mirrored = 0.1, 0, mirror
			const perInch = 100
			e := s.Ends(0, perInch)
			im := s.Picture(exact(perInch), 1)
			length := math.Hypot(e.Last.X-e.First.X, e.Last.Y-e.First.Y)
			require.InDelta(t, 5*stepLength*perInch/inch, length, 1e-9)
			ux, uy := (e.Last.X-e.First.X)/length, (e.Last.Y-e.First.Y)/length
			// What is missing of full light along a line that ends in the middle of step 1, times its length,
			// is the length that is dark; likewise to the middle of step 2.
			for step, want := range []float64{length / 10, length / 5} {
				dark, n := 0.0, 0
				for w := -10.0; w <= 10; w++ {
					for u := -20.0; u < length/5*(float64(step)+0.5); u += 0.05 {
						x, y := e.First.X+u*ux-w*uy, e.First.Y+u*uy+w*ux
						v := float64(im.Planes[0].Values[int(y)*im.Width+int(x)]) / 65535
						dark += 0.05 * (transmission(0.1) - v) / (transmission(0.1) - transmission(2))
					}
					n++
				}
				assert.InDelta(t, want, dark/float64(n), 0.1, "turned by %g, %t, step %d", degrees, mirror, step+1)
			}
		}
	}
}

// TestGlare compares with the sum over all pixels written out, and with open glass, which glare
// leaves alone.
func TestGlare(t *testing.T) {
	veils := []Veil{{0.03, 2}, {0.02, 15}}
	const w, h, pixel, surround, beyond = 80, 30, 0.5, 0.7, 20.0
	r := rand.New(rand.NewPCG(1, 1))
	light := make([]float64, w*h)
	for i := range light { // patches of 5 pixels
		if i%w%5 > 0 {
			light[i] = light[i-1]
		} else if i/w%5 > 0 {
			light[i] = light[i-w]
		} else {
			light[i] = r.Float64()
		}
	}
	c := &canvas{width: w, height: h, pixel: pixel, light: [][]float64{append([]float64(nil), light...)}}
	c.glare(veils, surround, beyond)
	density := func(dx, dy float64) float64 {
		sum := 0.0
		for _, v := range veils {
			sum += v.Share / (2 * math.Pi * v.S * v.S) * math.Pow(1+(dx*dx+dy*dy)/v.S/v.S, -1.5)
		}
		return sum * pixel * pixel
	}
	for _, at := range [][2]int{{0, 0}, {40, 15}, {79, 29}, {13, 7}, {60, 2}} {
		want := 0.95 * light[at[1]*w+at[0]]
		for y := -40; y < h+40; y++ {
			for x := -40; x < w+40; x++ {
				v := surround
				if x >= 0 && x < w && y >= 0 && y < h {
					v = light[y*w+x]
				}
				want += v * density(float64(x-at[0])*pixel, float64(y-at[1])*pixel)
			}
		}
		assert.InDelta(t, want, c.light[0][at[1]*w+at[0]], 0.0006, "%v", at)
	}
	open := &canvas{width: 50, height: 40, pixel: 1, light: [][]float64{make([]float64, 2000)}}
	for i := range open.light[0] {
		open.light[0][i] = 1
	}
	open.glare(veils, 1, 1e6)
	for i, v := range open.light[0] {
		require.InDelta(t, 1, v, 1e-4, "pixel %d", i)
	}
}

// TestGrain holds granularity: at density 1 above base and an aperture of 48 µm it is what the row
// says, and it goes with the inverse root of the area.
func TestGrain(t *testing.T) {
	s := Alone([]float64{1.05})
	s.Rows[0].Base, s.Rows[0].Grain = 0.1, 12 // sqrt(0.95 + 0.05) = 1
	for _, perInch := range []float64{300, 600} {
		mean, sd := within(s, s.Picture(exact(perInch), 1), 0, 0, 0, perInch)
		pixel := inch / perInch
		assert.InEpsilon(t, 0.012*math.Sqrt(aperture)/pixel*math.Ln10, sd/mean, 0.08, "%g per inch", perInch)
	}
	s.Rows[0].Grain = 100 // its mean light is that of the density all the same
	mean, _ := within(s, s.Picture(exact(600), 1), 0, 0, 0, 600)
	assert.InDelta(t, 1.05, -math.Log10(mean), 0.006)
}

// TestStain holds the slopes of a stain against green.
func TestStain(t *testing.T) {
	s := Alone(Even(0.2, 0.2, 10))
	s.Rows[0].Stain = [3]float64{0.02, 0.08, 0.20}
	d := exact(150)
	d.Channels = 3
	im := s.Picture(d, 1)
	var seen [3]float64
	for k := range seen {
		first, _ := within(s, im, k, 0, 0, 150)
		last, _ := within(s, im, k, 0, 9, 150)
		seen[k] = -math.Log10(last / first)
	}
	assert.InDelta(t, 1.8*1.08, seen[1], 0.005)
	assert.InDelta(t, 1.20/1.08, seen[2]/seen[1], 0.003)
	assert.InDelta(t, 1.02/1.08, seen[0]/seen[1], 0.003)
	assert.Equal(t, "green", im.Planes[1].Name)
	fog := s.Pixel(s.Fog, 150)
	for _, p := range im.Planes { // the base has no stain
		assert.InDelta(t, 0.2, -math.Log10(float64(p.Values[int(fog.Y)*im.Width+int(fog.X)])/65535), 0.02, p.Name)
	}
}

// TestCallier holds that the device sees a density times the ratio.
func TestCallier(t *testing.T) {
	s := Alone([]float64{0.5, 1.5})
	s.Rows[0].Callier = 1.04
	im := s.Picture(exact(150), 1)
	for i, d := range s.Rows[0].Density {
		mean, _ := within(s, im, 0, 0, i, 150)
		assert.InDelta(t, 1.04*d, -math.Log10(mean), 0.004)
	}
}

// TestSeeds holds that a scene keeps its grain, that pictures differ in noise alone and that each
// comes back from its seed.
func TestSeeds(t *testing.T) {
	s := Beside(Even(0.1, 0.1, 21), Even(0.05, 0.15, 21))
	s.Dust, s.Rings = 10, 0.03
	d := Flatbed(75)
	assert.Equal(t, s.Picture(d, 1), s.Picture(d, 1))
	assert.NotEqual(t, s.Picture(d, 1), s.Picture(d, 2))
	d.Noise, d.Shot, d.Drift = 0, 0, 0
	assert.Equal(t, s.Picture(d, 1), s.Picture(d, 2))
	was := s.Picture(d, 1)
	s.Seed = 5
	assert.NotEqual(t, was, s.Picture(d, 1))
}

// TestDevice holds what the device itself adds: levels, offset, noise, clipping, encoding, uneven
// light.
func TestDevice(t *testing.T) {
	s := Scene{Width: 30, Height: 20, Glass: 10}
	d := Device{PerInch: 150, Channels: 1, Open: 0.4, Offset: 0.1, Noise: 0.01, Bits: 16}
	level := func(d Device) (mean, sd float64) {
		n, sum, squares := 0.0, 0.0, 0.0
		for _, v := range s.Picture(d, 3).Planes[0].Values {
			v := float64(v) / 65535
			n, sum, squares = n+1, sum+v, squares+v*v
		}
		return sum / n, math.Sqrt(squares/n - sum*sum/n/n)
	}
	mean, sd := level(d)
	assert.InDelta(t, 0.5, mean, 0.001)
	assert.InDelta(t, 0.01, sd, 0.0005)
	d.Shot = 0.02
	_, sd = level(d)
	assert.InDelta(t, math.Sqrt(0.01*0.01+0.02*0.02*0.4), sd, 0.0008)
	d.Noise, d.Shot, d.Exposure = 0, 0, 2
	mean, _ = level(d)
	assert.InDelta(t, 0.9, mean, 1e-5)
	d.Exposure = 4
	mean, sd = level(d)
	assert.InDelta(t, 1, mean, 1e-9, "clipped")
	assert.InDelta(t, 0, sd, 1e-6)
	d.Exposure, d.Encode, d.Bits = 0, Power(1/2.2), 8
	mean, _ = level(d)
	assert.InDelta(t, math.Round(255*math.Pow(0.5, 1/2.2))/255, mean, 1e-9)
	d.Encode, d.Bits, d.Tilt = nil, 16, 0.2
	values := s.Picture(d, 1).Planes[0].Values
	assert.InDelta(t, 0.1+0.4*0.8, float64(values[len(values)-1])/65535, 0.002)
	d.Drift = 0.01
	assert.NotEqual(t, values[0], s.Picture(d, 1).Planes[0].Values[0])
	for _, encode := range []func(float64) float64{Power(0.98), SRGB, SCurve} {
		assert.InDelta(t, 0, encode(0), 1e-12)
		assert.InDelta(t, 1, encode(1), 1e-12)
		for v := 0.001; v <= 1; v += 0.001 {
			require.Greater(t, encode(v), encode(v-0.001), "at %g", v)
		}
	}
	assert.InDelta(t, 0.735357, SRGB(0.5), 1e-5, "IEC 61966-2-1")
}

// TestDirt holds that dust and scratches lie where they are put, and that chance dust is of the
// number asked.
func TestDirt(t *testing.T) {
	s := Scene{Width: 40, Height: 40, Specks: []Speck{{Point{10, 10}, 0.5, 1}}, Scratches: []Scratch{{Point{20, 5}, Point{20, 35}, 0.2, 0.3}}}
	im := s.Picture(exact(254), 1) // 0.1 mm a pixel
	at := func(x, y float64) float64 {
		return -math.Log10(float64(im.Planes[0].Values[int(y*10)*im.Width+int(x*10)]) / 65535)
	}
	assert.InDelta(t, 1, at(10.05, 10.05), 0.001)
	assert.InDelta(t, 0, at(10.75, 10.05), 0.001)
	assert.InDelta(t, 0, at(10.45, 10.45), 0.001, "round")
	assert.InDelta(t, 0.3, at(20.05, 20.05), 0.001)
	assert.InDelta(t, 0, at(20.35, 20.05), 0.001)
	s = Scene{Width: 100, Height: 100, Dust: 20}
	dark := 0
	for _, v := range s.Picture(exact(254), 1).Planes[0].Values {
		if v < 65000 {
			dark++
		}
	}
	assert.Greater(t, dark, 2000)
	assert.Less(t, dark, 20000)
}

// TestPerforations holds that holes are open and the steps beside them are not touched.
func TestPerforations(t *testing.T) {
	s := Alone(Even(0.3, 0.1, 11))
	s.Rows[0].Perforated, s.Rows[0].Margin, s.Height, s.Masked = true, 5, 40, true
	s.Rows[0].At.Y = 20
	im := s.Picture(exact(200), 1)
	p := s.Pixel(Point{s.Rows[0].At.X + 4.75/2, 20 + stepAcross/2 + 2.5}, 200)
	assert.EqualValues(t, 65535, im.Planes[0].Values[int(p.Y)*im.Width+int(p.X)])
	mean, _ := within(s, im, 0, 0, 10, 200)
	assert.InDelta(t, 1.3, -math.Log10(mean), 0.004)
	assert.EqualValues(t, 0, im.Planes[0].Values[0], "mask")
}

// TestFiles holds that files come back pixel for pixel through other hands.
func TestFiles(t *testing.T) {
	for _, channels := range []int{1, 3} {
		for _, bits := range []int{8, 16} {
			t.Run(fmt.Sprintf("%d of %d bits", channels, bits), func(t *testing.T) {
				s := Alone(Even(0.1, 0.15, 7))
				s.Rows[0].Stain = [3]float64{0, 0.1, 0.2}
				d := Flatbed(60)
				d.Channels, d.Bits = channels, bits
				im := s.Picture(d, 1)
				same := func(back image.Image, err error) {
					require.NoError(t, err)
					require.Equal(t, image.Rect(0, 0, im.Width, im.Height), back.Bounds())
					for i := range im.Planes[0].Values {
						r, g, b, _ := back.At(i%im.Width, i/im.Width).RGBA()
						for k, p := range im.Planes {
							require.EqualValues(t, p.Values[i], [3]uint32{r, g, b}[k])
						}
					}
				}
				same(png.Decode(bytes.NewReader(PNG(im))))
				same(tiff.Decode(bytes.NewReader(TIFF(im))))
			})
		}
	}
}

func TestJPEG(t *testing.T) {
	s := Alone(Even(0.1, 0.15, 7))
	d := Flatbed(60)
	d.Encode, d.Bits = SRGB, 8
	plain := s.Picture(d, 1)
	rms := func(quality int) float64 {
		d.JPEG = quality
		lossy := s.Picture(d, 1)
		require.Equal(t, "JPEG", lossy.About.Format)
		sum := 0.0
		for i, v := range lossy.Planes[0].Values {
			sum += math.Pow((float64(v)-float64(plain.Planes[0].Values[i]))/65535, 2)
		}
		return math.Sqrt(sum / float64(len(plain.Planes[0].Values)))
	}
	assert.Greater(t, rms(90), 0.0005)
	assert.Less(t, rms(90), 0.02)
	assert.Greater(t, rms(30), 1.3*rms(90))
}

func TestStrip(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	d, b := simulated.Ordinary.Developing(r, 0), simulated.Ordinary.Bench(r)
	steps, base := Strip(b, d.At(8))
	require.Len(t, steps, b.Steps)
	first, last := steps[0], steps[len(steps)-1]
	if b.Reversed {
		first, last = last, first
	}
	assert.Greater(t, first, last+0.5, "the thin end of the wedge is the dense end of the film")
	assert.InDelta(t, base, last, 0.2)
}

func BenchmarkPicture(b *testing.B) {
	for _, perInch := range []float64{75, 150, 200} {
		for name, device := range map[string]func(float64) Device{"flatbed": Flatbed, "camera": Camera} {
			s := Beside(Even(0.1, 0.1, 21), Even(0.05, 0.15, 21)).WithPlaces()
			s.Dust = 5
			b.Run(fmt.Sprintf("device=%s/inch=%g", name, perInch), func(b *testing.B) {
				for b.Loop() {
					s.Picture(device(perInch), 1)
				}
			})
		}
	}
}
