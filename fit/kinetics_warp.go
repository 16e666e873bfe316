package fit

import (
	"fmt"
	"math"
)

// WarpedFit is first-order growth fitted to values at times that run faster or
// slower by an unknown factor: at place i the time counts as t exp(Warp u).
// Params of the solution are Slope, Rate, Induction and Warp.
type WarpedFit struct {
	Kinetics
	Warp float64
	Solution

	data    growthData
	problem Problem
}

// Influence is that of KineticsFit, with how Warp moves behind the others.
func (f WarpedFit) Influence() (byValue, byBefore [][]float64) {
	return f.data.influence(f.problem, f.Solution)
}

// mostWarp is a bound on Warp: a factor of 20 either way for u = 1.
const mostWarp = 3

// FitWarpedBegun fits first-order growth to the values g at times t with standard
// deviations sd, all the times counting as t exp(Warp u): where u is the
// distance of a temperature from a reference, Warp is the law of the rate
// against temperature, fitted together with the growth (see Arrhenius). The
// search begins at each of the given warps.
//
// The error is as for FitKinetics, for one parameter more; whether the data tell
// the warp apart is seen from Cov. It panics when lengths differ or no start is
// given. What is known beforehand is as for FitKineticsBegun.
func FitWarpedBegun(t, g, sd, u []float64, before Beforehand, near *Kinetics, starts ...float64) (WarpedFit, error) {
	return fitWarps(t, g, sd, u, 2, starts, func(at []float64) (KineticsFit, error) { return FitKineticsBegun(at, g, sd, before, near) })
}

// fitWarps is FitWarpedBegun with the fit at times that count as they are.
func fitWarps(t, g, sd, u []float64, need int, starts []float64, plain func(at []float64) (KineticsFit, error)) (WarpedFit, error) {
	if len(u) != len(t) || len(g) != len(t) || len(sd) != len(t) {
		panic("fit: lengths of times, values, standard deviations and distances differ")
	}
	if err := checkGrowth(t, g, sd, need); err != nil {
		return WarpedFit{}, err
	}
	if len(t) < need+1 {
		return WarpedFit{}, fmt.Errorf("%d values, %d needed", len(t), need+1)
	}
	best := WarpedFit{Solution: Solution{RSS: math.Inf(1)}}
	var last error
	for _, start := range starts {
		f, err := fitWarped(t, g, sd, u, plain, start)
		if err != nil {
			last = err
		} else if f.RSS < best.RSS {
			best = f
		}
	}
	if math.IsInf(best.RSS, 1) {
		return WarpedFit{}, last
	}
	return best, nil
}

func fitWarped(t, g, sd, u []float64, plainly func(at []float64) (KineticsFit, error), start float64) (WarpedFit, error) {
	began := make([]float64, len(t))
	for i := range t {
		began[i] = t[i] * math.Exp(start*u[i])
	}
	plain, err := plainly(began)
	if err != nil {
		return WarpedFit{}, err
	}
	data := plain.data
	data.fastest *= 4
	p := Problem{
		M: data.rows(), N: 4,
		Lower: []float64{0, 0, 0, -mostWarp},
		Upper: []float64{math.Inf(1), data.fastest, data.latest, mostWarp},
		Eval: func(p, r, jac []float64) {
			for i := range t {
				at := t[i] * math.Exp(p[3]*u[i])
				v, dv := growth(p[0], p[1], at-p[2])
				w := 1 / sd[i]
				r[i] = (v - g[i]) * w
				for j := range dv {
					jac[4*i+j] = dv[j] * w
				}
				jac[4*i+3] = -dv[2] * at * u[i] * w // growth against time is minus that against induction
			}
			data.known(p, r, jac, 4, 2, 1, 1)
		},
	}
	s := Minimize(p, []float64{plain.Slope, plain.Rate, plain.Induction, start}, Options{})
	f := WarpedFit{Kinetics: Growing(s.Params), Solution: s, Warp: s.Params[3], data: data, problem: p}
	if f.Slope <= 0 || f.Rate >= data.fastest {
		return f, fmt.Errorf("values do not grow: %w", ErrRateUnknown)
	}
	return f, nil
}
