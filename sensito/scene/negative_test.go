package scene_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// The shadow tones of films of forms that are not fitted are on the mean those that the film
// has at the exposures told with them: between the times of the strips as well, where the
// density at the foot of a scene has grown with the gain, and not along a straight line.
func TestShadowTonesAreTheFilms(t *testing.T) {
	var off []float64
	for i := range 3 * len(foreignForms) {
		r := rand.New(rand.NewPCG(uint64(i), 77))
		d := newForeign(r, i%len(foreignForms), [2]float64{0.45, 0.75})
		d.Kit.Noise, d.scatter = 0.003, 0
		p, err := scene.For(d.family(t, r), scene.Scene{Stops: 7})
		require.NoError(t, err)
		tone := p.Tones[-3-scene.LowestTone]
		placed := math.Log10(8.125/(16*float64(p.ExposureIndex.Value))) - d.Faint()
		is := d.developed(r, float64(p.Minutes.Value))(placed + simulated.Normally(7).Above(-3))
		off = append(off, float64(tone.NetDensity.Value)-is)
	}
	assert.InDelta(t, 0, stat.Mean(off, nil), 0.001)
}

// What few strips tell of the scatter of the process is most of the error of a highlight
// and little of that of a shadow, whose interval is not widened by how few they are.
func TestTonesDegreesOfFreedom(t *testing.T) {
	_, _, family := blind.Family(t, simulated.Ordinary, rand.New(rand.NewPCG(5, 4)), 0)
	p, err := scene.For(family, scene.Scene{Stops: 7})
	require.NoError(t, err)
	tone := func(stops int) float64 { return p.Tones[stops-scene.LowestTone].NetDensity.DoF }
	assert.Less(t, p.Delivered.DoF, 15.)
	assert.Less(t, tone(2), 15.)
	assert.Greater(t, tone(-3), 1.4*tone(2))
}
