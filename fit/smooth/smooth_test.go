package smooth

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A straight line stays one, whatever its slope, and has no more error than two parameters.
func TestSmoothLine(t *testing.T) {
	var d Data
	for i := range 15 {
		x := float64(i*i) / 20
		d.X, d.Y, d.SD = append(d.X, x), append(d.Y, 3-2*x), append(d.SD, 0.1)
	}
	s, err := Fit(d)
	require.NoError(t, err)
	for _, x := range []float64{-3, 0, 0.7, 4, 9.8, 20} {
		y, slope, bend := s.AtBend(x)
		assert.InDelta(t, 3-2*x, y, 1e-6)
		assert.InDelta(t, -2, slope, 1e-6)
		assert.InDelta(t, 0, bend, 1e-6)
	}
	assert.InDelta(t, 0, s.Chi2, 1e-9)
	trace := 0.
	for i := range d.X {
		trace += s.Cov.At(i, i) / 0.01
	}
	assert.InDelta(t, 2, trace, 0.01, "effective parameters")
}

// Value, slope and bend belong together, at the knots, between and beyond them.
func TestSmoothDerivatives(t *testing.T) {
	s, err := Fit(noisySine(rand.New(rand.NewPCG(1, 1)), 0.05))
	require.NoError(t, err)
	const h = 1e-5
	for x := -1.; x < 8; x += 0.0931 {
		_, slope, bend := s.AtBend(x)
		a, sa, _ := s.AtBend(x - h)
		b, sb, _ := s.AtBend(x + h)
		assert.InDelta(t, (b-a)/(2*h), slope, 1e-6, "at %g", x)
		assert.InDelta(t, (sb-sa)/(2*h), bend, 1e-4, "at %g", x)
	}
	for i, x := range s.X {
		y, _, bend := s.AtBend(x)
		assert.InDelta(t, s.Y[i], y, 1e-12)
		assert.InDelta(t, s.Bend[i], bend, 1e-12)
	}
}

func noisySine(r *rand.Rand, sd float64) (d Data) {
	for i := range 25 {
		x := 0.28 * float64(i)
		d.X, d.Y, d.SD = append(d.X, x), append(d.Y, math.Sin(x)+sd*r.NormFloat64()), append(d.SD, sd)
	}
	return d
}

// The curve is closer to the truth than the values, and its stated error holds.
func TestSmoothCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	for _, sd := range []float64{0.02, 0.1, 0.5} {
		var held, n, off float64
		for range 200 {
			d := noisySine(r, sd)
			s, err := Fit(d)
			require.NoError(t, err)
			for i, x := range d.X {
				e := s.Y[i] - math.Sin(x)
				off += e * e
				n++
				if math.Abs(e) < 1.96*math.Sqrt(s.Cov.At(i, i)) {
					held++
				}
			}
		}
		t.Logf("sd %g: error %.3f of it, covers %.3f", sd, math.Sqrt(off/n)/sd, held/n)
		assert.Less(t, math.Sqrt(off/n), 0.75*sd)
		assert.InDelta(t, 0.95, held/n, 0.04)
	}
}

// What a free column has goes into it, and its error into the curve's.
func TestSmoothFree(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	bare, free := 0., 0.
	for range 50 {
		d := noisySine(r, 0.1)
		s, err := Fit(d)
		require.NoError(t, err)
		for i, x := range d.X {
			e := s.Y[i] - math.Sin(x)
			bare += e * e
			d.Free = append(d.Free, math.Sin(x))
		}
		with, err := Fit(d)
		require.NoError(t, err)
		trace := 0.
		for i, x := range d.X {
			e := with.Y[i] - math.Sin(x)
			free += e * e
			trace += with.Cov.At(i, i) / 0.01
		}
		assert.Greater(t, trace, 2.9)
	}
	assert.Less(t, free, 0.7*bare)
}

// A curve that will not do is made stiffer until it does.
func TestSmoothTakes(t *testing.T) {
	d := noisySine(rand.New(rand.NewPCG(4, 4)), 0.05)
	free, err := Fit(d)
	require.NoError(t, err)
	d.Takes = func(s Curve) bool { return s.Chi2 > 4*free.Chi2 }
	stiff, err := Fit(d)
	require.NoError(t, err)
	assert.Greater(t, stiff.Penalty, free.Penalty)
	d.Takes = func(Curve) bool { return false }
	_, err = Fit(d)
	assert.ErrorIs(t, err, ErrSpline)
}

func TestSmoothNoUse(t *testing.T) {
	good := func() Data {
		return Data{X: []float64{1, 2, 3, 4}, Y: []float64{1, 2, 3, 4}, SD: []float64{1, 1, 1, 1}}
	}
	_, err := Fit(good())
	require.NoError(t, err)
	for _, c := range []struct {
		spoil func(d Data)
		want  string
	}{
		{func(d Data) { d.X[1] = 1 }, "value 2: 2 ± 1 at 1 is no use"},
		{func(d Data) { d.Y[2] = math.NaN() }, "value 3: NaN ± 1 at 3 is no use"},
		{func(d Data) { d.SD[3] = 0 }, "value 4: 4 ± 0 at 4 is no use"},
		{func(d Data) { d.SD[0] = math.Inf(1) }, "value 1: 1 ± +Inf at 1 is no use"},
	} {
		d := good()
		c.spoil(d)
		_, err := Fit(d)
		assert.EqualError(t, err, c.want)
	}
	assert.Panics(t, func() {
		_, _ = Fit(Data{X: []float64{1, 2, 3}, Y: []float64{1, 2, 3}, SD: []float64{1, 1, 1}})
	})
	assert.Panics(t, func() {
		d := good()
		d.Free = []float64{1}
		_, _ = Fit(d)
	})
}
