package picture

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// The three directions carry the error that strips share: of tablets drawn anew, what the curve
// of 1, D and D² leaves of the errors of all steps is less than what a step has by itself, and
// what they carry scatters as Covariance says.
func TestCovariance(t *testing.T) {
	for _, c := range []struct {
		name   string
		encode func(float64) float64
		left   float64 // part of the error
	}{{"linear", nil, 0.5}, {"gamma", gamma, 0.5}, {"sRGB", srgb, 0.75}} {
		b, r := newBench(), random(21)
		b.encode, b.pixels = c.encode, 1000
		exact := even(0.1, 0.12, 20) // to 2.38
		x := mat.NewDense(len(exact), 3, nil)
		for i, d := range exact {
			x.SetRow(i, []float64{1, d, d * d})
		}
		strip := b.patches(exact, r)
		var all, left, step, sd float64
		draws := deeper(30)
		at := [3]float64{0.3, 1.3, 2.2}
		var shared [3][]float64
		var told [3]float64
		for range draws {
			k := b.calibrated(t, usual, certified(stated(usual, certifiedSD, certifiedScaleSD, r)), r)
			got, _, err := k.Read(b.image(), 0, nil, strip, Frame{Same: true})
			require.NoError(t, err)
			off := mat.NewVecDense(len(exact), nil)
			for i, d := range got {
				require.Empty(t, d.Why)
				off.SetVec(i, d.Value-exact[i])
				sd += d.SD * d.SD / float64(draws*len(exact))
			}
			var p, rest mat.VecDense
			require.NoError(t, p.SolveVec(x, off))
			rest.MulVec(x, &p)
			rest.SubVec(off, &rest)
			all += mat.Dot(off, off) / float64(draws*len(exact))
			left += mat.Dot(&rest, &rest) / float64(draws*len(exact))
			for i, d := range at {
				shared[i] = append(shared[i], p.AtVec(0)+p.AtVec(1)*d+p.AtVec(2)*d*d)
				told[i] += math.Pow(ErrorOf(k.Covariance(true), d), 2) / float64(draws)
			}
			step += k.Fit.StepSD / float64(draws)
		}
		t.Logf("%s: error %.4f, beside the directions %.4f; a step by itself %.4f, of which the tablet %.4f", c.name, math.Sqrt(all), math.Sqrt(left), math.Sqrt(sd), step)
		assert.Less(t, math.Sqrt(left), math.Sqrt(sd), c.name)
		assert.Less(t, math.Sqrt(left/all), c.left, c.name)
		for i, d := range at {
			ratio := stat.StdDev(shared[i], nil) / math.Sqrt(told[i])
			t.Logf("%s: at %.1f what the directions carry scatters %.2f as much as told", c.name, d, ratio)
			assert.InDelta(t, 1, ratio, 0.25, "%s: at %g", c.name, d)
		}
	}

	b := newBench()
	k := b.calibrated(t, usual, certified(usual), random(22))
	same, apart := k.Covariance(true), k.Covariance(false)
	assert.InDelta(t, 0.0025, math.Sqrt(apart[0][0]-same[0][0]), 0.0001, "lamps of two pictures")
	apart[0][0] = same[0][0]
	assert.Equal(t, same, apart)
	assert.InDelta(t, math.Sqrt(same[0][0]+4*same[0][1]+4*same[1][1]+8*same[0][2]+16*same[1][2]+16*same[2][2]), ErrorOf(same, 2), 1e-12)
}

// Anchors take out another scale and offset, and what they leave unsure is stated: film that
// scatters 4 % more than the tablet reads right again.
func TestAnchored(t *testing.T) {
	b, r := newBench(), random(23)
	steps := []int{2, 25, 45}
	var off, before errorsBy
	for range deeper(40) {
		told := certified(stated(usual, certifiedSD, certifiedScaleSD, r))
		c := b.calibrated(t, usual, told, r)
		by := 1 + callierSD*r.NormFloat64()
		exact := make([]float64, len(dense))
		for i, d := range dense {
			exact[i] = d * by // as a densitometer has it, where the picture sees d
		}
		got, _, err := c.Read(b.image(), 0, nil, b.patches(dense, r), Frame{Same: true})
		require.NoError(t, err)
		before.add(got, exact, c.Covariance(true))
		var list []Anchor
		for _, s := range steps {
			list = append(list, Anchor{Step: s + 1, Density: exact[s] + 0.01*r.NormFloat64(), Read: got[s].Value})
		}
		a, err := c.Anchored(list)
		require.NoError(t, err)
		require.True(t, isCovariance(a.Fit.Covariance))
		assert.Equal(t, c.Fit.Anchored, [2]float64{}, "the calibration itself is not changed")
		again, _, err := a.Read(b.image(), 0, nil, b.patches(dense, r), Frame{Same: true})
		require.NoError(t, err)
		off.add(again, exact, a.Covariance(true))
		free := c.Fit.Covariance
		free[1][1] += callierSD * callierSD
		for _, d := range []float64{0.5, 1.5, 2.5} {
			assert.Less(t, ErrorOf(a.Fit.Covariance, d), ErrorOf(free, d)+0.003)
		}
	}
	t.Logf("before %.4f, covered %.2f; anchored %.4f, covered %.2f", before.rms(), before.covers(before.held), off.rms(), off.covers(off.held))
	assert.Less(t, off.rms()[1], before.rms()[1]/3)
	assert.InDelta(t, 0.96, off.covers(off.held), 0.035)
	assert.Less(t, before.covers(before.held), 0.7)
}

// Anchored twice, the second correction is of what the first one reads.
func TestAnchoredTwice(t *testing.T) {
	b, r := newBench(), random(24)
	c := b.calibrated(t, usual, certified(usual), r)
	strip := b.patches([]float64{0.2, 1.2, 2.2}, r)
	anchor := func(c *Calibration, by float64) *Calibration {
		got, _, err := c.Read(b.image(), 0, nil, strip, Frame{Same: true})
		require.NoError(t, err)
		var list []Anchor
		for _, d := range got {
			list = append(list, Anchor{Step: d.Step, Density: by * d.Value, Read: d.Value, SD: 1e-4})
		}
		out, err := c.Anchored(list)
		require.NoError(t, err)
		return out
	}
	first, _, err := anchor(c, 1.02).Read(b.image(), 0, nil, strip, Frame{Same: true})
	require.NoError(t, err)
	twice, _, err := anchor(anchor(c, 1.02), 1/1.02).Read(b.image(), 0, nil, strip, Frame{Same: true})
	require.NoError(t, err)
	bare, _, err := c.Read(b.image(), 0, nil, strip, Frame{Same: true})
	require.NoError(t, err)
	for i := range bare {
		assert.InDelta(t, 1.02*bare[i].Value, first[i].Value, 0.003)
		assert.InDelta(t, bare[i].Value, twice[i].Value, 0.004)
	}
}

func TestAnchoredRefused(t *testing.T) {
	b := newBench()
	c := b.calibrated(t, usual, certified(usual), random(25))
	// A densitometer whose zero is off by 0.03 moves offsets, but is not believed whole.
	zero, err := c.Anchored([]Anchor{{1, 0.23, 0.2, 0}, {9, 1.13, 1.1, 0}, {21, 2.03, 2.0, 0}})
	require.NoError(t, err)
	moved := zero.Fit.Anchored[0] + zero.Fit.Anchored[1]*1.1
	assert.InDelta(t, 0.026, moved, 0.003)
	assert.InDelta(t, 0.017, zero.Fit.Anchored[0]+zero.Fit.Anchored[1]*0.1, 0.005)

	three := []Anchor{{1, 0.1, 0.1, 0}, {9, 1.0, 1.0, 0}, {21, 2.0, 2.0, 0}}
	_, err = c.Anchored(three)
	require.NoError(t, err)
	_, err = c.Anchored(three[:2])
	assert.Equal(t, "2 steps were read by the densitometer; offset and scale need 3: read a clear, a middle and a dense step", sentence(err))
	_, err = c.Anchored([]Anchor{{1, 0.1, 0.1, 0}, {2, 0.2, 0.2, 0}, {3, 0.5, 0.5, 0}})
	assert.Equal(t, "the steps that the densitometer read lie within 0.40: read a clear, a middle and a dense step", sentence(err))
	_, err = c.Anchored([]Anchor{{1, 0.1, 0.1, 0}, {9, 1.0, math.NaN(), 0}, {21, 2.0, 2.0, 0}})
	assert.EqualError(t, err, "step 9 was not read")
	_, err = c.Anchored([]Anchor{{1, 2.0, 0.1, 0}, {9, 1.0, 1.0, 0}, {21, 0.1, 2.0, 0}})
	assert.Equal(t, "the densitometer and the picture differ far more than their errors, by -1.90 at step 21: are they of this strip, by step and density?", sentence(err))
}

// A stain shows in the slopes of the channels, and a neutral strip has none.
func TestStain(t *testing.T) {
	b, r := newBench(), random(26)
	net := even(0, 0.1, 21)
	read := func(stain [3]float64) []Channel {
		var out []Channel
		for k, name := range []string{"red", "green", "blue"} {
			c := b.calibrated(t, usual, certified(usual), r)
			strip := make([]float64, len(net))
			for i, d := range net {
				strip[i] = 0.12 + d*(1+stain[k])
			}
			got, _, err := c.Read(b.image(), 0, nil, b.patches(strip, r), Frame{Same: true})
			require.NoError(t, err)
			out = append(out, Channel{name, got})
		}
		return []Channel{out[1], out[0], out[2]} // against green
	}
	slopes, w := Slopes(read([3]float64{0.02, 0.08, 0.20}))
	require.Len(t, slopes, 2)
	t.Log(slopes)
	assert.InDelta(t, 1.02/1.08, slopes[0].Value, 0.004)
	assert.InDelta(t, 1.20/1.08, slopes[1].Value, 0.004)
	assert.InDelta(t, 0.001, slopes[1].SD, 0.001)
	require.Equal(t, []string{"coloured", "coloured"}, codes(w))
	assert.Equal(t, "the negative is coloured: blue 1.11 of green; state one channel, never an average", w[1].Message())
	slopes, w = Slopes(read([3]float64{}))
	assert.Empty(t, w)
	assert.InDelta(t, 1, slopes[0].Value, 0.004)
	_, w = Slopes(read([3]float64{0, 0, 0.01}))
	assert.Empty(t, w)

	slopes, w = Slopes(nil)
	assert.Empty(t, slopes)
	assert.Empty(t, w)
	few := []Density{{Step: 1, Value: 1}, {Step: 2, Value: math.NaN()}}
	slopes, _ = Slopes([]Channel{{"green", few}, {"red", few}})
	assert.Empty(t, slopes)
}
