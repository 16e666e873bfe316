package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRoot(t *testing.T) {
	for _, c := range []struct {
		source       string
		f            func(float64) float64
		lo, hi, want float64
	}{
		{"OEIS A007493, Wallis's cubic (from memory)", func(x float64) float64 { return x*x*x - 2*x - 5 }, 2, 3, 2.0945514815423265},
		{"OEIS A003957, cos x = x (from memory)", func(x float64) float64 { return math.Cos(x) - x }, 0, 1, 0.73908513321516064},
		{"OEIS A030178, exp(-x) = x (from memory)", func(x float64) float64 { return math.Exp(-x) - x }, -5, 20, 0.56714329040978387},
		{"OEIS A094090, Wien's x = 5 (1 - exp(-x)) (from memory)", func(x float64) float64 { return x - 5*(1-math.Exp(-x)) }, 1, 10, 4.9651142317442763},
		{"definition of the cube root", func(x float64) float64 { return x*x*x - 2 }, -1000, 1e6, math.Cbrt(2)},
		{"definition of pi", math.Sin, 4, 3, math.Pi},
		{"steep", func(x float64) float64 { return math.Exp(50*x) - math.Exp(50) }, -10, 3, 1},
	} {
		calls := 0
		got, err := Root(func(x float64) float64 { calls++; return c.f(x) }, c.lo, c.hi, 0)
		require.NoError(t, err, c.source)
		assert.InEpsilon(t, c.want, got, 1e-15, c.source)
		assert.LessOrEqual(t, calls, 100, c.source)
	}
}

// Where the function is flat, only the change of sign is found: the value on
// either side of the answer brackets zero, or is zero.
func TestRootFlat(t *testing.T) {
	for _, power := range []float64{3, 5, 9, 19} {
		f := func(x float64) float64 { return math.Copysign(math.Pow(math.Abs(x-0.7), power), x-0.7) }
		got, err := Root(f, -4, 3, 1e-9)
		require.NoError(t, err)
		assert.InDelta(t, 0.7, got, 1e-9)
	}
	got, err := Root(func(x float64) float64 { return x * x * x }, -1, 1.5, 0)
	require.NoError(t, err, "a root at zero has no relative tolerance")
	assert.InDelta(t, 0, got, 1e-100)
}

func TestRootEdges(t *testing.T) {
	square := func(x float64) float64 { return x*x - 4 }
	for _, ends := range [][2]float64{{2, 5}, {-1, 2}, {5, 2}} {
		got, err := Root(square, ends[0], ends[1], 0)
		require.NoError(t, err)
		assert.Equal(t, 2.0, got)
	}
	got, err := Root(func(x float64) float64 { return 1 / (x - 0.25) }, 0, 1, 1e-12)
	require.NoError(t, err, "a pole is a change of sign")
	assert.InDelta(t, 0.25, got, 1e-12)

	got, err = Root(square, 3, 5, 0)
	require.ErrorIs(t, err, ErrNoBracket)
	assert.EqualError(t, err, "f(3) = 5, f(5) = 21: no change of sign between the ends")
	assert.True(t, math.IsNaN(got))
	_, err = Root(math.Log, -1, 2, 0)
	require.ErrorIs(t, err, ErrNoBracket)
	_, err = Root(func(x float64) float64 {
		if x > -1 && x < 1 {
			return math.NaN()
		}
		return x
	}, -3, 3, 0)
	require.ErrorContains(t, err, "not a number")
	require.NotErrorIs(t, err, ErrNoBracket)
}

// The tolerance is a promise about the distance to the root and saves calls.
func TestRootTolerance(t *testing.T) {
	most := math.MaxInt
	for _, tol := range []float64{0, 1e-9, 1e-6, 1e-3, 0.1} {
		calls := 0
		got, err := Root(func(x float64) float64 { calls++; return math.Tanh(x-1) + 0.1*(x-1) }, -30, 50, tol)
		require.NoError(t, err)
		assert.InDelta(t, 1, got, tol+1e-15)
		assert.LessOrEqual(t, calls, most)
		most = calls
	}
}
