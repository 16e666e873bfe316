package simulated

import (
	"math"
	"math/rand/v2"
	"testing"

	"sensito/sensito"
)

// ClassNames names the classes of films, a letter each. The fitted family holds those
// of classes a and b.
const ClassNames = "abcdef"

// ClassTitles says what the films of each class are.
var ClassTitles = [len(ClassNames)]string{"toe and line", "toe, line, shoulder", "two emulsions", "generalised logistic", "three grain sizes", "upswept"}

// Between draws a number from lo to hi.
func Between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// Bed returns the calibration of a scanner that repeats to 0.006 and whose common error has
// the directions given: in density, in its scale, and in its square.
func Bed(name string, directions ...[3]float64) sensito.Calibration {
	c := sensito.Calibration{Name: name, Repeatability: 0.006}
	for _, d := range directions {
		for i := range d {
			for j := range d {
				c.Covariance[i][j] += d[i] * d[j]
			}
		}
	}
	return c
}

// Practice is how films are, and how carefully they are exposed and read.
type Practice struct {
	toe      [2]float64 // roundness of a corner, log H
	soft     [2]float64 // spread of the speeds of grains in one layer, log H
	gradient [2]float64 // mean gradient over 1.50 log H
	inside   [2]float64 // of the speed point from the faint end of the wedge, log H
	BaseRead []int      // how often base plus fog is read
	Kit
}

// Kit is a step wedge and a densitometer.
type Kit struct {
	Steps int
	Step  float64
	Noise float64 // of one reading, besides rounding
}

// Reach returns how far the steps of the wedge lie apart in all.
func (k Kit) Reach() float64 { return float64(k.Steps-1) * k.Step }

// Usual is a wedge of half-stop steps and a fair densitometer.
var Usual = Kit{Steps: 21, Step: 0.15, Noise: 0.01}

var (
	// Ordinary practice: film exposed so that the speed point lies four to eight
	// steps inside the wedge, and its base plus fog read twice.
	Ordinary = Practice{toe: [2]float64{0.06, 0.20}, soft: [2]float64{0.4, 0.6}, gradient: [2]float64{0.5, 0.8},
		inside: [2]float64{0.6, 1.2}, BaseRead: []int{2}, Kit: Usual}

	// Reaching is ordinary practice for scenes: the speed point lies three to six
	// steps inside, so that the wedge reaches over seven stops.
	Reaching = Practice{toe: Ordinary.toe, soft: Ordinary.soft, gradient: Ordinary.gradient,
		inside: [2]float64{0.45, 0.90}, BaseRead: []int{2}, Kit: Usual}

	// Careless practice: long toes, speed points down to two steps inside the wedge, base
	// plus fog read twice or never.
	Careless = Practice{toe: [2]float64{0.06, 0.25}, soft: [2]float64{0.5, 0.8}, gradient: [2]float64{0.4, 0.9},
		inside: [2]float64{0.35, 1.0}, BaseRead: []int{2, 0}, Kit: Usual}
)

// Among draws a number from the first end to the second.
func Among(r *rand.Rand, ends [2]float64) float64 { return Between(r, ends[0], ends[1]) }

// emulsion draws the layers of a film of a class, their amplitudes to be scaled.
func (p Practice) emulsion(r *rand.Rand, class int) []Layer {
	toe := func() float64 { return Among(r, p.toe) }
	switch ClassNames[class] {
	case 'a':
		return []Layer{{Shape: Cornered, Amplitude: 1, Width: toe()}}
	case 'b':
		return []Layer{{Shape: Shouldered, Amplitude: 1, Width: toe(), Span: Between(r, 1.3, 2.2), SpanWidth: Between(r, 0.08, 0.30)}}
	case 'c':
		share, apart, shape := Between(r, 0.2, 0.8), Between(r, 0.2, 0.7), []LayerShape{Cornered, Logistic, Normal}[r.IntN(3)]
		layers := []Layer{{Shape: shape, Amplitude: share}, {Shape: shape, Amplitude: 1 - share, At: apart}}
		for i := range layers {
			l := &layers[i]
			switch shape {
			case Cornered:
				l.Width = toe()
			case Logistic:
				l.Width = Between(r, 0.20, 0.28)
				l.Amplitude *= 4 * l.Width // shares are of gamma
			case Normal:
				l.Width = Among(r, p.soft)
				l.Amplitude *= math.Sqrt(2*math.Pi) * l.Width
			}
		}
		return layers
	case 'd':
		return []Layer{{Shape: Skewed, Amplitude: 1, Width: Between(r, 0.08, 0.25), SpanWidth: Between(r, 0.4, 0.8)}}
	case 'e':
		var layers []Layer
		at := 0.0
		for range 3 {
			layers = append(layers, Layer{Shape: Normal, Amplitude: Between(r, 0.5, 1), At: at, Width: Between(r, 0.35, 0.55)})
			at += Between(r, 0.35, 0.65)
		}
		return layers
	case 'f':
		return []Layer{{Shape: Upswept, Amplitude: 1, Width: toe(), Bend: Between(r, 0.05, 0.20)}}
	}
	panic("no such class")
}

// Film draws a film of a class, developed once.
func (p Practice) Film(r *rand.Rand, class int) Film {
	f := Film{Base: Between(r, 0.08, 0.35), Layers: p.emulsion(r, class)}
	aim := 1.5 * Among(r, p.gradient)
	gain := Bisect(0.01, 50, func(g float64) float64 { return f.Scaled(func(int) float64 { return g }).Rise(1.5) - aim })
	f = f.Scaled(func(int) float64 { return gain })
	return f.Moved(Among(r, p.inside) - f.SpeedPoint())
}

// Strip draws a film of a class and a bench, and returns the strip read there.
func (p Practice) Strip(t testing.TB, r *rand.Rand, class int) (Film, Bench, *sensito.Strip) {
	f, b := p.Film(r, class), p.Bench(r)
	return f, b, b.Trial(t, b.Read(r, f)).Strips()[0]
}
