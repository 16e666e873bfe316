package picture

import (
	"math"
	"math/rand/v2"
)

// A bench is a device in a formula: light 10^-D with even glare, encoded, with noise.
type bench struct {
	glare  float64
	open   float64
	noise  float64 // of a pixel, in light
	grain  float64 // of a pixel, part of the light at density 1
	encode func(float64) float64
	bits   int
	pixels int
}

func newBench() bench {
	return bench{glare: 0.002, open: 0.85, noise: 6e-4, grain: 0.02, bits: 16, pixels: 400}
}

// patch returns what the bench sees of a density.
func (b bench) patch(step int, d float64, r *rand.Rand) Patch {
	p := Patch{Step: step, Pixels: b.pixels, Corners: [4]Point{{float64(step), 0}, {float64(step) + 1, 0}, {float64(step) + 1, 1}, {float64(step), 1}}}
	levels := math.Exp2(float64(b.bits)) - 1
	low, high := 0, 0
	sd, mean := b.grain*math.Sqrt(max(d, 0))*math.Ln10/2, math.Pow(10, -d)
	for i := range b.pixels {
		t := mean * math.Exp(sd*r.NormFloat64()-sd*sd/2)
		l := b.open*(t+b.glare) + b.noise*r.NormFloat64()
		if b.encode != nil {
			l = b.encode(max(l, 0))
		}
		v := math.Round(min(max(l, 0), 1)*levels) / levels
		if v == 0 {
			low++
		}
		if v == 1 {
			high++
		}
		x := uint16(math.Round(v * full))
		p.Values = append(p.Values, x)
		p.Quadrants[i%4] = append(p.Quadrants[i%4], x)
	}
	p.Low, p.High = float64(low)/float64(b.pixels), float64(high)/float64(b.pixels)
	return p
}

func (b bench) patches(d []float64, r *rand.Rand) []Patch {
	var out []Patch
	for i, d := range d {
		out = append(out, b.patch(i+1, d, r))
	}
	return out
}

func (b bench) image() *Image {
	return &Image{Width: 1, Height: 1, Bits: b.bits, Planes: []Plane{{Name: "grey", Values: []uint16{0}}}}
}

func even(first, step float64, n int) []float64 {
	d := make([]float64, n)
	for i := range d {
		d[i] = first + step*float64(i)
	}
	return d
}

func srgb(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

func gamma(v float64) float64 { return math.Pow(v, 1/2.2) }

func sCurve(v float64) float64 {
	y := srgb(v)
	return y - 0.5*math.Sin(2*math.Pi*y)/(2*math.Pi)
}

// stated returns densities as a tablet states them: each off by sd, and all by a scale.
func stated(d []float64, sd, scale float64, r *rand.Rand) []float64 {
	by := 1 + scale*r.NormFloat64()
	out := make([]float64, len(d))
	for i, d := range d {
		out[i] = max(d*by+sd*r.NormFloat64(), 0)
	}
	return out
}
