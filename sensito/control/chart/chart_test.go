package chart

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// Every run is charted as if it stood alone.
func TestNewBeginsAnew(t *testing.T) {
	x := []float64{0.1, -0.4, 3.5, 0.2, 1.6, 1.4, 1.9, 1.2, 1.7, 1.5, 1.4, -0.2, 0.3, 1.8, 2.2, 1.6, 1.3, 1.9, 2.1}
	const second = 11
	for _, kind := range Kinds {
		for _, set := range RuleSets {
			all := New(kind, 0.1, 1, x, []int{0, second, len(x)}, set)
			require.Len(t, all.Values, len(x))
			var signals []Signal
			for _, from := range []int{0, second} {
				to := map[int]int{0: second, second: len(x)}[from]
				part := New(kind, 0.1, 1, x[from:to], []int{0, to - from}, set)
				for i := range part.Values {
					assert.Equal(t, math.Float64bits(part.Values[i]), math.Float64bits(all.Values[from+i]), "%s, value %d", kind, from+i+1)
					assert.Equal(t, part.LimitsAt(i+1), all.LimitsAt(from+i+1), "%s, limits %d", kind, from+i+1)
				}
				for _, s := range part.Signals {
					signals = append(signals, Signal{s.Rule, s.Index + from, s.Since + from})
				}
			}
			require.NotEmpty(t, signals, kind)
			assert.Equal(t, signals, all.Signals, "%s, %s", kind, set)
		}
	}
	assert.Less(t, EWMALimits(0, 1, EWMAWeight, EWMAWidth, 1).Upper, EWMALimits(0, 1, EWMAWeight, EWMAWidth, 0).Upper)
	assert.Panics(t, func() { New("pareto", 0, 1, x, []int{0, len(x)}, LimitsAlone) })
}

// A large step and a large drift are found where they are, with the error that a
// mean and a line through a known point have when their start is known.
func TestFindChange(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1998))
	const n, from, sigma = 30, 12, 0.01
	days, step, drift := make([]float64, n), make([]float64, n), make([]float64, n)
	var tt float64
	for i := range n {
		days[i] = float64(3 * i)
		noise := sigma * r.NormFloat64()
		step[i], drift[i] = noise, noise
		if i >= from {
			step[i] += 0.2
			drift[i] += 0.05 * (days[i] - days[from-1])
			tt += math.Pow(days[i]-days[from-1], 2)
		}
	}
	c := FindChange(days, step, sigma)
	assert.Equal(t, from, c.From)
	assert.Zero(t, c.Length)
	assert.Zero(t, c.RateSD)
	assert.InDelta(t, stat.Mean(step[from:], nil), c.Level, 1e-12)
	assert.InEpsilon(t, sigma/math.Sqrt(n-from), c.LevelSD, 1e-6)

	c = FindChange(days, drift, sigma)
	assert.Equal(t, from, c.From)
	assert.Equal(t, days[n-1]-days[from-1], c.Length)
	assert.InDelta(t, 0.05, c.Level/c.Length, 4*sigma/math.Sqrt(tt))
	assert.InEpsilon(t, sigma/math.Sqrt(tt), c.RateSD, 1e-3)
	assert.InEpsilon(t, c.RateSD*c.Length, c.LevelSD, 1e-3)

	// Two days are no drift, however steep.
	c = FindChange([]float64{0, 1, 2}, []float64{0, 1, 2}, 1)
	assert.Zero(t, c.Length)
	// Where the start is not clear the error is larger than that of a known start.
	c = FindChange(days[:8], []float64{0.4, -0.9, 1.1, 0.2, 0.9, 1.5, 0.3, 1.2}, 1)
	assert.Greater(t, c.LevelSD, 1/math.Sqrt(float64(8-c.From)))
}

// The sums that one pass makes are those of every tail alone, with strips of one
// day among them.
func TestTails(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1998))
	days, x := []float64{0}, []float64{0.3}
	for range 200 {
		days, x = append(days, days[len(days)-1]+float64(r.IntN(3))), append(x, r.NormFloat64())
	}
	for from, got := range tails(days, x) {
		want := tail{n: float64(len(x) - from), sum: floats.Sum(x[from:]), days: len(slices.Compact(slices.Clone(days[from:])))}
		for i := from; i < len(x); i++ {
			d := days[i] - days[from]
			want.t, want.tt, want.tx = want.t+d, want.tt+d*d, want.tx+d*x[i]
		}
		assert.InDelta(t, want.sum, got.sum, 1e-12, from)
		assert.InDelta(t, want.tx, got.tx, 1e-9, from)
		got.sum, got.tx = want.sum, want.tx
		assert.Equal(t, want, got, from)
	}
}
