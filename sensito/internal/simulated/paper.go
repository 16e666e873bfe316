package simulated

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// Paper is a paper of known shape: Way runs from 0 to 1, and is stretched so that the
// paper has the log exposure range given.
type Paper struct {
	Name         string
	Way          func(u float64) float64
	White, Black float64
	LogRange     float64
}

// Sigmoid is the logistic function.
func Sigmoid(u float64) float64 { return 1 / (1 + math.Exp(-u)) }

// Corners is a line with round corners, toe and shoulder, from u = 0 to 1.
func Corners(toe, shoulder float64) func(float64) float64 {
	return func(u float64) float64 { return Corner(u, toe) - Corner(u-1, shoulder) }
}

// Richards is the generalised logistic with the given asymmetry.
func Richards(nu float64) func(float64) float64 {
	return func(u float64) float64 { return math.Pow(1+nu*math.Exp(-u), -1/nu) }
}

// PaperShapes are forms of curve that papers have, most of them not of the
// fitted family.
var PaperShapes = []Paper{
	{Name: "round corners", Way: Corners(0.10, 0.10)},
	{Name: "sharp corners", Way: Corners(0.05, 0.05)},
	{Name: "sharp toe, round shoulder", Way: Corners(0.12, 0.14)},
	{Name: "round toe, sharp shoulder", Way: Corners(0.14, 0.12)},
	{Name: "logistic", Way: Sigmoid},
	{Name: "normal", Way: func(u float64) float64 { return math.Erfc(-u/math.Sqrt2) / 2 }},
	{Name: "Gompertz", Way: func(u float64) float64 { return math.Exp(-math.Exp(-u)) }},
	{Name: "Gompertz reversed", Way: func(u float64) float64 { return -math.Expm1(-math.Exp(u)) }},
	{Name: "Richards, long shoulder", Way: Richards(0.5)},
	{Name: "Richards, long toe", Way: Richards(2)},
	{Name: "long shoulder", Way: func(u float64) float64 { return -math.Expm1(-Corner(u, 0.15)) }},
	{Name: "warm tone, long toe", Way: func(u float64) float64 { return 0.25*Sigmoid(u) + 0.75*Sigmoid(2.5*(u-1)) }},
	{Name: "two emulsions", Way: func(u float64) float64 { return 0.5*Sigmoid(u) + 0.5*Sigmoid(u-1.5) }},
	{Name: "three emulsions", Way: func(u float64) float64 { return 0.4*Sigmoid(u) + 0.3*Sigmoid(u-1) + 0.3*Sigmoid(u-2.5) }},
}

// Of returns the shape for a log exposure range.
func (p Paper) Of(logRange float64) Paper {
	p.White, p.Black, p.LogRange = 0.06, 2.05, logRange
	return p
}

func (p Paper) where(way float64) float64 {
	return Bisect(-40, 40, func(u float64) float64 { return p.Way(u) - way })
}

// Scale returns the log exposure of one unit of the shape; T is at log H 0.
func (p Paper) Scale() float64 {
	return p.LogRange / (p.where(0.90) - p.where(0.04/(p.Black-p.White)))
}

// Density returns the density at an exposure.
func (p Paper) Density(h float64) float64 {
	return p.White + (p.Black-p.White)*p.Way(h/p.Scale()+p.where(0.04/(p.Black-p.White)))
}

// SpeedPoint returns the exposure of a density 0.60 above white.
func (p Paper) SpeedPoint() float64 {
	return Bisect(-2, 4, func(h float64) float64 { return p.Density(h) - p.White - 0.60 })
}

// Read returns a trial of the paper on a wedge of at least 21 steps from white
// to black, its first step so far beyond a whole number of steps from T. Noise
// below zero means readings that are exact, not even rounded.
func (p Paper) Read(t testing.TB, r *rand.Rand, step, noise float64) *sensito.Trial {
	t.Helper()
	reading := func(d float64) sensito.Density {
		if noise < 0 {
			return sensito.Density(d)
		}
		return sensito.Density(math.Max(0, math.Round((d+noise*r.NormFloat64())*100)/100))
	}
	nearlyBlack := Bisect(-2, 9, func(h float64) float64 { return p.Density(h) - p.White - 0.998*(p.Black-p.White) })
	first := -0.45 - step*r.Float64()
	count := int((nearlyBlack-first)/step) + 2
	if count < 21 {
		first -= step * float64((21-count)/2)
		count = 21
	}
	var logH []sensito.LogExposure
	s := sensito.StripSpec{Grade: "2"}
	for i := range count {
		h := first + step*float64(i)
		logH = append(logH, sensito.LogExposure(h))
		s.Density = append(s.Density, reading(p.Density(h)))
	}
	s.BaseFog = []sensito.Density{reading(p.White), reading(p.White)}
	e, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	return PaperTrial(t, e, s)
}

// PaperTrial returns strips of a paper as a trial.
func PaperTrial(t testing.TB, e sensito.Exposures, strips ...sensito.StripSpec) *sensito.Trial {
	t.Helper()
	trial, err := sensito.NewTrial(sensito.TrialSpec{Material: sensito.PaperMaterial, Film: sensito.Film{Name: "Slate"}, Exposures: e, Strips: strips})
	require.NoError(t, err)
	return trial
}

// Cut returns a trial of the paper on a wedge whose faintest and densest steps
// are exposed to shares of the way from white to black.
func (p Paper) Cut(t testing.TB, r *rand.Rand, step, from, to float64, whiteRead bool) *sensito.Trial {
	t.Helper()
	reading := func(d float64) sensito.Density {
		return sensito.Density(math.Max(0, math.Round((d+0.01*r.NormFloat64())*100)/100))
	}
	at := func(share float64) float64 {
		return Bisect(-9, 9, func(h float64) float64 { return p.Density(h) - p.White - share*(p.Black-p.White) })
	}
	var logH []sensito.LogExposure
	s := sensito.StripSpec{Grade: "2"}
	for h := at(to); h > at(from)-step || len(logH) < 7; h -= step {
		logH = append(logH, sensito.LogExposure(h))
		s.Density = append(s.Density, reading(p.Density(h)))
	}
	if whiteRead {
		s.BaseFog = []sensito.Density{reading(p.White), reading(p.White)}
	}
	e, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	return PaperTrial(t, e, s)
}
