package simulated

import (
	"math"

	"sensito/fit"
)

// LayerShape is a form of curve that a layer has.
type LayerShape int

// The forms of curve that layers have.
const (
	Cornered   LayerShape = iota // a round corner and a line: w ln(1 + exp(u/w))
	Shouldered                   // the same with a second corner span further on
	Logistic                     // a layer that saturates
	Normal                       // a layer of grains with normally distributed speeds
	Skewed                       // generalised logistic, a short toe and a long shoulder
	Upswept                      // a corner and a line that bends upwards by bend per unit
)

// Layer is one emulsion, or one class of grains in it. Its amplitude is a slope
// or a greatest density, as its shape has it.
type Layer struct {
	Shape                LayerShape
	Amplitude, At, Width float64
	Span, SpanWidth      float64 // of the shoulder
	Bend                 float64
}

// Corner is a line of slope 1 from u = 0 whose start is rounded over w.
func Corner(u, w float64) float64 {
	if u > 30*w {
		return u
	}
	return w * math.Log1p(math.Exp(u/w))
}

func (l Layer) net(x float64) float64 {
	u := x - l.At
	switch l.Shape {
	case Cornered:
		return l.Amplitude * Corner(u, l.Width)
	case Shouldered:
		return l.Amplitude * (Corner(u, l.Width) - Corner(u-l.Span, l.SpanWidth))
	case Logistic:
		return l.Amplitude / (1 + math.Exp(-u/l.Width))
	case Normal:
		return l.Amplitude * math.Erfc(-u/l.Width/math.Sqrt2) / 2
	case Skewed: // decays as exp(u/Width) in the toe and exp(-u/SpanWidth) in the shoulder
		nu := l.Width / l.SpanWidth
		return l.Amplitude * math.Pow(1+nu*math.Exp(-u/l.SpanWidth), -1/nu)
	case Upswept:
		s := Corner(u, l.Width)
		return l.Amplitude * (s + l.Bend/2*s*s)
	}
	panic("no such shape")
}

// Film is a film developed once: its layers lie over its base plus fog. Exposures
// are log H; where a Bench reads it, they count from the faint end of the wedge.
type Film struct {
	Base   float64
	Layers []Layer
}

// Net returns the density above base plus fog.
func (f Film) Net(x float64) float64 {
	d := 0.0
	for _, l := range f.Layers {
		d += l.net(x)
	}
	return d
}

// Density returns the density, base plus fog included.
func (f Film) Density(x float64) float64 { return f.Base + f.Net(x) }

// Scaled returns the film with the amplitude of layer i times by(i).
func (f Film) Scaled(by func(i int) float64) Film {
	layers := append([]Layer(nil), f.Layers...)
	for i := range layers {
		layers[i].Amplitude *= by(i)
	}
	return Film{f.Base, layers}
}

// Moved returns the film that needs so much more exposure, in log H.
func (f Film) Moved(by float64) Film {
	layers := append([]Layer(nil), f.Layers...)
	for i := range layers {
		layers[i].At += by
	}
	return Film{f.Base, layers}
}

// Bisect returns where g, negative at lo and positive at hi, changes sign.
func Bisect(lo, hi float64, g func(float64) float64) float64 {
	for range 45 { // to 1e-12 from the widest bracket
		mid := (lo + hi) / 2
		if g(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// SpeedPoint returns the exposure of net density 0.10.
func (f Film) SpeedPoint() float64 {
	return Bisect(-8, 8, func(x float64) float64 { return f.Net(x) - 0.10 })
}

// FractionalPoint returns where the gradient of a net density is 0.3 of its mean over 1.5
// from there, near its speed point.
func FractionalPoint(net func(x float64) float64, speedPoint float64) float64 {
	const h = 1e-4
	return Bisect(speedPoint-1, speedPoint+0.6, func(x float64) float64 {
		return (net(x+h)-net(x-h))/(2*h) - 0.3*(net(x+1.5)-net(x))/1.5
	})
}

// FractionalPoint returns that of the film.
func (f Film) FractionalPoint() float64 { return FractionalPoint(f.Net, f.SpeedPoint()) }

// Rise returns the density gained over the distance r from the speed point.
func (f Film) Rise(r float64) float64 {
	m := f.SpeedPoint()
	return f.Net(m+r) - f.Net(m)
}

// ContrastIndex moves the foot of the ray until the directions to the points of a net density at
// the distances 0.20 and 2.20 are one.
func ContrastIndex(net func(x float64) float64) float64 {
	direction := func(foot, radius float64) float64 {
		x := Bisect(foot, foot+radius, func(x float64) float64 { return math.Hypot(x-foot, net(x)) - radius })
		return math.Atan2(net(x), x-foot)
	}
	top := Bisect(-8, 8, func(x float64) float64 { return net(x) - 0.2 })
	foot := Bisect(top-3, top, func(x float64) float64 { return direction(x, 0.2) - direction(x, 2.2) })
	return math.Tan(direction(foot, 2.2))
}

// ContrastIndex returns that of the film.
func (f Film) ContrastIndex() float64 { return ContrastIndex(f.Net) }

// ModelFilm is a film in the form of the fitted curve, speed point near log H -2.
func ModelFilm(gamma float64) Film {
	return Film{Base: 0.12, Layers: []Layer{{Shape: Cornered, Amplitude: gamma, At: -2.2, Width: 0.13}}}
}

// GammaAt returns the gamma of the films of a ModelTrial at a time.
func GammaAt(minutes float64) float64 { return 0.95 * (1 - math.Exp(-0.15*minutes)) }

// Growing is a film of toe and line that develops by first-order kinetics.
func Growing(at, rate, base float64) func(minutes float64) Film {
	return func(minutes float64) Film {
		return Film{Base: base, Layers: []Layer{{Shape: Cornered, Amplitude: -1.3 * math.Expm1(-rate*minutes), At: at, Width: 0.15}}}
	}
}

// TwoEmulsions is a film of two emulsions, of which no form is.
func TwoEmulsions(x float64) float64 {
	fast := fit.Bend{Gradient: 0.35, Toe: -2.3, ToeWidth: 0.13, Power: 1, Shoulder: -0.9, ShoulderWidth: 0.2}
	slow := fit.Bend{Gradient: 0.3, Toe: -2, ToeWidth: 0.15, Power: 1, Shoulder: -0.4, ShoulderWidth: 0.25}
	return 0.15 + fast.At(x) + slow.At(x)
}
