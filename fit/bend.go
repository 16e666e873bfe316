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

// Names returns the names of the parameters of the form, in order. They are the same list
// for all who ask, and not to be changed.
func (f BendForm) Names() []string { return bendNames[f] }

var bendNames = [...][]string{
	ToeLine:     {"base", "ln_gradient", "toe", "toe_width"},
	ToeCurve:    {"base", "ln_gradient", "toe", "toe_width", "ln_power"},
	ToeShoulder: {"base", "ln_gradient", "toe", "toe_width", "ln_toe_to_shoulder", "shoulder_width"},
}

// leastWidth keeps a curve a curve for parameters that a draw from their error
// has pushed below zero.
const leastWidth = 1e-6

// mostBendParams is the number of parameters of the form that has most.
const mostBendParams = 6

// Params returns the number of parameters of the form.
func (f BendForm) Params() int { return len(bendNames[f]) }

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

// softplus returns w*ln(1+exp(u/w)), for w > 0, and its derivative by u,
// without overflow.
func softplus(u, w float64) (s, slope float64) {
	t := math.Abs(u) / w
	var y, fall float64 // ln(1+exp(-t)), and how it falls
	if t < tailFrom {
		p := cornerPlace(t)
		y, fall = p.value(), p.fall()
	} else {
		e := math.Exp(-t)
		y, fall = tailValue(e), tailFall(e)
	}
	if u < 0 {
		return w * y, fall
	}
	return u + w*y, 1 - fall
}

// softplusValue returns softplus alone, and softplusSlope its derivative: half of the work.
func softplusValue(u, w float64) float64 {
	t := math.Abs(u) / w
	var y float64
	if t < tailFrom {
		y = cornerPlace(t).value()
	} else {
		y = tailValue(math.Exp(-t))
	}
	if u < 0 {
		return w * y
	}
	return u + w*y
}

func softplusSlope(u, w float64) float64 {
	t := math.Abs(u) / w
	var fall float64
	if t < tailFrom {
		fall = cornerPlace(t).fall()
	} else {
		fall = tailFall(math.Exp(-t))
	}
	if u < 0 {
		return fall
	}
	return 1 - fall
}

// tailValue and tailFall return ln(1+e) for e so small that four terms of its series are
// right to the last place, and how it falls.
func tailValue(e float64) float64 { return e * (1 - e*(1./2-e*(1./3-e/4))) }
func tailFall(e float64) float64  { return e / (1 + e) }

// tailFrom is where the four terms of the series in exp(-t) suffice. Below it are
// Taylor's polynomials, so many a unit: the first term left out is 5e-17 of the slope.
const tailFrom, cornersPerUnit = 9.25, 32

// corner holds, for every place of ln(1+exp(-t)), the coefficients of its polynomial.
var corner = func() (c [tailFrom*cornersPerUnit + 1][8]float64) {
	for k := range c {
		e := math.Exp(-float64(k) / cornersPerUnit)
		c[k][0] = math.Log1p(e)
		// Its fall q solves q' = q^2 - q, which gives the powers of q one by one.
		var q [len(c[k])]float64
		q[0] = e / (1 + e)
		for n := range len(q) - 1 {
			var square float64
			for i := range n + 1 {
				square += q[i] * q[n-i]
			}
			q[n+1] = (square - q[n]) / float64(n+1)
			c[k][n+1] = -q[n] / float64(n+1)
		}
	}
	return c
}()

// nearCorner is a place 0 <= t < tailFrom by the polynomial that is nearest.
type nearCorner struct {
	c         *[8]float64
	d, d2, d4 float64 // from the middle of the polynomial, and powers
}

func cornerPlace(t float64) nearCorner {
	k := int(t*cornersPerUnit + 0.5)
	d := t - float64(k)/cornersPerUnit
	return nearCorner{&corner[k], d, d * d, d * d * (d * d)}
}

// value returns ln(1+exp(-t)), and fall minus its derivative. Both take half the time of a
// logarithm and an exponential.
func (p nearCorner) value() float64 {
	c, d, d2, d4 := p.c, p.d, p.d2, p.d4
	return c[0] + c[1]*d + d2*(c[2]+c[3]*d) + d4*(c[4]+c[5]*d+d2*(c[6]+c[7]*d))
}

func (p nearCorner) fall() float64 {
	c, d, d2, d4 := p.c, p.d, p.d2, p.d4
	return -(c[1] + 2*c[2]*d + d2*(3*c[3]+4*c[4]*d) + d4*(5*c[5]+6*c[6]*d+7*c[7]*d2))
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
	y := softplusValue(x-b.Toe, b.ToeWidth)
	if b.Power != 1 {
		y, _ = power(y, b.Power)
	}
	if b.ShoulderWidth > 0 {
		y -= softplusValue(x-b.Shoulder, b.ShoulderWidth)
	}
	return b.Base + b.Gradient*y
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
