package curve

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve/internal/sigmoid"
)

// sCurve is a curve that runs from one level to another, over the exposures of a strip.
type sCurve struct {
	form   sigmoid.Form
	params []float64
	lo, hi sensito.LogExposure
}

func (c sCurve) atSlope(x float64) (y, slope float64) {
	net := math.Exp(c.params[sigmoid.LnNet])
	share, slope := c.form.At(c.params, x, nil)
	return c.params[sigmoid.White] + net*share, net * slope
}

func (c sCurve) Density(h sensito.LogExposure) sensito.Density {
	y, _ := c.atSlope(float64(h))
	return sensito.Density(y)
}

func (c sCurve) Slope(h sensito.LogExposure) float64 {
	_, slope := c.atSlope(float64(h))
	return slope
}

func (c sCurve) BaseFog() sensito.Density { return sensito.Density(c.params[sigmoid.White]) }
func (c sCurve) MaxDensity() sensito.Density {
	return sensito.Density(c.params[sigmoid.White] + math.Exp(c.params[sigmoid.LnNet]))
}
func (c sCurve) Domain() (lo, hi sensito.LogExposure) { return c.lo, c.hi }

func (c sCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return Inverse(c, c.atSlope, d)
}

// fitS fits a form to all readings.
func (r readings) fitS(s *fit.Solver, form sigmoid.Form) (fit.Solution, bool) {
	n := form.Params()
	reach := r.X[len(r.X)-1] - r.X[0]
	narrow := 0.05 * reach / float64(len(r.X)-1)
	const mostK, leastShare = 100, 0.02
	lower := []float64{math.Inf(-1), math.Log(0.01), r.X[0] - 2*reach, narrow, sigmoid.LeastK, narrow}
	upper := []float64{math.Inf(1), math.Log(20), r.X[len(r.X)-1] + 2*reach, reach, mostK, reach}
	lower, upper = lower[:min(n, len(lower))], upper[:min(n, len(upper))]
	var priors [2]fit.Prior
	of := [2]int{sigmoid.Toe, sigmoid.Shoulder}
	switch form {
	case sigmoid.LongToe, sigmoid.LongShoulder:
	case sigmoid.EvenSweep:
		lower[sigmoid.Skew], upper[sigmoid.Skew] = -1, 1
		lower[sigmoid.Cube], upper[sigmoid.Cube] = 0, 1
	case sigmoid.TwoLayers:
		lower[sigmoid.Place2], upper[sigmoid.Place2] = lower[sigmoid.Place], upper[sigmoid.Place]
		lower, upper = append(lower, leastShare), append(upper, 1-leastShare)
	default:
		priors = [2]fit.Prior{r.ToeWidth, r.ShoulderWidth}
	}
	k := len(r.X) + len(r.Base)
	problem := fit.Problem{M: k + len(priors), N: n, Lower: lower, Upper: upper, Eval: func(p, out, jac []float64) {
		net := math.Exp(p[sigmoid.LnNet])
		clear(jac)
		for i, x := range r.X {
			var grad []float64
			if jac != nil {
				grad = jac[i*n+sigmoid.Place : (i+1)*n]
			}
			share, _ := form.At(p, x, grad)
			out[i] = (p[sigmoid.White] + net*share - r.Y[i]) / r.Sigma
			if jac != nil {
				for j := range grad {
					grad[j] *= net / r.Sigma
				}
				jac[i*n+sigmoid.White], jac[i*n+sigmoid.LnNet] = 1/r.Sigma, net*share/r.Sigma
			}
		}
		for i, y := range r.Base {
			out[len(r.X)+i] = (p[sigmoid.White] - y) / r.Sigma
			if jac != nil {
				jac[(len(r.X)+i)*n+sigmoid.White] = 1 / r.Sigma
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
func (r readings) startsS(form sigmoid.Form) [][]float64 {
	bend := r.Start(fit.ToeShoulder, 0)
	white, gradient, toe, span := bend[0], math.Exp(bend[1]), bend[2], math.Exp(bend[4])
	net := math.Log(gradient * span)
	switch form {
	case sigmoid.EvenSweep:
		return [][]float64{
			{white, net, toe + 0.5*span, span / 5, 0, 0.01},
			{white, net, toe + 0.4*span, span / 5, -0.1, 0.01},
			{white, net, toe + 0.6*span, span / 5, 0.1, 0.01},
		}
	case sigmoid.LongToe:
		return [][]float64{{white, net, toe + span - span/math.E, span / math.E}}
	case sigmoid.LongShoulder:
		return [][]float64{{white, net, toe + span/math.E, span / math.E}}
	case sigmoid.TwoLayers:
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
	if form == sigmoid.ToeFirst {
		return [][]float64{
			{white, net, toe, 0.15 * span, 1 / 0.15, 0.15 * span},
			{white, net, toe + span - sweep + sweep*math.Log(sharp), sweep, sigmoid.LeastK + 1, sweep / sharp},
		}
	}
	return [][]float64{
		{white, net, toe + span, 0.15 * span, 1 / 0.15, 0.15 * span},
		{white, net, toe + sweep - sweep*math.Log(sharp), sweep / sharp, sigmoid.LeastK + 1, sweep},
	}
}
