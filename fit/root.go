package fit

import (
	"errors"
	"fmt"
	"math"
)

// ErrNoBracket reports that a function has the same sign, or no value, at both
// ends of an interval.
var ErrNoBracket = errors.New("no change of sign between the ends")

// Root returns a point between lo and hi where f changes sign, to within tol
// plus about four units in the last place; tol 0 asks for all digits. An end
// where f is zero is returned as it is. A jump or a pole where f changes sign
// counts as a root. The ends may be in either order. The error is ErrNoBracket
// when f has the same sign at both ends or is NaN there, and another one when f
// is NaN inside.
//
// R. P. Brent, Algorithms for Minimization without Derivatives,
// Prentice-Hall 1973, chapter 4.
func Root(f func(float64) float64, lo, hi, tol float64) (float64, error) {
	// b is the best point so far, a the one before, and the root lies between
	// b and c.
	a, b := lo, hi
	fa, fb := f(a), f(b)
	switch {
	case fa == 0:
		return a, nil
	case fb == 0:
		return b, nil
	case math.IsNaN(fa) || math.IsNaN(fb) || fa > 0 == (fb > 0):
		return math.NaN(), fmt.Errorf("f(%g) = %g, f(%g) = %g: %w", lo, fa, hi, fb, ErrNoBracket)
	}
	c, fc := a, fa
	step := b - a
	previous := step
	for {
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		least := 2*epsilon*math.Abs(b) + tol/2
		middle := (c - b) / 2
		if fb == 0 || math.Abs(middle) <= least || middle == 0 {
			return b, nil
		}
		if math.Abs(previous) < least || math.Abs(fa) <= math.Abs(fb) {
			step, previous = middle, middle
		} else {
			p, q := interpolated(a, b, c, fa, fb, fc)
			if 2*p < math.Min(3*middle*q-math.Abs(least*q), math.Abs(previous*q)) {
				previous, step = step, p/q
			} else {
				step, previous = middle, middle
			}
		}
		a, fa = b, fb
		if math.Abs(step) > least {
			b += step
		} else {
			b += math.Copysign(math.Max(least, math.SmallestNonzeroFloat64), middle)
		}
		fb = f(b)
		if math.IsNaN(fb) {
			return math.NaN(), fmt.Errorf("f(%g) is not a number", b)
		}
		if fb > 0 == (fc > 0) {
			c, fc = a, fa
			step = b - a
			previous = step
		}
	}
}

// RootFrom is Root where a root is expected near a guess: it walks from there,
// to the side on which f comes closer to zero, in steps that double from the
// given one until f changes sign. The error is ErrNoBracket when it does not
// within far of the guess, or the guess is NaN.
func RootFrom(f func(float64) float64, guess, step, far, tol float64) (float64, error) {
	if math.IsNaN(guess) {
		return guess, fmt.Errorf("no guess: %w", ErrNoBracket)
	}
	a, b := guess, guess+step
	fa, fb := f(a), f(b)
	if math.Abs(fb) > math.Abs(fa) && fb > 0 == (fa > 0) {
		a, b, step = guess+step, guess, -step
		fa, fb = fb, fa
	}
	for fa > 0 == (fb > 0) {
		if math.Abs(b-guess) >= far {
			return math.NaN(), fmt.Errorf("f(%g) = %g: %w", b, fb, ErrNoBracket)
		}
		step *= 2
		a, fa = b, fb
		b += step
		fb = f(b)
	}
	return Root(f, a, b, tol)
}

// interpolated returns the step from b to the root of the secant through b and
// c, or of the inverse parabola through all three points, as p/q with p >= 0.
func interpolated(a, b, c, fa, fb, fc float64) (p, q float64) {
	s := fb / fa
	if a == c {
		p, q = (c-b)*s, 1-s
	} else {
		r, t := fb/fc, fa/fc
		p = s * ((c-b)*t*(t-r) - (b-a)*(r-1))
		q = (t - 1) * (r - 1) * (s - 1)
	}
	if p > 0 {
		return p, -q
	}
	return -p, q
}

// Newton is Root for a function that also gives its derivative, from a first
// guess: Newton's steps, and halving where they leave the bracket or close in
// too slowly. It takes about half as many calls as Root where the guess is fair. The error is that of Root.
func Newton(f func(x float64) (v, slope float64), lo, hi, guess, tol float64) (float64, error) {
	flo, _ := f(lo)
	fhi, _ := f(hi)
	switch {
	case flo == 0:
		return lo, nil
	case fhi == 0:
		return hi, nil
	case math.IsNaN(flo) || math.IsNaN(fhi) || flo > 0 == (fhi > 0):
		return math.NaN(), fmt.Errorf("f(%g) = %g, f(%g) = %g: %w", lo, flo, hi, fhi, ErrNoBracket)
	}
	if flo > 0 {
		lo, hi = hi, lo // f is negative at lo
	}
	x := guess
	if !(x > math.Min(lo, hi) && x < math.Max(lo, hi)) {
		x = (lo + hi) / 2
	}
	for last := math.Inf(1); ; {
		v, slope := f(x)
		switch {
		case math.IsNaN(v):
			return math.NaN(), fmt.Errorf("f(%g) is not a number", x)
		case v == 0:
			return x, nil
		case v < 0:
			lo = x
		default:
			hi = x
		}
		next := x - v/slope
		if !(next > math.Min(lo, hi) && next < math.Max(lo, hi)) || math.Abs(next-x) > last/2 {
			next = (lo + hi) / 2
		}
		last = math.Abs(next - x)
		if last <= tol+4*epsilon*math.Abs(next) {
			return next, nil
		}
		x = next
	}
}
