package curve_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// reversing returns the net density of a film that gets lighter again from a place
// on, so much a log H.
func reversing(f simulated.Film, from, width, fall float64) func(x float64) float64 {
	slope := (f.Net(from+0.01) - f.Net(from-0.01)) / 0.02
	return func(x float64) float64 { return f.Net(x) - (slope+fall)*simulated.Corner(x-from, width) }
}

// Film that reverses is named, and its true readings are not called slips; speed and
// the rise over 1.30 log H cover as for other film. Film that does
// not is never said to, nor one with a low reading at the end of a flat part.
func TestReversal(t *testing.T) {
	t.Parallel()
	var base, speed, iso blind.Tally
	named, accused, plain, slipped, n := 0, 0, 0, 0, 150*blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 78))
		f, b := simulated.Ordinary.Film(r, i%len(simulated.ClassNames)), simulated.Ordinary.Bench(r)
		strip := b.Read(r, f)
		m, err := curve.Measure(b.Trial(t, strip).Strips()[0], curve.MeasureOptions{})
		require.NoError(t, err)
		if len(m.Fit.Reversed) > 0 {
			plain++
		}

		steep := b.Read(r, steepFilm(r))
		if low, ok := withSlips(b, steep, []slip{{b.Steps - 1, -0.1}}); ok && len(measureOn(t, b, low).Fit.Reversed) > 0 {
			slipped++
		}
		slices.Reverse(steep.Density)
		_, err = curve.Measure(b.Trial(t, steep).Strips()[0], curve.MeasureOptions{})
		assert.ErrorContains(t, err, "run against the order of the wedge")

		from, width := b.Reach()-simulated.Between(r, 0.3, 0.9), simulated.Between(r, 0.03, 0.12)
		net := reversing(f, from, width, simulated.Between(r, 0.4, 2))
		m, err = curve.Measure(b.Trial(t, b.ReadFilm(r, f.Base, net)).Strips()[0], curve.MeasureOptions{})
		require.NoError(t, err)
		if len(m.Fit.Reversed) > 0 {
			named++
		}
		if len(m.Fit.SetAside) > 0 {
			accused++
		}
		blind.Judge(&base, m.BaseFog, f.Base, blind.Apart, math.NaN())
		blind.Judge(&speed, m.SpeedPoint, f.SpeedPoint()+b.Faint(), blind.Apart, math.NaN())
		if from-3*width > f.SpeedPoint()+1.3 { // where the contrast of ISO 6 ends
			blind.Judge(&iso, m.ISODifference, f.Rise(1.3), blind.Apart, math.NaN())
		}
	}
	allow := func(n int) float64 { return math.Max(0.03, 2.5*math.Sqrt(0.95*0.05/float64(n))) }
	for name, a := range map[string]*blind.Tally{"base": &base, "speed": &speed, "iso": &iso} {
		t.Logf("%-6s n %d missing %d bias %+.4f rms %.4f cover %.1f", name, a.N, a.Missing, a.Bias(), a.RMS(), 100*a.Coverage())
		assert.InDelta(t, 0.95, a.Coverage(), allow(a.N), "coverage of %s", name)
	}
	t.Logf("of %d that reverse %d named, %d accused; of as many others %d named, of flat ends with a slip %d", n, named, accused, plain, slipped)
	assert.GreaterOrEqual(t, float64(named), 0.95*float64(n), "films that reverse, named")
	assert.LessOrEqual(t, float64(accused), 0.05*float64(n), "films that reverse, with a reading accused")
	assert.Zero(t, plain, "films that do not reverse, said to")
	assert.LessOrEqual(t, float64(slipped), 0.01*float64(n), "a slip at the end of a long flat part, taken for a reversal")
}
