// Package sigmoid knows forms of curve that run from one level to another: for paper, which
// always runs from white to black, and for films that are read so well that the forms of
// film may not do.
//
// Begin with Form.At.
package sigmoid

import "math"

// Form is a form of curve. Its parameters begin with the density of white and the
// logarithm of the net density of black; the others say how the curve gets from 0 to 1.
type Form int

const (
	// ToeFirst is a corner at the toe whose rise runs into a shoulder:
	// y = bend(x - place, toe), F = 1 - L(k - y/shoulder) / L(k), with
	// L(z) = ln(1 + exp z). The corners are k times the width of the shoulder
	// apart; with k small it is a generalised logistic (Richards, J. Exp. Bot.
	// 10, 290, 1959).
	ToeFirst Form = iota
	// ShoulderFirst is ToeFirst turned about: a corner at the shoulder whose
	// fall runs into a toe. k is in widths of the toe.
	ShoulderFirst
	// EvenSweep is F = 1/(1 + exp(-g)) with a rising cubic
	// g = v + a v^2 + (a^2/3 + b) v^3, v = (x - place) / width: grains of
	// normally distributed speeds (a = 0), and corners of unequal sharpness.
	EvenSweep
	// LongToe is F = 1 - exp(-exp v), to which ToeFirst tends with a corner far
	// out (Gompertz's curve turned about), and LongShoulder F = exp(-exp(-v)).
	LongToe
	LongShoulder
	// TwoLayers is the sum of two logistics, the second of a share of the net
	// density, as of a paper coated with emulsions of unequal speed.
	TwoLayers
)

// The parameters of a form.
const (
	White = iota
	LnNet
	Place    // of the corner, of the whole, or of the first layer
	Toe      // width of the toe, of the whole, or of the first layer
	K        // of a cornered form
	Shoulder // width of the shoulder

	Skew   = K        // a of EvenSweep
	Cube   = Shoulder // b of EvenSweep
	Place2 = K        // of TwoLayers
	Width2 = Shoulder // of TwoLayers
	Share  = Shoulder + 1
)

// LeastK makes a cornered form a generalised logistic to one part in 800.
const LeastK = -6

// Names returns the names of the parameters.
func (f Form) Names() []string {
	switch f {
	case EvenSweep:
		return []string{"base", "ln_net", "place", "width", "skew", "cube"}
	case LongToe, LongShoulder:
		return []string{"base", "ln_net", "place", "width"}
	case TwoLayers:
		return []string{"base", "ln_net", "place", "width", "place_2", "width_2", "share_2"}
	}
	return []string{"base", "ln_net", "corner", "toe_width", "span_in_widths", "shoulder_width"}
}

// Params returns how many parameters there are.
func (f Form) Params() int { return len(f.Names()) }

func (f Form) String() string {
	if f == TwoLayers {
		return "two layers"
	}
	return "toe, line and shoulder"
}

// logistic returns 1/(1 + exp(-z)) and ln(1 + exp z), without overflow.
func logistic(z float64) (share, area float64) {
	e := math.Exp(-math.Abs(z))
	area = math.Max(z, 0) + math.Log1p(e)
	if z < 0 {
		return e / (1 + e), area
	}
	return 1 / (1 + e), area
}

// At returns how far the form is on its way from white to black at x, and how
// fast it goes. Unless grad is nil, it stores there the derivatives of the way
// by the parameters from Place on.
func (f Form) At(p []float64, x float64, grad []float64) (share, slope float64) {
	if f == TwoLayers {
		w := p[Share]
		a, slopeA := layerAt(p[Place], p[Toe], x)
		b, slopeB := layerAt(p[Place2], p[Width2], x)
		if grad != nil {
			grad[0], grad[1] = -(1-w)*slopeA, -(1-w)*slopeA*(x-p[Place])/p[Toe]
			grad[2], grad[3] = -w*slopeB, -w*slopeB*(x-p[Place2])/p[Width2]
			grad[4] = b - a
		}
		return (1-w)*a + w*b, (1-w)*slopeA + w*slopeB
	}
	switch f {
	case LongToe, LongShoulder:
		v := (x - p[Place]) / p[Toe]
		if f == LongToe {
			v = -v
		}
		share = math.Exp(-math.Exp(-v))
		slope = math.Exp(-v-math.Exp(-v)) / p[Toe]
		if grad != nil {
			grad[0], grad[1] = -slope, -slope*(x-p[Place])/p[Toe]
		}
		if f == LongToe {
			share = 1 - share
		}
		return share, slope
	case EvenSweep:
		v, a := (x-p[Place])/p[Toe], p[Skew]
		cube := a*a/3 + p[Cube]
		share, _ = logistic(v + a*v*v + cube*v*v*v)
		steep := share * (1 - share)
		slope = steep * (1 + 2*a*v + 3*cube*v*v) / p[Toe]
		if grad != nil {
			grad[0], grad[1] = -slope, -slope*v
			grad[2], grad[3] = steep*(v*v+2*a/3*v*v*v), steep*v*v*v
		}
		return share, slope
	}
	inner, outer, sign := p[Toe], p[Shoulder], 1.0
	if f == ShoulderFirst {
		inner, outer, sign = outer, inner, -1
	}
	u, ratio := sign*(x-p[Place]), inner/outer
	rises, y := logistic(u / inner)
	full, whole := logistic(p[K])
	falls, left := logistic(p[K] - y*ratio)
	left /= whole // what is left of the way, seen from the corner
	slope = falls * rises / (outer * whole)
	if grad != nil {
		byInner := (u*rises/inner - y) * falls / (outer * whole)
		byOuter := y * ratio * falls / (outer * whole)
		byK := (falls - left*full) / whole
		grad[0], grad[1], grad[2], grad[3] = -slope, -byInner, -byK, -byOuter
		if f == ShoulderFirst {
			grad[1], grad[2], grad[3] = byOuter, byK, byInner
		}
	}
	if f == ShoulderFirst {
		return left, slope
	}
	return 1 - left, slope
}

// layerAt returns a logistic and its slope.
func layerAt(place, width, x float64) (share, slope float64) {
	share, _ = logistic((x - place) / width)
	return share, share * (1 - share) / width
}
