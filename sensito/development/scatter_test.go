package development

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// grown are contrasts of strips by first-order kinetics, off by the given shares.
func grown(times, off []float64) (g, sd []float64) {
	for i, t := range times {
		v := 0.9 * -math.Expm1(-0.12*t) * (1 + off[i])
		g, sd = append(g, v), append(sd, math.Hypot(0.003, Scatter*v))
	}
	return g, sd
}

// What strips say of how the process repeats: two say nothing, and the mixture
// stands as it is beforehand, which has 95 of 100 within 0.0483, as a t of 4
// degrees of freedom and a scale of 0.0174 has; strips that follow the law lower it, strips that do not raise it, and
// what the notebook states takes its place.
func TestScatterOfStrips(t *testing.T) {
	two, five := []float64{4, 12}, []float64{4, 5.5, 7, 9, 12}
	judged := func(times, off []float64, stated sensito.Repeating) Growth {
		y, sd := grown(times, off)
		g, err := FitGrowth(times, y, sd, Growth{stated: stated})
		require.NoError(t, err)
		return g
	}
	clean := make([]float64, 5)
	wild := []float64{0.02, -0.03, 0.025, -0.02, 0.015}
	unchecked := judged(two, clean, sensito.Repeating{})
	assert.InDelta(t, 0.0174, unchecked.Repeats, 5e-4)
	assert.InDelta(t, 1.74, unchecked.Scatter, 0.05)
	assert.Equal(t, 4.0, unchecked.Behind(1000))
	steady, loose := judged(five, clean, sensito.Repeating{}), judged(five, wild, sensito.Repeating{})
	assert.InDelta(t, 0.0048, steady.Repeats, 5e-4)
	assert.InDelta(t, 0.0279, loose.Repeats, 1e-3)
	assert.Greater(t, loose.Scatter, 2.5*steady.Scatter)
	assert.Equal(t, 3.0, steady.Behind(3), "the readings, where they are fewer")

	// Half a degree at the usual coefficient is 3.7 % of the rate, and 10 s of the
	// middle time 2.3 % of it, of which contrast has its elasticity; agitation and the
	// law itself are half of the usual beside it.
	stated := sensito.Repeating{TemperatureSDC: 0.5, TimeSD: 10}
	middle := geometricMean(five)
	elasticity := 0.12 * middle / math.Expm1(0.12*middle)
	want := math.Hypot(elasticity*math.Hypot(0.05*math.Log(2.1), 10./60/middle), 0.004)
	for _, off := range [][]float64{clean, wild} {
		g := judged(five, off, stated)
		assert.InEpsilon(t, want, g.Repeats, 0.06)
		assert.InEpsilon(t, want/0.0085, g.Scatter, 0.15)
		assert.Equal(t, 1000.0, g.Behind(1000))
	}
}

// What strips scatter by widens what rests on their column, and no other.
func TestPropagateWidens(t *testing.T) {
	tb := &Table{Minutes: []float64{4, 8}, Rows: [][]float64{{0.5, 1}, {0.7, 2}}, Moves: []Direction{{By: [][]float64{{0.01, 0.02}}}, {First: 1, By: [][]float64{{0.03, 0.04}}}}}
	sd := func(inflate map[int]float64) (first, second float64) {
		d, err := tb.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
			return []float64{rows[0][0] + rows[1][0], rows[0][1] - rows[1][1]}, nil
		})
		require.NoError(t, err)
		return d.SD(0), d.SD(1)
	}
	first, second := sd(nil)
	assert.InDelta(t, math.Hypot(0.01, 0.03), first, 1e-9)
	assert.InDelta(t, math.Hypot(0.02, 0.04), second, 1e-9)
	wide, same := sd(map[int]float64{0: 2.5})
	assert.InDelta(t, 2.5*first, wide, 1e-9)
	assert.InDelta(t, second, same, 1e-9)
}

// What is known beforehand of the induction hardly moves the times of strips that have
// none, nor of strips that have half a minute, and its error counts.
func TestInductionKnownNearly(t *testing.T) {
	five := []float64{4, 5.5, 7, 9, 12}
	for _, induction := range []float64{0, 0.5} {
		var y, sd []float64
		for _, m := range five {
			v := 0.9 * -math.Expm1(-0.12*(m-induction))
			y, sd = append(y, v), append(sd, math.Hypot(0.003, Scatter*v))
		}
		g, err := FitGrowth(five, y, sd, Growth{})
		require.NoError(t, err)
		for m := 4.5; m < 12; m += 0.5 {
			minutes, err := g.Time(0.9 * -math.Expm1(-0.12*(m-induction)))
			require.NoError(t, err)
			assert.InEpsilon(t, m, minutes, 0.006, "induction %g", induction)
		}
	}
}

// Strips that disagree altogether, as some that are not keyed in to the end, are judged as
// well: what the least scatter makes of them is not so little that nothing can be told.
func TestScatterOfStripsThatDisagree(t *testing.T) {
	times := []float64{4, 5, 6.5, 8, 10, 11, 11.2, 11.4, 11.6}
	for by, largest := range map[float64]float64{0.1: 4 * Scatter, 0.2: 8 * Scatter, 0.5: 8 * Scatter, 1: 8 * Scatter, 2: 8 * Scatter} {
		off := make([]float64, len(times))
		for i := 5; i < len(off); i++ {
			off[i] = by * float64(i%2)
		}
		y, sd := grown(times, off)
		for i := range sd {
			sd[i] = 0.0085 * y[i] // hardly more than the usual scatter
		}
		g, err := FitGrowth(times, y, sd, Growth{})
		require.NoError(t, err)
		assert.False(t, math.IsNaN(g.Scatter) || math.IsInf(g.Scatter, 0), "%g off: %g", by, g.Scatter)
		assert.InDelta(t, largest, g.Repeats, 0.5*largest, "%g off", by)
	}
}
