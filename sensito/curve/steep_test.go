package curve_test

import (
	"fmt"
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

// Under a coarse wedge one to three steps lie on the slope of steep film: how sharp its
// corners are is told by what is usual, and what is not known of them is in the error.
func TestBlindSteepWedges(t *testing.T) {
	t.Parallel()
	of := func(f simulated.Film) (float64, func(float64) float64) { return f.Base, f.Net }
	for k, c := range []struct {
		name  string
		steps int
		step  float64
		draw  func(r *rand.Rand) (base float64, net func(x float64) float64)
	}{
		{"steep", 8, 0.43, func(r *rand.Rand) (float64, func(float64) float64) { return of(steepFilm(r)) }},
		{"steep", 11, 0.30, func(r *rand.Rand) (float64, func(float64) float64) { return of(steepFilm(r)) }},
		{"steep of other corners", 8, 0.43, func(r *rand.Rand) (float64, func(float64) float64) { return 0.08, evenSteep(r) }},
		{"steep of other corners", 11, 0.30, func(r *rand.Rand) (float64, func(float64) float64) { return 0.08, evenSteep(r) }},
		{"half steep", 8, 0.43, func(r *rand.Rand) (float64, func(float64) float64) { return of(halfSteep(r)) }},
		{"half steep", 14, 0.23, func(r *rand.Rand) (float64, func(float64) float64) { return of(halfSteep(r)) }},
	} {
		p := simulated.Ordinary
		p.Kit = simulated.Kit{Steps: c.steps, Step: c.step, Noise: 0.01}
		names := []string{"base", "speed", "index", "iso"}
		all := make([]blind.Tally, len(names))
		for i := range 200 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), uint64(230+k)))
			base, net := c.draw(r)
			b := p.Bench(r)
			m, err := curve.Measure(b.Trial(t, b.ReadFilm(r, base, net)).Strips()[0], curve.MeasureOptions{})
			require.NoError(t, err)
			point := simulated.Bisect(-4, 6, func(x float64) float64 { return net(x) - 0.10 })
			blind.Judge(&all[0], m.BaseFog, base, blind.Apart, math.NaN())
			blind.Judge(&all[1], m.SpeedPoint, point+b.Faint(), blind.Apart, math.NaN())
			blind.Judge(&all[2], m.ContrastIndex, simulated.ContrastIndex(net), blind.Apart, math.NaN())
			blind.Judge(&all[3], m.ISODifference, net(point+1.3)-net(point), blind.Apart, math.NaN())
		}
		text := ""
		for j, a := range all {
			text += fmt.Sprintf("  %s %.1f (rms %.4f)", names[j], 100*a.Coverage(), a.RMS())
			assert.GreaterOrEqual(t, a.Coverage(), 0.92-math.Sqrt(0.92*0.08/float64(a.N)), "%s, %d steps: coverage of %s", c.name, c.steps, names[j])
			assert.Zero(t, a.Missing, names[j])
		}
		t.Logf("%-22s %2d steps%s", c.name, c.steps, text)
	}
}
