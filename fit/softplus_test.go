package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A softplus and its slope are right to the last places, from the polynomials of its
// corner far into both tails.
func TestSoftplus(t *testing.T) {
	for u := -60.0; u < 60; u += 0.00397 {
		for _, w := range []float64{1, 0.13} {
			s, slope := softplus(u*w, w)
			e := math.Exp(-math.Abs(u))
			want, wantSlope := w*math.Log1p(e), e/(1+e)
			if u > 0 {
				want, wantSlope = w*(u+math.Log1p(e)), 1/(1+e)
			}
			if !assert.InEpsilon(t, want, s, 1e-15*(3+math.Abs(u)), "at %g", u) || !assert.InEpsilon(t, wantSlope, slope, 1e-15*(3+math.Abs(u)), "slope at %g", u) {
				return
			}
		}
	}
}

func BenchmarkSoftplus(b *testing.B) {
	sum := 0.0
	for b.Loop() {
		for i := range 21 {
			s, slope := softplus(0.15*float64(i-8), 0.13)
			sum += s + slope
		}
	}
	assert.Positive(b, sum)
}
