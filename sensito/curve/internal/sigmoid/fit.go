package sigmoid

import (
	"math"

	"sensito/fit"
)

// Fit fits the form to readings; ok says whether it could be. Of what is known beforehand
// the widths of the corners count, for forms that have both.
func (f Form) Fit(s *fit.Solver, r fit.BendData) (best fit.Solution, ok bool) {
	n := f.Params()
	reach := r.X[len(r.X)-1] - r.X[0]
	narrow := 0.05 * reach / float64(len(r.X)-1)
	const mostK, leastShare = 100, 0.02
	lower := []float64{math.Inf(-1), math.Log(0.01), r.X[0] - 2*reach, narrow, LeastK, narrow}
	upper := []float64{math.Inf(1), math.Log(20), r.X[len(r.X)-1] + 2*reach, reach, mostK, reach}
	lower, upper = lower[:min(n, len(lower))], upper[:min(n, len(upper))]
	var priors [2]fit.Prior
	of := [2]int{Toe, Shoulder}
	switch f {
	case LongToe, LongShoulder:
	case EvenSweep:
		lower[Skew], upper[Skew] = -1, 1
		lower[Cube], upper[Cube] = 0, 1
	case TwoLayers:
		lower[Place2], upper[Place2] = lower[Place], upper[Place]
		lower, upper = append(lower, leastShare), append(upper, 1-leastShare)
	default:
		priors = [2]fit.Prior{r.ToeWidth, r.ShoulderWidth}
	}
	k := len(r.X) + len(r.Base)
	problem := fit.Problem{M: k + len(priors), N: n, Lower: lower, Upper: upper, Eval: func(p, out, jac []float64) {
		net := math.Exp(p[LnNet])
		clear(jac)
		for i, x := range r.X {
			var grad []float64
			if jac != nil {
				grad = jac[i*n+Place : (i+1)*n]
			}
			share, _ := f.At(p, x, grad)
			out[i] = (p[White] + net*share - r.Y[i]) / r.Sigma
			if jac != nil {
				for j := range grad {
					grad[j] *= net / r.Sigma
				}
				jac[i*n+White], jac[i*n+LnNet] = 1/r.Sigma, net*share/r.Sigma
			}
		}
		for i, y := range r.Base {
			out[len(r.X)+i] = (p[White] - y) / r.Sigma
			if jac != nil {
				jac[(len(r.X)+i)*n+White] = 1 / r.Sigma
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
	for _, start := range f.starts(r) {
		sol := s.Solve(problem, start, fit.Options{MaxIter: 150, Tolerance: 1e-6})
		if sol.Status == fit.Converged && sol.Cov != nil && (!ok || sol.RSS < best.RSS) {
			best, ok = sol, true
		}
	}
	return best, ok
}

// starts returns first parameters of the form read off the readings.
func (f Form) starts(r fit.BendData) [][]float64 {
	bend := r.Start(fit.ToeShoulder, 0)
	white, gradient, toe, span := bend[0], math.Exp(bend[1]), bend[2], math.Exp(bend[4])
	net := math.Log(gradient * span)
	switch f {
	case EvenSweep:
		return [][]float64{
			{white, net, toe + 0.5*span, span / 5, 0, 0.01},
			{white, net, toe + 0.4*span, span / 5, -0.1, 0.01},
			{white, net, toe + 0.6*span, span / 5, 0.1, 0.01},
		}
	case LongToe:
		return [][]float64{{white, net, toe + span - span/math.E, span / math.E}}
	case LongShoulder:
		return [][]float64{{white, net, toe + span/math.E, span / math.E}}
	case TwoLayers:
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
	if f == ToeFirst {
		return [][]float64{
			{white, net, toe, 0.15 * span, 1 / 0.15, 0.15 * span},
			{white, net, toe + span - sweep + sweep*math.Log(sharp), sweep, LeastK + 1, sweep / sharp},
		}
	}
	return [][]float64{
		{white, net, toe + span, 0.15 * span, 1 / 0.15, 0.15 * span},
		{white, net, toe + sweep - sweep*math.Log(sharp), sweep / sharp, LeastK + 1, sweep},
	}
}
