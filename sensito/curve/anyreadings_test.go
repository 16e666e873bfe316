package curve_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
)

// Whatever was read, of film or of nothing like it, a trial gives numbers or reasons.
func TestAnyReadings(t *testing.T) {
	t.Parallel()
	together := 0
	for i := range 10 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 9))
		steps := 6 + r.IntN(30)
		e, err := sensito.NewContact(1, 1, sensito.EvenWedge(0.05, sensito.Density(math.Min(0.05+0.4*r.Float64(), 5/float64(steps))), steps))
		require.NoError(t, err)
		var strips []sensito.StripSpec
		for range 1 + r.IntN(6) {
			s := sensito.StripSpec{Minutes: sensito.Minutes(2 + 10*r.Float64())}
			kind := r.IntN(5)
			for k := range steps {
				x := float64(k)
				v := []float64{
					3 * r.Float64(),
					2.5 - 2.5*x/float64(steps),
					0.1 + 3*math.Exp(-x/3),
					[]float64{2, 0.1}[2*k/steps],
					0.1 + 2/(1+math.Exp((x-float64(steps)/2)/2)) + 0.3*math.Sin(x),
				}[kind]
				s.Density = append(s.Density, sensito.Density(math.Max(0, math.Round(100*(v+0.01*r.NormFloat64()))/100)))
			}
			if r.IntN(2) == 0 {
				s.BaseFog = []sensito.Density{sensito.Density(r.Float64())}
			}
			strips = append(strips, s)
		}
		trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e, Strips: strips})
		require.NoError(t, err)
		ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{})
		if err != nil {
			continue
		}
		for _, m := range ms {
			if m.Fit == nil {
				continue
			}
			if m.Fit.Together != nil {
				together++
			}
			if m.SpeedPoint != nil {
				assert.False(t, math.IsNaN(float64(m.SpeedPoint.Value)), "trial %d", i)
			}
		}
	}
	assert.Greater(t, together, 8)
}
