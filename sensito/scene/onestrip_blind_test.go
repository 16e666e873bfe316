package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// contrastIndex returns that of the film: where the ray from the base meets the curve at
// 0.20 and 2.20.
func (f netCurve) contrastIndex() float64 {
	meets := func(at, radius float64) float64 {
		return simulated.Bisect(at, at+radius, func(x float64) float64 { return math.Hypot(x-at, f(x)) - radius })
	}
	// The ray begins where both arcs give one slope.
	slope := func(at float64) (gap, index float64) {
		a, b := meets(at, 0.2), meets(at, 2.2)
		return f(a)/(a-at) - f(b)/(b-at), f(b) / (b - at)
	}
	m := f.speedPoint()
	at := simulated.Bisect(m-0.6, m+0.6, func(x float64) float64 { gap, _ := slope(x); return gap })
	_, index := slope(at)
	return index
}

// Single strips of films of forms that are not fitted, under wedges of 21 steps and of 7:
// none loses a reading more often than one in a hundred, and what they say covers.
func TestBlindFormsOfOneStrip(t *testing.T) {
	t.Parallel()
	names := []string{"speed point", "contrast index", "average gradient", "fractional"}
	seven := simulated.Usual
	seven.Steps, seven.Step = 7, 0.45
	pooled := make([]blind.Tally, len(names))
	text := ""
	for k, kit := range []simulated.Kit{simulated.Usual, seven} {
		for form, c := range foreignForms {
			all := make([]blind.Tally, len(names))
			lost := 0
			for i := range 24 * blind.Effort(t) {
				r := rand.New(rand.NewPCG(uint64(i), uint64(1300+20*k+form)))
				d := newForeign(r, form, [2]float64{0.45, 0.75})
				d.Kit = kit
				minutes := d.minutes[r.IntN(5)]
				film := d.developed(r, minutes)
				s := d.ReadFilm(r, d.base+d.fog*minutes, film)
				s.Minutes = sensito.Minutes(minutes)
				ms, err := curve.MeasureTrial(d.Trial(t, s), curve.MeasureOptions{})
				require.NoError(t, err)
				m := ms[0]
				lost += len(m.Fit.SetAside)
				blind.Judge(&all[0], m.SpeedPoint, film.speedPoint()+d.Faint(), blind.Apart, math.NaN())
				blind.Judge(&all[1], m.ContrastIndex, film.contrastIndex(), blind.Apart, math.NaN())
				at := film.speedPoint()
				blind.Judge(&all[2], m.AverageGradient, (film(at+1.5)-film(at))/1.5, blind.Apart, math.NaN())
				if v := m.FractionalGradientSpeed; v != nil {
					blind.Judge(&all[3], v, float64(curve.FractionalGradientSpeed(sensito.LogExposure(simulated.FractionalPoint(film, film.speedPoint())+d.Faint()))), blind.InStops, math.NaN())
				}
			}
			text += fmt.Sprintf("\n%-32s %2d steps, n %3d, lost %d ", c.name, kit.Steps, all[0].N, lost)
			for j, a := range all {
				text += fmt.Sprintf("| %+.4f %.4f %5.1f (%d) ", a.Bias(), a.RMS(), 100*a.Coverage(), a.N)
				pooled[j].N, pooled[j].Covered = pooled[j].N+a.N, pooled[j].Covered+a.Covered
				least := math.Min(0.92, 0.95-3.3*math.Sqrt(0.95*0.05/float64(a.N)))
				assert.GreaterOrEqual(t, a.Coverage(), least, "%s of %s, %d steps", names[j], c.name, kit.Steps)
			}
			assert.LessOrEqual(t, lost, max(2, all[0].N/100), "readings of clean strips, %s, %d steps", c.name, kit.Steps)
		}
	}
	t.Log(text)
	for j, a := range pooled {
		t.Logf("%s covers %.1f", names[j], 100*a.Coverage())
	}
	for j := range names {
		assert.InDelta(t, 0.96, pooled[j].Coverage(), 0.025, names[j])
	}
}
