package lighttable

import "math"

// A Device is how a scene is pictured. Light counts from 0, none, to 1, what the device can
// hold at most.
type Device struct {
	PerInch  float64
	Channels int       // 1, grey, or 3
	Open     float64   // light of clear glass
	Exposure float64   // times all light, 0 means 1
	Balance  []float64 // times the light of each channel, nil for alike
	Drift    float64   // standard deviation of the lamp from picture to picture, a part of it
	Uneven   float64   // how much darker the corners are than the middle, a part
	Tilt     float64   // how much darker the right edge is than the left, a part
	Blur     float64   // standard deviation on the glass, mm
	Soft     float64   // and in pixels, which adds in squares
	Glare    []Veil
	Offset   float64 // light in the dark; a negative one cuts the blacks
	Noise    float64 // standard deviation of a pixel in the dark
	Shot     float64 // and what the grain of light adds at light 1, with its square root

	Encode  func(light float64) float64 // nil is linear
	Sharpen float64                     // part of what a blur of 1.5 pixels takes away that is added after encoding
	Bits    int                         // 8 or 16
	JPEG    int                         // quality, 0 for none
}

// A Veil is glare: a share of the light that goes astray, with density
// (1+(r/s)²)^(-3/2)/(2πs²) at a distance r, so that half of it lies beyond 1.7 s.
type Veil struct{ Share, S float64 }

// Flatbed is a scanner with a lamp in its lid: 1 % of glare, a little of it far.
func Flatbed(perInch float64) Device {
	return Device{PerInch: perInch, Channels: 1, Open: 0.85, Drift: 0.004, Uneven: 0.01, Tilt: 0.005, Blur: 0.02, Soft: 0.5,
		Glare: []Veil{{0.005, 2}, {0.005, 15}}, Offset: 0.0005, Noise: math.Pow(10, -3.2), Shot: 0.003, Bits: 16}
}

// Camera is a camera over a light table: 1.5 % of glare, most of it far, and darker corners.
func Camera(perInch float64) Device {
	return Device{PerInch: perInch, Channels: 3, Open: 0.85, Drift: 0.002, Uneven: 0.04, Blur: 0.015, Soft: 0.7,
		Glare: []Veil{{0.004, 3}, {0.011, 30}}, Offset: 0.0003, Noise: math.Pow(10, -3.4), Shot: 0.006, Bits: 16}
}

// Power encodes light by an exponent, 1/2.2 for what is called gamma 2.2.
func Power(exponent float64) func(float64) float64 {
	return func(v float64) float64 { return math.Pow(v, exponent) }
}

// SRGB encodes light by the curve of IEC 61966-2-1.
func SRGB(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// SCurve encodes light as software does that makes pictures pleasing: SRGB, then darker shadows
// and lighter lights.
func SCurve(v float64) float64 {
	y := SRGB(v)
	return y - 0.5*math.Sin(2*math.Pi*y)/(2*math.Pi)
}
