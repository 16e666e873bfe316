package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/curve/tabulated"
	"sensito/sensito/scene"
)

func TestHolm(t *testing.T) {
	same := func(n int) []float64 {
		w := make([]float64, n)
		for i := range w {
			w[i] = 1
		}
		return w
	}
	for _, c := range []struct {
		name    string
		p, w    []float64
		alpha   float64
		because []bool
	}{
		// The usual worked example, from memory: 0.005 against 0.05/4 and 0.01
		// against 0.05/3 are rejected, 0.03 against 0.05/2 is not, and so not
		// 0.04 either.
		{"worked example", []float64{0.01, 0.04, 0.03, 0.005}, same(4), 0.05, []bool{true, false, false, true}},
		{"one test", []float64{0.049}, same(1), 0.05, []bool{true}},
		{"all at once", []float64{0.01, 0.02, 0.04}, same(3), 0.05, []bool{true, true, true}},
		{"the least stops all", []float64{0.02, 0.021, 0.022}, same(3), 0.05, []bool{false, false, false}},
		{"no weight, no part", []float64{0, 0.03}, []float64{0, 1}, 0.05, []bool{false, true}},
		{"weights share alpha", []float64{0.02, 0.02}, []float64{3, 1}, 0.05, []bool{true, true}},
		{"a light one needs a smaller p", []float64{0.9, 0.02}, []float64{3, 1}, 0.05, []bool{false, false}},
		{"NaN takes no part", []float64{math.NaN(), 0.01}, []float64{0, 1}, 0.05, []bool{false, true}},
	} {
		assert.Equal(t, c.because, holm(c.p, c.w, c.alpha), c.name)
	}
}

// The tails of Student's t, from any table: 2.228 at 10 degrees of freedom and
// 1.960 for the normal leave 5 %.
func TestTailOf(t *testing.T) {
	assert.InDelta(t, 0.05, tailOf(2.228, 10), 1e-4)
	assert.InDelta(t, 0.05, tailOf(2.228, 10.9), 1e-4, "taken down to a whole number, as for intervals")
	assert.InDelta(t, 0.05, tailOf(1.959964, math.Inf(1)), 1e-6)
	assert.InDelta(t, 1, tailOf(0, 5), 1e-12)
}

// A curve scaled to its own gradient is itself, and to another has it.
func TestScaleTo(t *testing.T) {
	h := make([]sensito.LogExposure, 60)
	d := make([]sensito.Density, 60)
	for i := range h {
		h[i] = sensito.LogExposure(-3 + 0.06*float64(i))
		d[i] = sensito.Density(0.1 + 0.6*0.15*math.Log1p(math.Exp((float64(h[i])+2)/0.15)))
	}
	c, err := tabulated.New(h, d, 0.1)
	assert.NoError(t, err)
	m, err := curve.SpeedPoint(c)
	assert.NoError(t, err)
	over := scene.Run{From: 0.4, To: 2.1}
	own, err := over.Rise(c, m)
	assert.NoError(t, err)
	for _, by := range []float64{0.6, 1, 1.5} {
		s, err := scaleTo(c, over, sensito.NetDensity(by*own))
		assert.NoError(t, err)
		at, _ := s.at(0)
		assert.InDelta(t, 0.10, at, 1e-9)
		foot, _ := s.at(over.From)
		end, slope := s.at(over.To)
		assert.InDelta(t, by*own, end-foot, 1e-9)
		ahead, _ := s.at(over.To + 1e-6)
		assert.InDelta(t, (ahead-end)/1e-6, slope, 1e-5)
		if by == 1 {
			assert.InDelta(t, 1, s.by, 1e-9)
			assert.InDelta(t, float64(m), float64(s.point), 1e-9)
		}
		mean := equalised([]scaled{s, s, s})
		net, _ := mean.net(1.1)
		want, _ := s.at(1.1)
		assert.InDelta(t, want, net, 1e-12)
	}
	_, err = scaleTo(c, scene.Run{To: 4}, 1)
	assert.ErrorIs(t, err, sensito.ErrOutOfRange)
}
