// Package encoded turns encoded values of a picture, 0 to 1, into light.
//
// Begin with By, which returns the light of a value by an encoding that is told.
package encoded

import (
	"fmt"
	"math"
	"strconv"
)

const full = math.MaxUint16 // as values of an image have it

// Encodings that may be told of a picture; a number above 0, the exponent of light, is one too.
const (
	Any    = "auto" // any rising curve, which "" is too: that of the tablet
	Linear = "linear"
	SRGB   = "srgb"
)

// By returns the light of an encoded value, 0 to 1, by an encoding that is told; nil
// for Any. A number is the exponent: 2.2 for light = v^2.2.
func By(name string) (func(v float64) float64, error) {
	switch name {
	case Any, "":
		return nil, nil
	case Linear:
		return func(v float64) float64 { return v }, nil
	case SRGB:
		return DecodeSRGB, nil
	}
	e, err := strconv.ParseFloat(name, 64)
	if err != nil || !(e >= 0.2 && e <= 5) {
		return nil, fmt.Errorf("encoding %q is not auto, linear, srgb or an exponent from 0.2 to 5", name)
	}
	return func(v float64) float64 { return math.Pow(v, e) }, nil
}

// Tabled returns decode as read off a table of the values that a file may have, straight in between:
// a picture has millions.
func Tabled(decode func(float64) float64) func(v float64) float64 {
	t := make([]float64, full+2)
	for i := range full + 1 {
		t[i] = decode(float64(i) / full)
	}
	t[full+1] = t[full]
	return func(v float64) float64 {
		x := v * full
		i := int(x)
		return t[i] + (x-float64(i))*(t[i+1]-t[i])
	}
}

// Table returns the light of each of the values of an image.
func Table(decode func(float64) float64) []float32 {
	t := make([]float32, full+1)
	for i := range t {
		t[i] = float32(decode(float64(i) / full))
	}
	return t
}

// The curve of sRGB (IEC 61966-2-1): a straight line up to an encoded value, then a power of light less an offset.
const (
	straightSRGB, straightTo = 12.92, 0.04045
	offsetSRGB, powerSRGB    = 0.055, 1 / 2.4
)

// DecodeSRGB returns the light of an encoded value.
func DecodeSRGB(v float64) float64 {
	if v <= straightTo {
		return v / straightSRGB
	}
	return math.Pow((v+offsetSRGB)/(1+offsetSRGB), 1/powerSRGB)
}

// EncodeSRGB returns the encoded value of light.
func EncodeSRGB(light float64) float64 {
	if light <= straightTo/straightSRGB {
		return light * straightSRGB
	}
	return (1+offsetSRGB)*math.Pow(light, powerSRGB) - offsetSRGB
}

// Elasticity returns the slope of ln EncodeSRGB against ln light, and how it changes with that.
func Elasticity(light float64) (by, change float64) {
	if light <= straightTo/straightSRGB {
		return 1, 0
	}
	v := EncodeSRGB(light)
	by = powerSRGB * (v + offsetSRGB) / v
	return by, -powerSRGB * offsetSRGB * by / v
}
