package fit

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"pgregory.net/rapid"

	"sensito/fit/internal/curvecheck"
)

// interpSet is a set of testdata/golden/interp.json.
type interpSet struct {
	X, Y   []float64
	At     []float64 `json:"xq"`
	Values []float64 `json:"pchip"`
	Slopes []float64 `json:"pchip_d1"`
	Knots  []float64 `json:"pchip_knot_slopes"`
}

func interpSets(t testing.TB) map[string]interpSet {
	raw, err := os.ReadFile("../testdata/golden/interp.json")
	require.NoError(t, err)
	var file struct{ Sets map[string]interpSet }
	require.NoError(t, json.Unmarshal(raw, &file))
	require.Len(t, file.Sets, 8)
	return file.Sets
}

func newInterpolant(t require.TestingT, x, y []float64) Interpolant {
	p, err := NewInterpolant(x, y)
	require.NoError(t, err)
	return p
}

// golden/interp.json: SciPy 1.10.1, PchipInterpolator, on data of Fritsch and
// Carlson 1980 (RPN 14), Akima 1970 and own sets; Octave 7.3 agrees to 4e-16.
// Tolerances of the file's notes: values 1e-13 of the range, slopes 1e-12 of
// the largest.
func TestInterpolantGolden(t *testing.T) {
	// An Interpolant rises by design, so sets that fall are refused there.
	refused := map[string]string{
		"not_monotone":         "point 1: y = 0.2 falls from 1",
		"three_knots_extremum": "point 2: y = 0.3 falls from 0.9",
	}
	for name, set := range interpSets(t) {
		t.Run(name, func(t *testing.T) {
			if want, ok := refused[name]; ok {
				_, err := NewInterpolant(set.X, set.Y)
				require.EqualError(t, err, want)
				return
			}
			p := newInterpolant(t, set.X, set.Y)
			require.NotEmpty(t, set.At)
			value := 1e-13 * (floats.Max(set.Values) - floats.Min(set.Values))
			slope := 1e-12 * floats.Max(set.Slopes)
			for i, x := range set.At {
				y, d := p.AtSlope(x)
				assert.InDelta(t, set.Values[i], y, value, "value at %g", x)
				assert.InDelta(t, set.Slopes[i], d, slope, "slope at %g", x)
				assert.Equal(t, []float64{y, d}, []float64{p.At(x), p.SlopeAt(x)})
			}
			assert.InDeltaSlice(t, set.Knots, p.slope, slope)
		})
	}
}

func TestInterpolantRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for want, c := range map[string]struct{ x, y []float64 }{
		"0 points; an interpolant needs 2":                              {nil, nil},
		"1 points; an interpolant needs 2":                              {[]float64{1}, []float64{1}},
		"point 2: x = 1 does not rise from 1":                           {[]float64{0, 1, 1}, []float64{0, 1, 2}},
		"point 1: x = -3 does not rise from 0":                          {[]float64{0, -3}, []float64{0, 1}},
		"point 2: y = 0.9 falls from 1":                                 {[]float64{0, 1, 2}, []float64{0, 1, 0.9}},
		"point 0: (NaN, 1) is not finite":                               {[]float64{nan, 1}, []float64{1, 2}},
		"point 1: (1, NaN) is not finite":                               {[]float64{0, 1}, []float64{1, nan}},
		"point 1: (+Inf, 2) is not finite":                              {[]float64{0, inf}, []float64{1, 2}},
		"point 0: (0, -Inf) is not finite":                              {[]float64{0, 1}, []float64{-inf, 2}},
		"point 1: x = 5e-324 is too close to 0 for a rise from 0 to 10": {[]float64{0, 5e-324}, []float64{0, 10}},
	} {
		_, err := NewInterpolant(c.x, c.y)
		assert.EqualError(t, err, want)
	}
	assert.Panics(t, func() { _, _ = NewInterpolant([]float64{0, 1}, []float64{0}) })
}

// The curve keeps the points it was made from, whatever becomes of the slices.
func TestInterpolantKeepsItsPoints(t *testing.T) {
	x, y := []float64{0, 1, 3}, []float64{0.1, 0.9, 1}
	p := newInterpolant(t, x, y)
	clear(x)
	clear(y)
	assert.Equal(t, 0.9, p.At(1))
	assert.True(t, math.IsNaN(p.At(math.NaN())))
}

func TestInterpolantIsACurve(t *testing.T) {
	// The differences of the checker are too coarse for two of the golden sets,
	// whose points lie closer than a hundredth of their reach.
	for _, name := range []string{"sigmoid_uniform", "akima1970_flat_run", "two_knots", "three_knots"} {
		t.Run(name, func(t *testing.T) {
			set := interpSets(t)[name]
			curvecheck.Check(t, newInterpolant(t, set.X, set.Y), set.X[0], set.X[len(set.X)-1], Root)
		})
	}
	// Points on even hundredths of the reach lie between the places where the
	// checker takes its differences, which no second derivative crosses.
	t.Run("drawn", rapid.MakeCheck(func(t *rapid.T) {
		lo := rapid.Float64Range(-5, 5).Draw(t, "first")
		reach := rapid.Float64Range(0.1, 10).Draw(t, "reach")
		places := rapid.SliceOfNDistinct(rapid.IntRange(1, 49), 0, 20, rapid.ID).Draw(t, "places")
		slices.Sort(places)
		x, y := []float64{lo}, []float64{rapid.Float64Range(0, 1).Draw(t, "base")}
		for _, place := range append(places, 50) {
			x = append(x, lo+reach*float64(place)/50)
			y = append(y, y[len(y)-1]+drawRise(t))
		}
		curvecheck.Check(t, newInterpolant(t, x, y), lo, lo+reach, Root)
	}))
}

// drawRise returns a rise from one point to the next: none, small or large.
func drawRise(t *rapid.T) float64 {
	if rapid.IntRange(0, 3).Draw(t, "level") == 0 {
		return 0
	}
	return math.Pow(10, rapid.Float64Range(-4, 1).Draw(t, "log rise"))
}

// drawPoints returns points of very uneven gaps and rises.
func drawPoints(t *rapid.T) (x, y []float64) {
	x, y = []float64{rapid.Float64Range(-5, 5).Draw(t, "first")}, []float64{rapid.Float64Range(-1, 1).Draw(t, "base")}
	for range rapid.IntRange(1, 30).Draw(t, "pieces") {
		x = append(x, x[len(x)-1]+math.Pow(10, rapid.Float64Range(-4, 1).Draw(t, "log gap")))
		y = append(y, y[len(y)-1]+drawRise(t))
	}
	return x, y
}

// Fritsch and Carlson 1980: the curve rises where the points do, is level where
// they are, and never leaves the range of two neighbours. It leads back from
// its values, and the mirrored points give the mirrored curve.
func TestInterpolantRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawPoints(t)
		p := newInterpolant(t, x, y)
		minusX, minusY := slices.Clone(x), slices.Clone(y)
		slices.Reverse(minusX)
		slices.Reverse(minusY)
		floats.Scale(-1, minusX)
		floats.Scale(-1, minusY)
		mirrored := newInterpolant(t, minusX, minusY)

		ulps := 8 * epsilon * math.Max(math.Abs(y[0]), math.Abs(y[len(y)-1]))
		for i := range len(x) - 1 {
			assert.Equal(t, y[i], p.At(x[i]), "at a point")
			gap := x[i+1] - x[i]
			secant := (y[i+1] - y[i]) / gap
			// A place is known to rounding, which counts where gaps are narrow.
			blur := 16 * epsilon * (math.Abs(x[i]) + math.Abs(x[i+1])) / gap
			before := y[i]
			for j := 1; j < 40; j++ {
				at := x[i] + gap*float64(j)/40
				v, slope := p.AtSlope(at)
				assert.GreaterOrEqual(t, v, y[i], "between %g and %g", x[i], x[i+1])
				assert.LessOrEqual(t, v, y[i+1]+ulps, "between %g and %g", x[i], x[i+1])
				assert.GreaterOrEqual(t, v, before-ulps, "falls before %g", at)
				assert.GreaterOrEqual(t, slope, -8*epsilon*secant, "slope at %g", at)
				if y[i] == y[i+1] {
					assert.Equal(t, []float64{y[i], 0}, []float64{v, slope}, "level at %g", at)
				}
				mv, mslope := mirrored.AtSlope(-at)
				assert.InDelta(t, v, -mv, ulps+blur*secant*gap)
				assert.InDelta(t, slope, mslope, (blur+100*epsilon)*secant)
				before = v
			}
		}
		assert.Equal(t, y[len(y)-1], p.At(x[len(x)-1]))

		lo, hi := x[0]-1, x[len(x)-1]+1
		at := rapid.Float64Range(lo, hi).Draw(t, "place")
		want, slope := p.AtSlope(at)
		back, err := Root(func(v float64) float64 { return p.At(v) - want }, lo, hi, 0)
		require.NoError(t, err)
		assert.InDelta(t, want, p.At(back), ulps+16*epsilon*(math.Abs(back)+1)*(slope+p.SlopeAt(back)))
	})
}

// Points on a line give the line, level or not, also beyond the ends.
func TestInterpolantOfALine(t *testing.T) {
	for _, gradient := range []float64{0, 0.6} {
		x := []float64{-2, -1.5, 0, 0.1, 3}
		y := make([]float64, len(x))
		for i := range x {
			y[i] = 0.1 + gradient*(x[i]+2)
		}
		p := newInterpolant(t, x, y)
		for _, at := range []float64{-4, -2, -1.9, -0.7, 0.05, 1.7, 3, 5} {
			v, slope := p.AtSlope(at)
			assert.InDelta(t, 0.1+gradient*(at+2), v, 1e-14)
			assert.InDelta(t, gradient, slope, 1e-14)
		}
	}
}

func BenchmarkInterpolantAt(b *testing.B) {
	set := interpSets(b)["sigmoid_uniform"]
	p := newInterpolant(b, set.X, set.Y)
	b.Run("points=21", func(b *testing.B) {
		b.ReportAllocs()
		var sum float64
		for i := 0; b.Loop(); i++ {
			sum += p.At(set.At[i%len(set.At)])
		}
		require.False(b, math.IsNaN(sum))
	})
}
