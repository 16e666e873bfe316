package curve

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
)

// sForm is a form of curve for paper, which always runs from white to black, and
// for films that are read so well that the forms of film may not do. Its
// parameters begin with the density of white and the logarithm of the net density
// of black; the others say how the curve gets from 0 to 1.
type sForm int

const (
	// toeFirst is a corner at the toe whose rise runs into a shoulder:
	// y = bend(x - place, toe), F = 1 - L(k - y/shoulder) / L(k), with
	// L(z) = ln(1 + exp z). The corners are k times the width of the shoulder
	// apart; with k small it is a generalised logistic (Richards, J. Exp. Bot.
	// 10, 290, 1959).
	toeFirst sForm = iota
	// shoulderFirst is toeFirst turned about: a corner at the shoulder whose
	// fall runs into a toe. k is in widths of the toe.
	shoulderFirst
	// evenSweep is F = 1/(1 + exp(-g)) with a rising cubic
	// g = v + a v^2 + (a^2/3 + b) v^3, v = (x - place) / width: grains of
	// normally distributed speeds (a = 0), and corners of unequal sharpness.
	evenSweep
	// longToe is F = 1 - exp(-exp v), to which toeFirst tends with a corner far
	// out (Gompertz's curve turned about), and longShoulder F = exp(-exp(-v)).
	longToe
	longShoulder
	// twoLayers is the sum of two logistics, the second of a share of the net
	// density, as of a paper coated with emulsions of unequal speed.
	twoLayers
)

// The parameters of a form.
const (
	sWhite = iota
	sLnNet
	sPlace    // of the corner, of the whole, or of the first layer
	sToe      // width of the toe, of the whole, or of the first layer
	sK        // of a cornered form
	sShoulder // width of the shoulder

	sSkew   = sK        // a of evenSweep
	sCube   = sShoulder // b of evenSweep
	sPlace2 = sK        // of twoLayers
	sWidth2 = sShoulder // of twoLayers
	sShare  = sShoulder + 1
)

func (f sForm) names() []string {
	switch f {
	case evenSweep:
		return []string{"base", "ln_net", "place", "width", "skew", "cube"}
	case longToe, longShoulder:
		return []string{"base", "ln_net", "place", "width"}
	case twoLayers:
		return []string{"base", "ln_net", "place", "width", "place_2", "width_2", "share_2"}
	}
	return []string{"base", "ln_net", "corner", "toe_width", "span_in_widths", "shoulder_width"}
}

func (f sForm) params() int { return len(f.names()) }

func (f sForm) String() string {
	if f == twoLayers {
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

// at returns how far the form is on its way from white to black at x, and how
// fast it goes. Unless grad is nil, it stores there the derivatives of the way
// by the parameters from sPlace on.
func (f sForm) at(p []float64, x float64, grad []float64) (share, slope float64) {
	if f == twoLayers {
		w := p[sShare]
		a, slopeA := layerAt(p[sPlace], p[sToe], x)
		b, slopeB := layerAt(p[sPlace2], p[sWidth2], x)
		if grad != nil {
			grad[0], grad[1] = -(1-w)*slopeA, -(1-w)*slopeA*(x-p[sPlace])/p[sToe]
			grad[2], grad[3] = -w*slopeB, -w*slopeB*(x-p[sPlace2])/p[sWidth2]
			grad[4] = b - a
		}
		return (1-w)*a + w*b, (1-w)*slopeA + w*slopeB
	}
	switch f {
	case longToe, longShoulder:
		v := (x - p[sPlace]) / p[sToe]
		if f == longToe {
			v = -v
		}
		share = math.Exp(-math.Exp(-v))
		slope = math.Exp(-v-math.Exp(-v)) / p[sToe]
		if grad != nil {
			grad[0], grad[1] = -slope, -slope*(x-p[sPlace])/p[sToe]
		}
		if f == longToe {
			share = 1 - share
		}
		return share, slope
	case evenSweep:
		v, a := (x-p[sPlace])/p[sToe], p[sSkew]
		cube := a*a/3 + p[sCube]
		share, _ = logistic(v + a*v*v + cube*v*v*v)
		steep := share * (1 - share)
		slope = steep * (1 + 2*a*v + 3*cube*v*v) / p[sToe]
		if grad != nil {
			grad[0], grad[1] = -slope, -slope*v
			grad[2], grad[3] = steep*(v*v+2*a/3*v*v*v), steep*v*v*v
		}
		return share, slope
	}
	inner, outer, sign := p[sToe], p[sShoulder], 1.0
	if f == shoulderFirst {
		inner, outer, sign = outer, inner, -1
	}
	u, ratio := sign*(x-p[sPlace]), inner/outer
	rises, y := logistic(u / inner)
	full, whole := logistic(p[sK])
	falls, left := logistic(p[sK] - y*ratio)
	left /= whole // what is left of the way, seen from the corner
	slope = falls * rises / (outer * whole)
	if grad != nil {
		byInner := (u*rises/inner - y) * falls / (outer * whole)
		byOuter := y * ratio * falls / (outer * whole)
		byK := (falls - left*full) / whole
		grad[0], grad[1], grad[2], grad[3] = -slope, -byInner, -byK, -byOuter
		if f == shoulderFirst {
			grad[1], grad[2], grad[3] = byOuter, byK, byInner
		}
	}
	if f == shoulderFirst {
		return left, slope
	}
	return 1 - left, slope
}

// layerAt returns a logistic and its slope.
func layerAt(place, width, x float64) (share, slope float64) {
	share, _ = logistic((x - place) / width)
	return share, share * (1 - share) / width
}

// sCurve is a curve of such a form over the exposures of a strip.
type sCurve struct {
	form   sForm
	params []float64
	lo, hi sensito.LogExposure
}

func (c sCurve) atSlope(x float64) (y, slope float64) {
	net := math.Exp(c.params[sLnNet])
	share, slope := c.form.at(c.params, x, nil)
	return c.params[sWhite] + net*share, net * slope
}

func (c sCurve) Density(h sensito.LogExposure) sensito.Density {
	y, _ := c.atSlope(float64(h))
	return sensito.Density(y)
}

func (c sCurve) Slope(h sensito.LogExposure) float64 {
	_, slope := c.atSlope(float64(h))
	return slope
}

func (c sCurve) BaseFog() sensito.Density { return sensito.Density(c.params[sWhite]) }
func (c sCurve) MaxDensity() sensito.Density {
	return sensito.Density(c.params[sWhite] + math.Exp(c.params[sLnNet]))
}
func (c sCurve) Domain() (lo, hi sensito.LogExposure) { return c.lo, c.hi }

func (c sCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return Inverse(c, c.atSlope, d)
}

// leastK makes a cornered form a generalised logistic to one part in 800.
const leastK = -6

// fitS fits a form to all readings.
func (r readings) fitS(s *fit.Solver, form sForm) (fit.Solution, bool) {
	n := form.params()
	reach := r.X[len(r.X)-1] - r.X[0]
	narrow := 0.05 * reach / float64(len(r.X)-1)
	const mostK, leastShare = 100, 0.02
	lower := []float64{math.Inf(-1), math.Log(0.01), r.X[0] - 2*reach, narrow, leastK, narrow}
	upper := []float64{math.Inf(1), math.Log(20), r.X[len(r.X)-1] + 2*reach, reach, mostK, reach}
	lower, upper = lower[:min(n, len(lower))], upper[:min(n, len(upper))]
	var priors [2]fit.Prior
	of := [2]int{sToe, sShoulder}
	switch form {
	case longToe, longShoulder:
	case evenSweep:
		lower[sSkew], upper[sSkew] = -1, 1
		lower[sCube], upper[sCube] = 0, 1
	case twoLayers:
		lower[sPlace2], upper[sPlace2] = lower[sPlace], upper[sPlace]
		lower, upper = append(lower, leastShare), append(upper, 1-leastShare)
	default:
		priors = [2]fit.Prior{r.ToeWidth, r.ShoulderWidth}
	}
	k := len(r.X) + len(r.Base)
	problem := fit.Problem{M: k + len(priors), N: n, Lower: lower, Upper: upper, Eval: func(p, out, jac []float64) {
		net := math.Exp(p[sLnNet])
		clear(jac)
		for i, x := range r.X {
			var grad []float64
			if jac != nil {
				grad = jac[i*n+sPlace : (i+1)*n]
			}
			share, _ := form.at(p, x, grad)
			out[i] = (p[sWhite] + net*share - r.Y[i]) / r.Sigma
			if jac != nil {
				for j := range grad {
					grad[j] *= net / r.Sigma
				}
				jac[i*n+sWhite], jac[i*n+sLnNet] = 1/r.Sigma, net*share/r.Sigma
			}
		}
		for i, y := range r.Base {
			out[len(r.X)+i] = (p[sWhite] - y) / r.Sigma
			if jac != nil {
				jac[(len(r.X)+i)*n+sWhite] = 1 / r.Sigma
			}
		}
		for i, prior := range priors {
			out[k+i] = 1 // a constant, so that the search also ends where the rest vanishes
			if prior.LnSD > 0 {
				out[k+i] = math.Log(p[of[i]]/prior.Typical) / prior.LnSD
				if jac != nil {
					jac[(k+i)*n+of[i]] = 1 / (p[of[i]] * prior.LnSD)
				}
			}
		}
	}}
	var best fit.Solution
	found := false
	for _, start := range r.startsS(form) {
		sol := s.Solve(problem, start, fit.Options{MaxIter: 150, Tolerance: 1e-6})
		if sol.Status == fit.Converged && sol.Cov != nil && (!found || sol.RSS < best.RSS) {
			best, found = sol, true
		}
	}
	return best, found
}

// startsS returns first parameters of a form read off the readings.
func (r readings) startsS(form sForm) [][]float64 {
	bend := r.Start(fit.ToeShoulder, 0)
	white, gradient, toe, span := bend[0], math.Exp(bend[1]), bend[2], math.Exp(bend[4])
	net := math.Log(gradient * span)
	switch form {
	case evenSweep:
		return [][]float64{
			{white, net, toe + 0.5*span, span / 5, 0, 0.01},
			{white, net, toe + 0.4*span, span / 5, -0.1, 0.01},
			{white, net, toe + 0.6*span, span / 5, 0.1, 0.01},
		}
	case longToe:
		return [][]float64{{white, net, toe + span - span/math.E, span / math.E}}
	case longShoulder:
		return [][]float64{{white, net, toe + span/math.E, span / math.E}}
	case twoLayers:
		return [][]float64{
			{white, net, toe + 0.25*span, span / 8, toe + 0.75*span, span / 8, 0.5},
			{white, net, toe + 0.5*span, span / 6, toe + 0.5*span, span / 3, 0.3},
		}
	}
	// The steepest slope of Gompertz's curve is the whole over e widths, where
	// 1/e of the way is gone. A corner far out makes a curve like it; else the
	// corners are where line, white and black meet.
	const sharp = 8
	sweep := span / math.E
	if form == toeFirst {
		return [][]float64{
			{white, net, toe, 0.15 * span, 1 / 0.15, 0.15 * span},
			{white, net, toe + span - sweep + sweep*math.Log(sharp), sweep, leastK + 1, sweep / sharp},
		}
	}
	return [][]float64{
		{white, net, toe + span, 0.15 * span, 1 / 0.15, 0.15 * span},
		{white, net, toe + sweep - sweep*math.Log(sharp), sweep / sharp, leastK + 1, sweep},
	}
}
