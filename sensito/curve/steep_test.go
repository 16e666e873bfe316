package curve_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// steepFilm draws a film for line work: a gradient of 3 to 8, a short toe, and a
// shoulder where its density ends.
func steepFilm(r *rand.Rand) simulated.Film {
	gradient, most := simulated.Between(r, 3, 8), simulated.Between(r, 2.5, 4)
	f := simulated.Film{Base: simulated.Between(r, 0.04, 0.12), Layers: []simulated.Layer{{Shape: simulated.Shouldered, Amplitude: gradient,
		Width: simulated.Between(r, 0.02, 0.08), Span: most / gradient, SpanWidth: simulated.Between(r, 0.02, 0.10)}}}
	return f.Moved(simulated.Between(r, 0.6, 1.2) - f.SpeedPoint())
}

// Films for line work rise from base to their greatest density within a few steps:
// intervals cover as for other film, and clean readings are not accused.
func TestBlindSteepStrips(t *testing.T) {
	t.Parallel()
	var base, speed, index, iso blind.Tally
	accused, n := 0, 200*blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 77))
		f, b := steepFilm(r), simulated.Ordinary.Bench(r)
		strip := b.Trial(t, b.Read(r, f)).Strips()[0]
		m, err := curve.Measure(strip, curve.MeasureOptions{})
		require.NoError(t, err, "%+v", f)
		if len(m.Fit.LeftOut()) > 0 {
			accused++
		}
		blind.Judge(&base, m.BaseFog, f.Base, blind.Apart, math.NaN())
		blind.Judge(&speed, m.SpeedPoint, f.SpeedPoint()+b.Faint(), blind.Apart, math.NaN())
		blind.Judge(&index, m.ContrastIndex, f.ContrastIndex(), blind.Apart, math.NaN())
		blind.Judge(&iso, m.ISODifference, f.Rise(1.3), blind.Apart, math.NaN())
	}
	for name, a := range map[string]*blind.Tally{"base": &base, "speed": &speed, "index": &index, "iso": &iso} {
		t.Logf("%-6s n %d missing %d bias %+.4f rms %.4f cover %.1f", name, a.N, a.Missing, a.Bias(), a.RMS(), 100*a.Coverage())
		allow := math.Max(0.03, 2.5*math.Sqrt(0.95*0.05/float64(n)))
		assert.InDelta(t, 0.95, a.Coverage(), allow, "coverage of %s", name)
		assert.Zero(t, a.Missing, name)
	}
	assert.Less(t, speed.RMS(), 0.011, "rms error of the speed point, log H; 0.018 where shoulders are held to those of other film")
	t.Logf("clean strips accused: %d of %d", accused, n)
	due := float64(n) / 500
	assert.LessOrEqual(t, float64(accused), due+3*math.Sqrt(due), "clean strips that lost a reading")
}
