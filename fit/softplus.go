package fit

import "math"

// softplus returns w*ln(1+exp(u/w)), for w > 0, and its derivative by u,
// without overflow.
func softplus(u, w float64) (s, slope float64) {
	t := math.Abs(u) / w
	var y, fall float64 // ln(1+exp(-t)), and how it falls
	if t < tailFrom {
		y, fall = nearCorner(t)
	} else { // a series, right to the last place
		e := math.Exp(-t)
		y = e * (1 - e*(1./2-e*(1./3-e/4)))
		fall = e / (1 + e)
	}
	if u < 0 {
		return w * y, fall
	}
	return u + w*y, 1 - fall
}

// softplusSlope returns the derivative of softplus alone.
func softplusSlope(u, w float64) float64 {
	_, slope := softplus(u, w)
	return slope
}

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

// nearCorner returns ln(1+exp(-t)) for 0 <= t < tailFrom, and minus its derivative. It
// takes half the time of a logarithm and an exponential.
func nearCorner(t float64) (y, fall float64) {
	k := int(t*cornersPerUnit + 0.5)
	c := &corner[k]
	d := t - float64(k)/cornersPerUnit
	d2 := d * d
	d4 := d2 * d2
	y = c[0] + c[1]*d + d2*(c[2]+c[3]*d) + d4*(c[4]+c[5]*d+d2*(c[6]+c[7]*d))
	fall = c[1] + 2*c[2]*d + d2*(3*c[3]+4*c[4]*d) + d4*(5*c[5]+6*c[6]*d+7*c[7]*d2)
	return y, -fall
}
