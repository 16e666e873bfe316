package smooth

// Spline is a rising cubic spline on evenly spaced knots that starts level: far
// to the left it has the value Coef[0], to the right of its knots it goes on
// straight. It is a sum of cubic B-splines (de Boor, A Practical Guide to
// Splines, 1978), whose coefficients do not fall, so neither does the curve.
type Spline struct {
	First, Step float64   // the first knot and the distance between knots
	Coef        []float64 // three more than there are intervals; the first three are equal
}

// Last returns the last knot.
func (s Spline) Last() float64 { return s.First + float64(len(s.Coef)-3)*s.Step }

// AtSlope returns the curve's value and derivative at x.
func (s Spline) AtSlope(x float64) (y, slope float64) {
	last := s.Last()
	if x <= last {
		return s.inside(x)
	}
	y, slope = s.inside(last)
	return y + slope*(x-last), slope
}

// At returns the curve's value at x.
func (s Spline) At(x float64) float64 {
	y, _ := s.AtSlope(x)
	return y
}

// SlopeAt returns the derivative of the curve at x.
func (s Spline) SlopeAt(x float64) float64 {
	_, slope := s.AtSlope(x)
	return slope
}

// inside returns value and slope at x, which is not to the right of the knots.
func (s Spline) inside(x float64) (y, slope float64) {
	if x <= s.First {
		return s.Coef[0], 0
	}
	i, b, d := s.basis(x)
	for j := range 4 {
		y += b[j] * s.Coef[i+j]
		slope += d[j] * s.Coef[i+j]
	}
	return y, slope
}

// basis returns the four B-splines that are not zero at x, with their slopes,
// and the index of the first.
func (s Spline) basis(x float64) (i int, b, d [4]float64) {
	u := (x - s.First) / s.Step
	i = min(max(int(u), 0), len(s.Coef)-4)
	u -= float64(i)
	v := 1 - u
	b = [4]float64{v * v * v / 6, (3*u*u*u - 6*u*u + 4) / 6, (3*v*v*v - 6*v*v + 4) / 6, u * u * u / 6}
	d = [4]float64{-v * v / 2, (3*u*u - 4*u) / 2, -(3*v*v - 4*v) / 2, u * u / 2}
	for j := range d {
		d[j] /= s.Step
	}
	return i, b, d
}
