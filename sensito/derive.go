package sensito

import (
	"fmt"
	"math"
	"math/rand/v2"
)

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
	return among(d, f.rivals, about), nil
}

// among returns the quantities with the error of not knowing which of several
// curves is right: the second moment about the chosen one of the mixture of
// all (Buckland, Burnham and Augustin, Biometrics 53, 603, 1997). Where a rival
// has no value, the chosen curve stands for it. The directions are the same for
// other quantities of the same curves.
func among(d derived, rivals []rival, about func(Curve) func(Curve) ([]float64, error)) derived {
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
