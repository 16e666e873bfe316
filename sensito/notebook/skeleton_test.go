package notebook

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/testplan"
)

// A skeleton is read back as the test that it is of, with no step read.
func TestSkeleton(t *testing.T) {
	for name, spec := range map[string]testplan.FirstTestSpec{
		"contact": {Way: sensito.Contact, Process: sensito.Process{Developer: "Ashlar", Dilution: "1+4", TemperatureC: 20.5, Agitation: sensito.AgitationContinuous}},
		"camera":  {Way: sensito.Camera, StopStep: 0.5},
		"thirds":  {Way: sensito.Camera, StopStep: 1. / 3},
		"strange": {Film: sensito.Film{Name: "a \"quoted\" film \\ <&> ü", Batch: "7"}, WedgeCount: 31, WedgeStep: 0.1},
	} {
		t.Run(name, func(t *testing.T) {
			if spec.Film.Name == "" {
				spec.Film.Name = "Tern 400"
			}
			spec.Film.RatedSpeed, spec.Minutes = 400, 9
			p, err := testplan.FirstTest(spec)
			require.NoError(t, err)
			trial, err := Read("skeleton", bytes.NewReader(Skeleton(p)))
			require.NoError(t, err, "%s", Skeleton(p))
			assert.Equal(t, spec.Film.Name, trial.Film().Name)
			assert.Equal(t, spec.Film.Batch, trial.Film().Batch)
			assert.Equal(t, sensito.Speed(400), trial.Film().RatedSpeed)
			assert.Equal(t, spec.Process, trial.Process())
			assert.Equal(t, p.Exposures.Kind(), trial.Exposures().Kind())
			assert.InDeltaSlice(t, floats(p.Exposures.LogH()), floats(trial.Exposures().LogH()), 1e-12)
			require.Len(t, trial.Strips(), len(p.Minutes))
			for i, s := range trial.Strips() {
				assert.Equal(t, p.Minutes[i], s.Minutes())
				assert.Empty(t, s.BaseFog())
				for _, step := range s.Steps() {
					assert.True(t, math.IsNaN(float64(step.Density)))
				}
			}
		})
	}
}

func floats(h []sensito.LogExposure) []float64 {
	out := make([]float64, len(h))
	for i, v := range h {
		out[i] = float64(v)
	}
	return out
}
