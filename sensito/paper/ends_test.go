package paper_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/paper"
)

// told tallies what is told of papers whose wedge is cut.
type told struct {
	n, none            int // none: neither end of the curve is shown
	open               int // ranges
	logRange, closed   int // intervals of the range that cover, all and closed ones
	white, black, rate int // of the densities of white and black, and of the speed point
}

func (e told) share(k int) float64 { return float64(k) / float64(max(e.n, 1)) }

func (e *told) add(o told) {
	e.n, e.none, e.open = e.n+o.n, e.none+o.none, e.open+o.open
	e.logRange, e.closed = e.logRange+o.logRange, e.closed+o.closed
	e.white, e.black, e.rate = e.white+o.white, e.black+o.black, e.rate+o.rate
}

func covers[Q ~float64](e *sensito.Estimate[Q], truth float64) int {
	if e != nil { // else nothing is said
		if low, high := e.Interval(0.95); truth < float64(low) || truth > float64(high) {
			return 0
		}
	}
	return 1
}

// cutPapers measures papers of all shapes, n times each, on such wedges.
func cutPapers(t *testing.T, n int, from, to float64, whiteRead bool) told {
	var all told
	for k, shape := range simulated.PaperShapes {
		for i := range n {
			r := rand.New(rand.NewPCG(uint64(i), uint64(k)))
			p := shape.Of([]float64{0.5, 1.05, 2.0}[r.IntN(3)])
			m, err := paper.Measure(p.Cut(t, r, []float64{0.10, 0.15}[r.IntN(2)], from, to, whiteRead), curve.FitOptions{})
			if err != nil {
				continue // too short for any curve
			}
			s := m.Strips[0]
			if s.LogRange == nil {
				all.none++
				assert.False(t, s.WhiteReached || s.BlackReached, "%v", s.Warnings)
				continue
			}
			all.n++
			covered := covers(s.LogRange, p.LogRange)
			all.logRange += covered
			if s.LogRange.AtLeast {
				all.open++
			} else {
				all.closed += covered
			}
			all.white += covers(s.MinDensity, p.White)
			all.black += covers(s.MaxDensity, p.Black)
			all.rate += covers(s.SpeedPoint, p.SpeedPoint())
			assert.Equal(t, s.LogRange.AtLeast, !s.WhiteReached || !s.BlackReached)
			assert.Equal(t, s.LogRange.AtLeast, s.AverageGradient == nil)
		}
	}
	t.Logf("from %.3f to %.3f of black, white read %v: %d strips (%d show neither end), open %.0f %%, covered: range %.1f %% (closed ones %.1f %%), white %.1f %%, black %.1f %%, speed %.1f %%",
		from, to, whiteRead, all.n, all.none, 100*all.share(all.open), 100*all.share(all.logRange), 100*float64(all.closed)/float64(max(all.n-all.open, 1)),
		100*all.share(all.white), 100*all.share(all.black), 100*all.share(all.rate))
	return all
}

// check holds the coverage of 95 % intervals to limits; those with an open end
// cover more often, the more the wedge leaves out.
func (e told) check(t *testing.T) {
	t.Helper()
	for name, k := range map[string]int{"range": e.logRange, "white": e.white, "black": e.black, "speed point": e.rate} {
		due := 0.06 * float64(e.n)
		assert.LessOrEqual(t, float64(e.n-k), due+2*math.Sqrt(due)+1, "intervals of %s that miss, of %d", name, e.n)
	}
}

// Wedges that end before black: the range is open above, and covers; where black
// was reached it is closed.
func TestBlindPapersEndingEarly(t *testing.T) {
	t.Parallel()
	n := blind.Effort(t)
	var early, late told
	for _, to := range []float64{0.5, 0.7, 0.85, 0.93} {
		early.add(cutPapers(t, n, 0.004, to, true))
	}
	early.check(t)
	assert.GreaterOrEqual(t, early.share(early.open), 0.97, "of wedges that end at 93 %% of black or before")
	for _, to := range []float64{0.97, 0.99} {
		late.add(cutPapers(t, n, 0.004, to, true))
	}
	late.check(t)
	black := cutPapers(t, n, 0.004, 0.998, true)
	black.check(t)
	assert.LessOrEqual(t, black.share(black.open), 0.10, "where black is reached")
}

// Wedges that begin beyond white, unexposed paper read or not: likewise.
func TestBlindPapersBeginningDark(t *testing.T) {
	t.Parallel()
	n := blind.Effort(t)
	var early, white told
	for _, read := range []bool{true, false} {
		for _, from := range []float64{0.3, 0.05, 0.02} {
			early.add(cutPapers(t, n, from, 0.9985, read))
		}
		white.add(cutPapers(t, n, 0.004, 0.9985, read))
	}
	early.check(t)
	white.check(t)
	assert.LessOrEqual(t, white.share(white.open), 0.10, "where white is reached")
}

// What is known to one side only says so, each with its reason.
func TestPaperOpenEnds(t *testing.T) {
	t.Parallel()
	p := simulated.PaperShapes[4].Of(1.05) // logistic
	strip := func(from, to float64, whiteRead bool) *paper.Strip {
		m, err := paper.Measure(p.Cut(t, rand.New(rand.NewPCG(1, 1)), 0.10, from, to, whiteRead), curve.FitOptions{})
		require.NoError(t, err)
		return m.Strips[0]
	}
	open := func(low, high float64) string {
		switch {
		case math.IsInf(low, -1) && math.IsInf(high, 1):
			return "unknown"
		case math.IsInf(low, -1):
			return "or less"
		case math.IsInf(high, 1):
			return "or more"
		}
		return "both"
	}
	for _, c := range []struct {
		name                                     string
		from, to                                 float64
		whiteRead                                bool
		white, black, light, dark, length, speed string
		codes                                    []string
	}{
		{"whole", 0.004, 0.998, true, "both", "both", "both", "both", "both", "both", nil},
		{"ends before black", 0.004, 0.9, true, "both", "or more", "both", "or more", "or more", "both", []string{"black_not_reached"}},
		{"begins beyond white, which was read", 0.15, 0.998, true, "both", "both", "or less", "both", "or more", "both", []string{"white_not_reached"}},
		{"begins beyond white", 0.15, 0.998, false, "or less", "both", "or less", "or less", "or more", "or less", []string{"white_not_reached"}},
		{"begins beyond the speed point", 0.4, 0.998, true, "both", "both", "or less", "both", "or more", "or less", []string{"white_not_reached", "speed_not_reached"}},
		{"neither", 0.15, 0.85, true, "both", "or more", "or less", "or more", "", "both", []string{"black_not_reached", "white_not_reached"}},
	} {
		m := strip(c.from, c.to, c.whiteRead)
		of := func(e *sensito.Estimate[sensito.LogExposure]) string {
			low, high := e.Interval(0.95)
			return open(float64(low), float64(high))
		}
		density := func(e *sensito.Estimate[sensito.Density]) string {
			low, high := e.Interval(0.95)
			return open(float64(low), float64(high))
		}
		assert.Equal(t, c.white, density(m.MinDensity), "%s: white", c.name)
		assert.Equal(t, c.black, density(m.MaxDensity), "%s: black", c.name)
		assert.Equal(t, c.light, of(m.White), "%s: T", c.name)
		assert.Equal(t, c.dark, of(m.Black), "%s: S", c.name)
		assert.Equal(t, c.speed, of(m.SpeedPoint), "%s: speed point", c.name)
		if c.length == "" {
			assert.Nil(t, m.LogRange, c.name)
		} else {
			low, high := m.LogRange.Interval(0.95)
			assert.Equal(t, c.length, open(float64(low), float64(high)), "%s: range", c.name)
			iso, negative := m.ISORange(), m.Negative(1.3)
			assert.Equal(t, m.LogRange.AtLeast, iso.AtLeast)
			assert.Equal(t, m.LogRange.AtLeast, negative.AtLeast)
			assert.InDelta(t, float64(m.LogRange.Value)/1.3, float64(negative.Value), 1e-12)
		}
		for _, code := range []string{"black_not_reached", "white_not_reached", "speed_not_reached"} {
			assert.Equal(t, slices.Contains(c.codes, code), slices.Contains(blind.Codes(m.Warnings), code), "%s: %s", c.name, code)
		}
	}
}
