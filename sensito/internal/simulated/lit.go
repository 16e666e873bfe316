package simulated

import (
	"math"

	"sensito/sensito"
)

// Lit is a scene as a film gets it: the meter is set so that an even tone shadow
// stops below the metered one lands on the speed point, and a veil, a fraction
// of the luminance of the lightest tone, adds to every tone.
type Lit struct{ stops, shadow, veil float64 }

// LitBy returns the scene under a flare; the veil of a fixed loss by bisection.
func LitBy(stops, shadow float64, flare sensito.Flare) Lit {
	s := Lit{stops: stops, shadow: shadow}
	switch flare.Kind {
	case sensito.FlareVeil:
		s.veil = flare.Value
	case sensito.FlareFixed, "":
		loss := flare.Value
		if loss == 0 {
			loss = 0.40
		}
		s.veil = Bisect(0, 1, func(v float64) float64 {
			return stops*math.Log10(2) - loss - math.Log10((1+v)/(math.Exp2(-stops)+v))
		})
	}
	return s
}

// Normally is the scene with the default flare and placement.
func Normally(stops float64) Lit { return LitBy(stops, 4, sensito.Flare{}) }

// Above returns how far above the speed point a tone lands, in log H.
func (s Lit) Above(tone float64) float64 {
	return s.shadow*math.Log10(2) + math.Log10(math.Exp2(tone)+s.veil*math.Exp2(s.stops-s.shadow))
}

// Ends returns where the darkest and the lightest tone land.
func (s Lit) Ends() (darkest, lightest float64) {
	return s.Above(-s.shadow), s.Above(s.stops - s.shadow)
}

// Spans returns the density between the darkest and the lightest tone of a
// scene.
func (f Film) Spans(s Lit) float64 {
	m := f.SpeedPoint()
	darkest, lightest := s.Ends()
	return f.Net(m+lightest) - f.Net(m+darkest)
}
