package sensito

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	vec "gonum.org/v1/gonum/floats"
)

// The step of the differences in Derive, in standard errors and at most as a
// change of any value that is varied: small enough for the curve to be straight,
// even along a direction that the readings hardly tell, large enough to stand
// above rounding.
const varyBy, varyAtMost = 0.02, 2e-4

// Derive returns the quantity g of the fitted curve with the standard error
// that follows from the full covariance of the fit (the delta method, JCGM
// 100:2008, 5.2.2). g must take everything it uses, base plus fog included,
// from the curve it is handed, so that all errors and their correlations
// count. The error is g's own, or says that the covariance is unknown.
func Derive[Q ~float64](f *CurveFit, g func(Curve) (Q, error)) (Estimate[Q], error) {
	v, err := deriveAll(f, func(c Curve) ([]float64, error) {
		q, err := g(c)
		return []float64{float64(q)}, err
	})
	if err != nil {
		return Estimate[Q]{}, err
	}
	return Estimate[Q]{Value: Q(v.values[0]), StdErr: Q(v.sd(0)), DoF: f.DoF}, nil
}

// Draws returns n curves drawn from the error of the fit, taken as normal, for
// what the delta method is too straight for. The same generator gives the same
// curves. It returns nil where the covariance is unknown.
func (f *CurveFit) Draws(r *rand.Rand, n int) []Curve {
	if f.root == nil {
		return nil
	}
	curves := make([]Curve, n)
	p := make([]float64, len(f.Params))
	for i := range curves {
		copy(p, f.Params)
		for _, direction := range f.root {
			z := r.NormFloat64()
			for j := range p {
				p[j] += z * direction[j]
			}
		}
		curves[i] = f.vary(p)
	}
	return curves
}

// derived are several quantities and how each moves along the independent
// directions of the error behind them, one standard deviation each.
type derived struct {
	values []float64
	moves  [][]float64 // moves[k][i]: change of quantity i along direction k
}

// cov returns the covariance of quantities i and j.
func (d derived) cov(i, j int) float64 {
	var s float64
	for _, m := range d.moves {
		s += m[i] * m[j]
	}
	return s
}

func (d derived) sd(i int) float64 { return math.Sqrt(d.cov(i, i)) }

// with returns the quantities of d followed by those of e, of the same fit.
func (d derived) with(e derived) derived {
	out := derived{values: slices.Concat(d.values, e.values)}
	for k := range d.moves {
		out.moves = append(out.moves, slices.Concat(d.moves[k], e.moves[k]))
	}
	return out
}

// widened returns the quantities with all errors multiplied.
func (d derived) widened(by float64) derived {
	out := derived{values: d.values}
	for _, m := range d.moves {
		move := make([]float64, len(m))
		for i, v := range m {
			move[i] = by * v
		}
		out.moves = append(out.moves, move)
	}
	return out
}

// deriveAll is Derive for several quantities that keep their correlation.
func deriveAll(f *CurveFit, g func(Curve) ([]float64, error)) (derived, error) {
	return deriveAbout(f, func(Curve) func(Curve) ([]float64, error) { return g })
}

// deriveAbout is deriveAll for quantities that are read close to the places of a
// curve: about returns them for curves that differ from it by a small part of an
// error.
func deriveAbout(f *CurveFit, about func(Curve) func(Curve) ([]float64, error)) (derived, error) {
	g := about(f.Curve)
	values, err := g(f.Curve)
	if err != nil {
		return derived{}, err
	}
	if f.root == nil {
		return derived{}, fmt.Errorf("%w: the readings do not determine the curve", ErrNoUncertainty)
	}
	d, err := differences(f.Params, values, f.root, func(p []float64) ([]float64, error) { return g(f.vary(p)) })
	if err != nil || len(f.rivals) == 0 {
		return d, err
	}
	return d.among(f.rivals, about), nil
}

// among returns the quantities with the error of not knowing which of several
// curves is right: the second moment about the chosen one of the mixture of
// all (Buckland, Burnham and Augustin, Biometrics 53, 603, 1997). Where a rival
// has no value, the chosen curve stands for it. The directions are the same for
// other quantities of the same curves.
func (d derived) among(rivals []rival, about func(Curve) func(Curve) ([]float64, error)) derived {
	share := make([]float64, len(d.values)) // of the chosen curve, in each quantity
	for i := range share {
		share[i] = 1
	}
	var more [][]float64
	for _, r := range rivals {
		c := r.vary(r.params)
		g := about(c)
		values, err := g(c)
		var o derived
		if err == nil {
			o, err = differences(r.params, values, r.root, func(p []float64) ([]float64, error) { return g(r.vary(p)) })
		}
		if err != nil {
			for range len(r.root) + 1 {
				more = append(more, make([]float64, len(d.values)))
			}
			continue
		}
		apart := make([]float64, len(values))
		for i, v := range values {
			apart[i] = v - d.values[i]
		}
		rows := append(o.moves, apart)
		for i := range values {
			known := !math.IsNaN(apart[i]) && !math.IsNaN(o.sd(i))
			if known {
				share[i] -= r.weight
			}
			for _, row := range rows {
				if row[i] *= math.Sqrt(r.weight); !known {
					row[i] = 0
				}
			}
		}
		more = append(more, rows...)
	}
	for _, row := range d.moves {
		for i := range row {
			row[i] *= math.Sqrt(share[i])
		}
	}
	d.moves = append(d.moves, more...)
	return d
}

// differences returns how the values of g at center move along each of the
// directions. At the edge of what can be reached, where g fails or a value is
// NaN on one side, the other side alone counts.
func differences(center, values []float64, directions [][]float64, g func([]float64) ([]float64, error)) (derived, error) {
	d := derived{values: values, moves: make([][]float64, 0, len(directions))}
	p := make([]float64, len(center))
	at := func(direction []float64, by float64) ([]float64, error) {
		for i := range p {
			p[i] = center[i] + by*direction[i]
		}
		return g(p)
	}
	for _, direction := range directions {
		by := math.Min(varyBy, varyAtMost/vec.Norm(direction, math.Inf(1)))
		up, errUp := at(direction, by)
		down, errDown := at(direction, -by)
		if errUp != nil && errDown != nil {
			return derived{}, errUp
		}
		move := make([]float64, len(values))
		for i := range move {
			switch {
			case errDown != nil || errUp == nil && math.IsNaN(down[i]):
				move[i] = (up[i] - values[i]) / by
			case errUp != nil || math.IsNaN(up[i]):
				move[i] = (values[i] - down[i]) / by
			default:
				move[i] = (up[i] - down[i]) / (2 * by)
			}
		}
		d.moves = append(d.moves, move)
	}
	return d, nil
}
