package curve

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sensito/fit"
	"sensito/sensito"
)

// Derive returns the quantity g of the fitted curve with the standard error
// that follows from the full covariance of the fit (the delta method, JCGM
// 100:2008, 5.2.2). g must take everything it uses, base plus fog included,
// from the curve it is handed, so that all errors and their correlations
// count. The error is g's own, or says that the covariance is unknown.
func Derive[Q ~float64](f *Fit, g func(Curve) (Q, error)) (sensito.Estimate[Q], error) {
	v, err := DeriveAll(f, func(c Curve) ([]float64, error) {
		q, err := g(c)
		return []float64{float64(q)}, err
	})
	if err != nil {
		return sensito.Estimate[Q]{}, err
	}
	return sensito.Estimate[Q]{Value: Q(v.Values[0]), StdErr: Q(v.SD(0)), DoF: f.DoF}, nil
}

// Draws returns n curves drawn from the error of the fit, taken as normal, for
// what the delta method is too straight for. The same generator gives the same
// curves. It returns nil where the covariance is unknown.
func (f *Fit) Draws(r *rand.Rand, n int) []Curve {
	if f.Root == nil {
		return nil
	}
	curves := make([]Curve, n)
	p := make([]float64, len(f.Params))
	for i := range curves {
		copy(p, f.Params)
		for _, direction := range f.Root {
			z := r.NormFloat64()
			for j := range p {
				p[j] += z * direction[j]
			}
		}
		curves[i] = f.vary(p, nil)
	}
	return curves
}

// DeriveAll is Derive for several quantities that keep their correlation. NaN stands
// for one that cannot be had. g must not keep a curve, which is made anew in its place.
func DeriveAll(f *Fit, g func(Curve) ([]float64, error)) (fit.Derived, error) {
	if c, ok := f.Curve.(sharedCurve); ok {
		if d, ok := c.derive(g); ok {
			return d, nil
		}
	}
	return deriveAbout(f, func(Curve) columnsOf { return func(_ []float64, c Curve) ([]float64, error) { return g(c) } })
}

// columnsOf returns quantities of a curve, which it may append to out: that is empty and
// has room for them, or is nil.
type columnsOf func(out []float64, c Curve) ([]float64, error)

// deriveAbout is DeriveAll for quantities that are read close to the places of a
// curve: about returns them for curves that differ from it by a small part of an
// error.
func deriveAbout(f *Fit, about func(Curve) columnsOf) (fit.Derived, error) {
	g := about(f.Curve)
	values, err := g(nil, f.Curve)
	if err != nil {
		return fit.Derived{}, err
	}
	if f.Root == nil {
		return fit.Derived{}, fmt.Errorf("%w: the readings do not determine the curve", sensito.ErrNoUncertainty)
	}
	var d fit.Derived
	if c, ok := f.Curve.(sharedCurve); ok {
		d, err = c.propagate(values, func(c Curve) ([]float64, error) { return g(nil, c) })
	} else {
		d, err = fit.Propagate(f.Params, values, f.Root, f.vary.then(g))
	}
	if err != nil || len(f.rivals) == 0 {
		return d, err
	}
	return among(d, len(f.Root)-len(f.off), f.rivals, about), nil
}

// then returns the quantities of the curves for other parameters.
func (v variation) then(g columnsOf) func(out, p []float64) ([]float64, error) {
	var c Curve
	return func(out, p []float64) ([]float64, error) {
		c = v(p, c)
		return g(out, c)
	}
}

// among returns the quantities with the error of not knowing which of several
// curves is right: the second moment about the chosen one of the mixture of
// all (Buckland, Burnham and Augustin, Biometrics 53, 603, 1997). Where a rival
// has no value, the chosen curve stands for it. The directions are the same for
// other quantities of the same curves; those from own on are of all curves alike.
func among(d fit.Derived, own int, rivals []rival, about func(Curve) columnsOf) fit.Derived {
	share := make([]float64, len(d.Values)) // of the chosen curve, in each quantity
	for i := range share {
		share[i] = 1
	}
	more := 0
	for _, r := range rivals {
		more += len(r.root) + 1
	}
	d.Moves = slices.Grow(d.Moves, more)
	for _, r := range rivals {
		c := r.vary(r.params, nil)
		g := about(c)
		values, err := g(nil, c)
		var o fit.Derived
		if err == nil {
			o, err = fit.Propagate(r.params, values, r.root, r.vary.then(g))
		}
		if err != nil {
			d.Moves = append(d.Moves, fit.NoMoves(len(r.root)+1, len(d.Values))...)
			continue
		}
		apart := make([]float64, len(values))
		for i, v := range values {
			apart[i] = v - d.Values[i]
		}
		before := len(d.Moves)
		d.Moves = append(append(d.Moves, o.Moves...), apart)
		for i := range values {
			known := !math.IsNaN(apart[i]) && !math.IsNaN(o.SD(i))
			if known {
				share[i] -= r.weight
			}
			for _, row := range d.Moves[before:] {
				if row[i] *= math.Sqrt(r.weight); !known {
					row[i] = 0
				}
			}
		}
	}
	for _, row := range d.Moves[:own] {
		for i := range row {
			row[i] *= math.Sqrt(share[i])
		}
	}
	return d
}
