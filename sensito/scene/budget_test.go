package scene_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// The parts of the error of a time make up the whole, the largest first, and each is
// largest where it should be.
func TestBudget(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 35))
	d, b := simulated.Reaching.Developing(r, 0), simulated.Reaching.Bench(r)
	var strips []sensito.StripSpec
	for _, minutes := range d.Minutes {
		s := b.Read(r, d.At(minutes))
		s.Minutes = sensito.Minutes(minutes)
		strips = append(strips, s)
	}
	budget := func(reading sensito.Reading, repeating sensito.Repeating, s scene.Scene) []scene.Part {
		spec := b.Trial(t, strips...).Spec()
		spec.Reading, spec.Repeating = reading, repeating
		s.Stops = 7
		p, err := scene.For(blind.FamilyOf(t, spec), s)
		require.NoError(t, err)
		parts, sum, last := p.Budget(), 0.0, 1.0
		for _, part := range parts {
			assert.LessOrEqual(t, part.Share, last)
			sum, last = sum+part.Share, part.Share
		}
		assert.InDelta(t, 1, sum, 0.02, "%v", parts)
		return parts
	}
	usual := budget(sensito.Reading{}, sensito.Repeating{}, scene.Scene{})
	assert.Len(t, usual, 4, "%v", usual)
	assert.Equal(t, "densitometer", budget(sensito.Reading{ScaleSD: 0.03}, sensito.Repeating{}, scene.Scene{})[0].Of)
	assert.Equal(t, "process", budget(sensito.Reading{}, sensito.Repeating{TemperatureSDC: 1}, scene.Scene{})[0].Of)
	assert.Equal(t, scene.PartToday, budget(sensito.Reading{}, sensito.Repeating{}, scene.Scene{Today: scene.Today{Conditions: development.Conditions{TemperatureC: new(26.0)}}})[0].Of)
	spec := b.Trial(t, strips...).Spec()
	spec.Calibrations = []sensito.Calibration{calibrated("nominal", 0.03, 0.02)}
	for i := range spec.Strips {
		spec.Strips[i].Calibration = "nominal"
	}
	p, err := scene.For(blind.FamilyOf(t, spec), scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.Equal(t, "pictures", p.Budget()[0].Of)
	of, smaller := answers.ErrorPart(p.Budget()[0], p.Family.Trial)
	assert.Equal(t, [2]string{"calibration of the pictures", "a tablet with a certificate"}, [2]string{of, smaller})
	spec.Calibrations = []sensito.Calibration{calibrated("nominal", 0.01, 0.005)}
	certified, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	_, smaller = answers.ErrorPart(p.Budget()[0], certified)
	assert.Equal(t, "readings by a densitometer", smaller, "the tablet has one")
	paper := budget(sensito.Reading{}, sensito.Repeating{}, scene.Scene{Paper: unsurePaper(t)})
	assert.Equal(t, scene.PartAim, paper[0].Of)
}
