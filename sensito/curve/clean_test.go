package curve_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// evenSteep draws a film for line work of normally rounded corners, which no form has.
func evenSteep(r *rand.Rand) func(x float64) float64 {
	gradient, most := simulated.Between(r, 3, 8), simulated.Between(r, 2.5, 4)
	at, toe, shoulder := simulated.Between(r, 0.6, 1.2), simulated.Between(r, 0.03, 0.12), simulated.Between(r, 0.03, 0.15)
	ramp := func(u, w float64) float64 {
		return u*math.Erfc(-u/w/math.Sqrt2)/2 + w/math.Sqrt(2*math.Pi)*math.Exp(-u*u/w/w/2)
	}
	return func(x float64) float64 { return gradient * (ramp(x-at, toe) - ramp(x-at-most/gradient, shoulder)) }
}

// halfSteep draws a film of a gradient of 1 to 4, with corners as much sharper than those of
// other film, which ends anywhere on the wedge or beyond.
func halfSteep(r *rand.Rand) simulated.Film {
	g := simulated.Between(r, 1, 4)
	f := simulated.Film{Base: simulated.Between(r, 0.04, 0.12), Layers: []simulated.Layer{{Shape: simulated.Shouldered, Amplitude: g,
		Width: simulated.Between(r, 0.06, 0.20) / g, Span: simulated.Between(r, 2.5, 4) / g, SpanWidth: simulated.Between(r, 0.10, 0.30) / g}}}
	return f.Moved(simulated.Between(r, 0.6, 1.2) - f.SpeedPoint())
}

// Clean strips of any film and wedge lose a reading in one of 500 at most: above all where a
// curve has few readings to each of its parts.
func TestBlindCleanStrips(t *testing.T) {
	t.Parallel()
	coarse, full := simulated.Kit{Steps: 8, Step: 0.43, Noise: 0.01}, simulated.Kit{Steps: 11, Step: 0.30, Noise: 0.01}
	film := func(f simulated.Film) (float64, func(float64) float64) { return f.Base, f.Net }
	class := func(p simulated.Practice, classes string) func(r *rand.Rand) (float64, func(float64) float64) {
		return func(r *rand.Rand) (float64, func(float64) float64) {
			return film(p.Film(r, strings.IndexByte(simulated.ClassNames, classes[r.IntN(len(classes))])))
		}
	}
	steep := func(r *rand.Rand) (float64, func(float64) float64) { return film(steepFilm(r)) }
	even := func(r *rand.Rand) (float64, func(float64) float64) { return 0.08, evenSteep(r) }
	half := func(r *rand.Rand) (float64, func(float64) float64) { return film(halfSteep(r)) }
	for k, c := range []struct {
		name   string
		strips int
		simulated.Kit
		draw func(r *rand.Rand) (base float64, net func(x float64) float64)
	}{
		{"all classes, 8 steps", 1000, coarse, class(simulated.Careless, simulated.ClassNames)},
		{"shoulders, 8 steps", 4000, coarse, class(simulated.Ordinary, "b")},
		{"steep, 8 steps", 1000, coarse, steep},
		{"steep, 11 steps", 1000, full, steep},
		{"steep of other corners, 8 steps", 1000, coarse, even},
		{"steep of other corners, 11 steps", 1000, full, even},
		{"half steep, 8 steps", 1000, coarse, half},
		{"half steep, 21 steps", 1000, simulated.Usual, half},
	} {
		p := simulated.Ordinary
		p.Kit = c.Kit
		lost, n := 0, c.strips*blind.Effort(t)
		for i := range n {
			r := rand.New(rand.NewPCG(uint64(i), uint64(180+k)))
			base, net := c.draw(r)
			b := p.Bench(r)
			if len(measureOn(t, b, b.ReadFilm(r, base, net)).Fit.LeftOut()) > 0 {
				lost++
			}
		}
		due := float64(n) / 500
		t.Logf("%-32s %3d of %d lost a reading", c.name, lost, n)
		assert.LessOrEqual(t, float64(lost), due+2*math.Sqrt(due), "%s: clean strips that lost a reading", c.name)
	}
}

// Of steep film, whose corners lie between two steps, a curve without a reading does not tell
// what other curves do: these clean strips each lost one where they were not all fitted.
func TestSteepStripsKeepReadings(t *testing.T) {
	p := simulated.Ordinary
	p.Kit = simulated.Kit{Steps: 11, Step: 0.30, Noise: 0.01}
	for _, seed := range []uint64{2093, 3143, 4022, 5722, 6328, 6485, 7395, 7773} { // of 8,000
		r := rand.New(rand.NewPCG(seed, 190))
		net := evenSteep(r)
		b := p.Bench(r)
		assert.Empty(t, measureOn(t, b, b.ReadFilm(r, 0.08, net)).Fit.LeftOut(), "%d", seed)
	}
}
