package fit

import "math"

// Bend is a curve made of a flat base, a line and, where ShoulderWidth is set,
// a flat top, joined by round corners:
//
//	y = Base + Gradient*(bend(x - Toe, ToeWidth)^Power - bend(x - Shoulder, ShoulderWidth))
//	bend(u, w) = w ln(1 + exp(u/w))
//
// The line is straight when Power is 1; it sweeps up when Power is larger and
// flattens when it is smaller. A curve has a shoulder or a power, not both.
type Bend struct {
	Base     float64 // y far to the left
	Gradient float64 // slope of the straight line, > 0
	Toe      float64 // x where line and base would meet
	ToeWidth float64 // roundness of that corner, in x, > 0
	Power    float64 // > 0

	// Of the upper corner; ShoulderWidth 0 means there is none.
	Shoulder      float64
	ShoulderWidth float64
}

// BendForm names the parts that a Bend has beyond toe and line.
type BendForm int

const (
	ToeLine     BendForm = iota // four parameters
	ToeCurve                    // five: the line has a power
	ToeShoulder                 // six: the line ends in a shoulder
)

// The curve is fitted in parameters that keep it a curve: gradient, power and
// the distance between the corners by their logarithms. The widths are
// parameters themselves, since the readings near a corner follow them
// proportionally, which keeps the errors derived from their covariance true.
const (
	bendBase = iota
	bendLnGradient
	bendToe
	bendToeWidth
	bendLnSpan        // ln(Shoulder - Toe), of ToeShoulder
	bendShoulderWidth // of ToeShoulder
)

const bendLnPower = 4 // of ToeCurve

// Names returns the names of the parameters of the form, in order.
func (f BendForm) Names() []string {
	names := []string{"base", "ln_gradient", "toe", "toe_width"}
	switch f {
	case ToeCurve:
		names = append(names, "ln_power")
	case ToeShoulder:
		names = append(names, "ln_toe_to_shoulder", "shoulder_width")
	}
	return names
}

// leastWidth keeps a curve a curve for parameters that a draw from their error
// has pushed below zero.
const leastWidth = 1e-6

// mostBendParams is the number of parameters of the form that has most.
const mostBendParams = 6

// Params returns the number of parameters of the form.
func (f BendForm) Params() int { return [...]int{4, 5, 6}[f] }

// Bend returns the curve for a parameter vector in the order of Names. It
// panics on another length.
func (f BendForm) Bend(p []float64) Bend {
	if len(p) != f.Params() {
		panic("fit: wrong number of parameters for the form of a bend")
	}
	b := Bend{Base: p[bendBase], Gradient: math.Exp(p[bendLnGradient]),
		Toe: p[bendToe], ToeWidth: math.Max(p[bendToeWidth], leastWidth), Power: 1}
	switch f {
	case ToeCurve:
		b.Power = math.Exp(p[bendLnPower])
	case ToeShoulder:
		b.Shoulder = b.Toe + math.Exp(p[bendLnSpan])
		b.ShoulderWidth = math.Max(p[bendShoulderWidth], leastWidth)
	}
	return b
}

// line returns what the line contributes for a gradient of 1, and its slope.
func (b Bend) line(x float64) (y, slope float64) {
	s, d := softplus(x-b.Toe, b.ToeWidth)
	if b.Power == 1 {
		return s, d
	}
	y, _ = power(s, b.Power)
	return y, b.Power * y * perHeight(s, d, b.ToeWidth)
}

// leastHeight is that of a softplus that has vanished, far to the left.
const leastHeight = 1e-290

// power returns s^p, for s >= 0 and p > 0, and ln s, both 0 where s has vanished.
func power(s, p float64) (y, lnS float64) {
	if s < leastHeight {
		return 0, 0
	}
	lnS = math.Log(s)
	return math.Exp(p * lnS), lnS
}

// perHeight returns the slope of a softplus over its height, which tends to 1/w
// far to the left where both vanish.
func perHeight(s, slope, w float64) float64 {
	if s < leastHeight {
		return 1 / w
	}
	return slope / s
}

// AtSlope returns the curve's value and derivative at x.
func (b Bend) AtSlope(x float64) (y, slope float64) {
	y, slope = b.line(x)
	if b.ShoulderWidth > 0 {
		s, d := softplus(x-b.Shoulder, b.ShoulderWidth)
		y -= s
		slope -= d
	}
	return b.Base + b.Gradient*y, b.Gradient * slope
}

// At returns the curve's value at x.
func (b Bend) At(x float64) float64 {
	y, _ := b.AtSlope(x)
	return y
}

// SlopeAt returns the derivative of the curve at x.
func (b Bend) SlopeAt(x float64) float64 {
	if b.Power != 1 {
		_, slope := b.AtSlope(x)
		return slope
	}
	slope := softplusSlope(x-b.Toe, b.ToeWidth)
	if b.ShoulderWidth > 0 {
		slope -= softplusSlope(x-b.Shoulder, b.ShoulderWidth)
	}
	return b.Gradient * slope
}
