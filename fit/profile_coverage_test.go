package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// coverage counts how often intervals for a time hold the true one.
type coverage struct{ low, high, within int } // the interval lies too low, too high, right

func (c *coverage) add(truth, lo, hi float64) {
	switch {
	case hi < truth:
		c.low++
	case lo > truth:
		c.high++
	default:
		c.within++
	}
}

func (c coverage) n() int { return c.low + c.high + c.within }

func (c coverage) share(part int) float64 { return 100 * float64(part) / float64(c.n()) }

// How often 95 % intervals for a time hold it: the profile, and the delta
// method in the logarithm of time. Strips are drawn about growth to 0.9 at 0.15
// a minute; 500 trials a row, times SENSITO_COVERAGE where that is set. A time
// counts as answered where the aim is below 0.95 of the limit found. The
// profile must cover 93 to 97 of 100 trials in every row, give or take the
// scatter of that number of trials, and miss as often on either side; the delta
// method is only logged, with the standard deviation of ln t that it rests on,
// the part of the profiles that are open, and how much wider they are, both at
// the median.
func TestTimeCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("statistics are for the full run")
	}
	trials := 500
	if v, err := strconv.Atoi(os.Getenv("SENSITO_COVERAGE")); err == nil {
		trials *= v
	}
	var pooled coverage
	t.Logf("%-22s %4s %5s %5s | %-24s | %-24s | %-17s %6s %6s %6s", "strips at, min", "sd", "aim", "time",
		"delta, answered (low high)", "profile, answered", "profile, all", "open", "width", "sd ln")
	for _, c := range []struct {
		times     []float64
		induction bool
	}{
		{[]float64{4, 6, 9, 13, 18}, false},
		{[]float64{4, 6, 9, 13, 18}, true},
		{[]float64{5, 8, 12}, false},
		{[]float64{4, 5.5, 7.5, 10}, false},
	} {
		truth := Kinetics{Limit: 0.9, Rate: 0.15}
		name := fmt.Sprint(c.times)
		if c.induction {
			truth.Induction = 1
			name += " t0"
		}
		for _, share := range []float64{0.01, 0.03} {
			for _, part := range []float64{0.5, 0.8, 0.9, 0.95} {
				aim := part * truth.Limit
				want, err := truth.Time(aim)
				require.NoError(t, err)
				r := rand.New(rand.NewPCG(12, uint64(1000*part)))
				var delta, profile, all coverage
				var width, spread []float64
				open := 0
				for range trials {
					g, sd := trueStrips(truth, c.times, share, r)
					f, err := FitKinetics(c.times, g, sd, c.induction)
					if err != nil {
						continue
					}
					lo, hi := f.TimeInterval(aim, 0.95)
					all.add(want, lo, hi)
					if math.IsInf(hi, 1) {
						open++
					}
					if aim > 0.95*f.Limit {
						continue
					}
					profile.add(want, lo, hi)
					at, err := f.Time(aim)
					require.NoError(t, err)
					by := math.Exp(1.959963984540054 * f.TimeSD(aim) / at)
					delta.add(want, at/by, at*by)
					spread = append(spread, f.TimeSD(aim)/at)
					width = append(width, math.Log(hi/lo)/(2*math.Log(by)))
				}
				line := func(c coverage) string {
					return fmt.Sprintf("%5.1f (%4.1f %4.1f) of %4.0f%%", c.share(c.within), c.share(c.low), c.share(c.high), 100*float64(c.n())/float64(trials))
				}
				slices.Sort(width)
				slices.Sort(spread)
				t.Logf("%-22s %3g%% %4g%% %5.1f | %s | %s | %5.1f (%4.1f %4.1f) %5.1f%% %6.2f %6.3f", name, 100*share, 100*part, want, line(delta), line(profile),
					all.share(all.within), all.share(all.low), all.share(all.high), 100*float64(open)/float64(trials), width[len(width)/2], spread[len(spread)/2])
				slack := 400 * math.Sqrt(0.95*0.05/float64(trials))
				assert.InDelta(t, 95, all.share(all.within), 2+slack)
				pooled.low, pooled.high, pooled.within = pooled.low+all.low, pooled.high+all.high, pooled.within+all.within
			}
		}
	}
	assert.InDelta(t, 95, pooled.share(pooled.within), 1)
	assert.InDelta(t, 2.5, pooled.share(pooled.low), 0.7)
	assert.InDelta(t, 2.5, pooled.share(pooled.high), 0.7)
}
