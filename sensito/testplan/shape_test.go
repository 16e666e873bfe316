package testplan

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// What the strips together err by in their shape comes out as is thought of strips to
// come, under a wedge of half stops and under one so coarse that more strips tell little of
// what lies between its steps.
func TestShapeToCome(t *testing.T) {
	t.Parallel()
	coarse := simulated.Kit{Steps: 8, Step: 0.43, Noise: 0.01}
	for _, kit := range []simulated.Kit{simulated.Usual, coarse} {
		var off []float64 // ln of what comes over what was thought, of density rises and speed points
		for i := range 24 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), 13))
			film, bench := simulated.Reaching.Developing(r, i%len(simulated.ClassNames)), simulated.Reaching.Bench(r)
			bench.Kit = kit
			var strips []sensito.StripSpec
			develop := func(minutes float64) {
				by := 1 + development.Scatter*r.NormFloat64()
				s := bench.Read(r, film.At(minutes).Scaled(func(int) float64 { return by }))
				s.Minutes = sensito.Minutes(minutes)
				strips = append(strips, s)
			}
			tested := func() (*design, error) {
				f, err := development.NewFamily(bench.Trial(t, strips...), curve.MeasureOptions{})
				require.NoError(t, err)
				return newDesign(f, scene.Scene{Stops: 7}, WantedMinutes)
			}
			for _, k := range []int{0, 2, 4} {
				develop(film.Minutes[k])
			}
			thought, err := tested()
			if err != nil || thought.guessed {
				continue // the aim looks out of reach
			}
			for _, from := range []float64{0.9, 1.3} {
				minutes := math.Round(from*thought.told/timeStep) * timeStep
				develop(minutes)
				thought = thought.with(minutes)
			}
			come, err := tested()
			if err != nil {
				continue
			}
			off = append(off, math.Log(shapeSD(come, scene.ColumnRise)/shapeSD(thought, scene.ColumnRise)), math.Log(shapeSD(come, curve.ColumnSpeedPoint)/shapeSD(thought, curve.ColumnSpeedPoint)))
		}
		mean := stat.Mean(off, nil)
		t.Logf("%d steps: %.3f times what was thought, of %d", kit.Steps, math.Exp(mean), len(off))
		assert.InDelta(t, 0, mean, 0.04, "%d steps", kit.Steps)
		assert.Greater(t, len(off), 40)
	}
}

// shapeSD returns the standard deviation of the mean of a column over the strips, by the
// shape that they share.
func shapeSD(d *design, column int) float64 {
	variance := 0.0
	for _, move := range d.table.Moves {
		if move.Of == development.OfShape {
			mean := 0.0
			for j := range d.table.Rows {
				mean += move.At(j, column) / float64(len(d.table.Rows))
			}
			variance += mean * mean
		}
	}
	return math.Sqrt(variance)
}
