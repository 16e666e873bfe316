package fit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Sample is the distribution of a quantity by draws of what it is computed from
// (JCGM 101:2008, Propagation of distributions using a Monte Carlo method), the
// judge of errors that are computed otherwise.
type Sample struct {
	Mean, SD float64 // of the N draws (7.6)
	N        int
	sorted   []float64
}

// propagate calls model the given number of times with a generator started from
// seed, from which alone its numbers must come.
func propagate(t testing.TB, seed uint64, draws int, model func(r *rand.Rand) (float64, error)) Sample {
	r := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	s := Sample{N: draws}
	for range draws {
		v, err := model(r)
		require.NoError(t, err)
		s.sorted = append(s.sorted, v)
	}
	slices.Sort(s.sorted)
	s.Mean, s.SD = moments(s.sorted)
	return s
}

// moments returns the mean and the standard deviation of v, NaN where there
// are too few values.
func moments(v []float64) (mean, sd float64) {
	n := float64(len(v))
	for _, x := range v {
		mean += x / n
	}
	var squares, rest float64 // rest is the rounding of the mean
	for _, x := range v {
		squares += (x - mean) * (x - mean)
		rest += x - mean
	}
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	return mean + rest/n, math.Sqrt((squares - rest*rest/n) / (n - 1))
}

// Interval returns the probabilistically symmetric coverage interval at the
// level (JCGM 101:2008, 7.7.2): as much probability lies below it as above. It
// is NaN when the level needs more draws than there are; JCGM 101 asks for
// 10,000 divided by 1 - level (7.2.2). It panics unless 0 < level < 1.
func (s Sample) Interval(level float64) (lo, hi float64) {
	q := s.within(level)
	r := (s.N - q + 1) / 2 // (M-q)/2, or the integer part of (M-q+1)/2
	if r < 1 {
		return math.NaN(), math.NaN()
	}
	return s.sorted[r-1], s.sorted[r+q-1]
}

// Shortest returns the shortest coverage interval at the level (JCGM 101:2008,
// 5.3.4 and 7.7.4), the lowest of equally short ones, with NaN and panics as
// Interval.
func (s Sample) Shortest(level float64) (lo, hi float64) {
	q := s.within(level)
	if q >= s.N {
		return math.NaN(), math.NaN()
	}
	best := 0
	for r := range s.N - q {
		if s.sorted[r+q]-s.sorted[r] < s.sorted[best+q]-s.sorted[best] {
			best = r
		}
	}
	return s.sorted[best], s.sorted[best+q]
}

// within returns how many draws an interval at the level spans: pM, or the
// integer part of pM + 1/2.
func (s Sample) within(level float64) int {
	checkLevel(level)
	return int(level*float64(s.N) + 0.5)
}

// The ranks of JCGM 101:2008, 7.7.2, on the numbers 1 to M.
func TestIntervalRanks(t *testing.T) {
	for _, c := range []struct {
		m      int
		level  float64
		lo, hi float64
	}{
		{100, 0.95, 3, 98},    // q = 95, (M-q)/2 = 2.5, r = int(3.0) = 3
		{1000, 0.95, 25, 975}, // q = 950, r = 25
		{1001, 0.95, 25, 976}, // q = int(951.45) = 951, r = 25
		{10, 0.5, 3, 8},       // q = 5, r = 3
		{10, 0.9, 1, 10},      // q = 9, r = int(1.0) = 1
		{200000, 0.99, 1000, 199000},
	} {
		s := sequence(c.m)
		lo, hi := s.Interval(c.level)
		assert.Equal(t, []float64{c.lo, c.hi}, []float64{lo, hi}, "%+v", c)
		lo, hi = s.Shortest(c.level)
		assert.Equal(t, 1.0, lo, "all are equally short: the lowest")
		assert.Equal(t, c.hi-c.lo, hi-lo)
	}
	s := sequence(10)
	lo, hi := s.Interval(0.99)
	assert.True(t, math.IsNaN(lo) && math.IsNaN(hi), "too few draws")
	lo, hi = s.Shortest(0.99)
	assert.True(t, math.IsNaN(lo) && math.IsNaN(hi))
	assert.Panics(t, func() { s.Interval(0) })
	assert.Panics(t, func() { s.Shortest(1) })
}

func sequence(m int) Sample {
	s := Sample{N: m}
	for i := range m {
		s.sorted = append(s.sorted, float64(i+1))
	}
	return s
}

// moments where digits cancel: 1e9 + 1, 2, 3 has the deviation of 1, 2, 3.
func TestMoments(t *testing.T) {
	mean, sd := moments([]float64{1e9 + 1, 1e9 + 2, 1e9 + 3})
	assert.Equal(t, 1e9+2, mean)
	assert.InDelta(t, 1, sd, 1e-12)
}

// The error of a development time, by draws of what five
// strips give: within 4 %, since the growth bends a little over it.
func TestTimeErrorAgainstDraws(t *testing.T) {
	times, g, sd := []float64{4, 6, 9, 13, 18}, []float64{0.41, 0.53, 0.66, 0.77, 0.84}, make([]float64, 5)
	for i := range sd {
		sd[i] = 0.01
	}
	told, err := FitKinetics(times, g, sd, false)
	require.NoError(t, err)
	told.Noise = NoiseGiven
	at, err := told.Time(0.6)
	require.NoError(t, err)
	moved := make([]float64, len(g))
	s := propagate(t, 1, 10_000, func(r *rand.Rand) (float64, error) {
		for i, m := range times {
			moved[i] = told.At(m) + sd[i]*r.NormFloat64()
		}
		f, err := FitKinetics(times, moved, sd, false)
		if err != nil {
			return 0, err
		}
		return f.Time(0.6)
	})
	assert.InEpsilon(t, s.SD, told.TimeSD(0.6), 0.04)
	assert.InDelta(t, s.Mean, at, 0.1*s.SD)
	lo, hi := s.Interval(0.95)
	low, high := told.TimeInterval(0.6, 0.95)
	assert.InDelta(t, lo, low, 0.1*s.SD)
	assert.InDelta(t, hi, high, 0.1*s.SD)
}
