package curve

import (
	"math"

	vec "gonum.org/v1/gonum/floats"

	"sensito/fit"
)

// surprising is the square of the distance, in standard deviations, at which the
// densest reading is a slip. It has half of the false alarms for itself: slips
// hide there, where a shoulder can follow them or straighten unseen.
var surprising = math.Pow(fit.StudentT(1-falseAlarms/2, math.Inf(1)), 2)

// noShoulder is the weight of films without a shoulder near the densest reading
// where those with one weigh 60: of the latter one in a thousand then loses it.
const noShoulder = 12

// leansOnDensest says whether the densest reading may be surprising.
func (r readings) leansOnDensest(c candidate) bool {
	return c.Form == fit.ToeShoulder && c.Shoulder > r.X[len(r.X)-4] ||
		c.Status == fit.Converged && c.RSS > surprising && c.promise(r.without(c.drop), true) > surprising
}

// surprise returns how far the densest reading lies from what the others lead to
// expect, as the square of a distance in standard deviations; c is the curve
// without it and all the one with it. The form of c must do for all, but where
// that reading alone asks for a shoulder. Then it is -2 ln of the density that
// the others give it, over the top of a normal one: a mixture of what c predicts
// and of a line that ends in a shoulder, anywhere that they allow. A shoulder that
// follows one reading and touches no other is a coincidence, and priced so.
func (r readings) surprise(s *fit.Solver, c, all candidate) float64 {
	variance := 1.0 // the stated one, unless the others scatter more
	if r.scattered(c) {
		variance = c.rss / c.dof(r)
	}
	d, line := r.without(all.drop), c.BendFit
	if c.Form == fit.ToeShoulder || all.Form != fit.ToeShoulder {
		if c.Form != all.Form {
			all.RSS = math.Min(all.RSS, fit.FitBend(s, d.BendData, c.Form, c.Params).RSS)
		}
		return (all.RSS - c.RSS) / variance
	}
	if c.Form != fit.ToeLine {
		line = fit.FitBend(s, r.without(c.drop).BendData, fit.ToeLine, nil)
	}
	if c.Cov == nil || line.Cov == nil {
		return 0
	}
	last := len(d.X) - 1
	about := func(b fit.BendFit) *fit.Leverage {
		b.M++ // the densest reading, which b has not seen
		return b.Leverage(d.BendData)
	}
	var weights, density float64
	add := func(l *fit.Leverage, weight, off float64) {
		spread := variance * (1 + l.Hat(last, last))
		weights += weight
		density += weight * math.Exp(-off*off/(2*spread)) / math.Sqrt(spread)
	}
	l := about(c.BendFit)
	add(l, noShoulder, l.Residuals[last])
	l = about(line)
	e := l.Residuals
	behind := line.RSS - c.RSS - 2*(c.k-4) // with Akaike's price of a power
	z := make([]float64, last+1)           // what a shoulder takes off
	for _, w := range []float64{0.10, 0.14, 0.20, 0.28, 0.40} {
		typical := math.Log(w/r.ShoulderWidth.Typical) / r.ShoulderWidth.LnSD
		for place := -0.60; place < 0.16; place += 0.05 { // from the densest reading
			bent := line.Bend
			bent.Shoulder, bent.ShoulderWidth = d.X[last]+place, w
			for i, x := range d.X {
				z[i] = (bent.At(x) - line.At(x)) / r.Sigma
			}
			rest := l.Unfitted(z, last) // the line moves to fit the others again
			misfit := behind + vec.Dot(z[:last], rest[:last]) + 2*vec.Dot(z[:last], e[:last])
			add(l, math.Exp(-typical*typical/2-misfit/(2*variance)), e[last]+rest[last])
		}
	}
	return -2 * math.Log(density/weights)
}
