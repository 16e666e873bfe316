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

// Strips of films of forms that are not fitted, single ones under wedges of 21 steps and
// of 7 and five of a film: none loses a reading more often than one in a hundred, and
// what they say of themselves covers: of the film as it came of that development, which is
// not quite what another one for the same time gives.
func TestBlindFormsOfStrips(t *testing.T) {
	t.Parallel()
	names := []string{"speed point", "contrast index", "average gradient", "fractional"}
	seven := simulated.Usual
	seven.Steps, seven.Step = 7, 0.45
	for k, c := range []struct {
		name          string
		strips, films int // of each form
		simulated.Kit
	}{{"21 steps", 1, 24, simulated.Usual}, {"7 steps", 1, 24, seven}, {"five strips", 5, 8, simulated.Usual}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			judged := names
			if c.strips > 1 {
				judged = names[:3] // TestBlindFractional has the other of five strips
			}
			pooled := make([]blind.Tally, len(names))
			text := ""
			films := c.films * blind.Effort(t)
			few := 0.95 - 3.3*math.Sqrt(0.95*0.05/float64(films)) // strips of a film miss together, so that films count
			for form, f := range everyForm {
				all := make([]blind.Tally, len(names))
				lost := 0
				for i := range films {
					r := rand.New(rand.NewPCG(uint64(i), uint64(1300+20*k+form)))
					d := newForeign(r, form, [2]float64{0.45, 0.75})
					d.Kit = c.Kit
					if c.strips == 1 {
						d.minutes = []float64{d.minutes[r.IntN(5)]}
					}
					var strips []sensito.StripSpec
					var came []netCurve
					for _, minutes := range d.minutes {
						film := d.developed(r, minutes)
						s := d.ReadFilm(r, d.base+d.fog*minutes, film)
						s.Minutes = sensito.Minutes(minutes)
						strips, came = append(strips, s), append(came, film)
					}
					ms, err := curve.MeasureTrial(d.Trial(t, strips...), curve.MeasureOptions{})
					require.NoError(t, err)
					for j, m := range ms {
						film := came[j]
						lost += len(m.Fit.SetAside)
						at := film.speedPoint()
						blind.Judge(&all[0], m.SpeedPoint, at+d.Faint(), blind.Apart, math.NaN())
						blind.Judge(&all[1], m.ContrastIndex, film.contrastIndex(), blind.Apart, math.NaN())
						blind.Judge(&all[2], m.AverageGradient, (film(at+1.5)-film(at))/1.5, blind.Apart, math.NaN())
						if v := m.FractionalGradientSpeed; v != nil {
							blind.Judge(&all[3], v, float64(curve.FractionalGradientSpeed(sensito.LogExposure(simulated.FractionalPoint(film, at)+d.Faint()))), blind.InStops, math.NaN())
						}
					}
				}
				text += fmt.Sprintf("\n%-32s n %3d, lost %d ", f.name, all[0].N, lost)
				for j, name := range judged {
					a := &all[j]
					text += fmt.Sprintf("| %+.4f %.4f %5.1f (%d) ", a.Bias(), a.RMS(), 100*a.Coverage(), a.N)
					pooled[j].N, pooled[j].Covered = pooled[j].N+a.N, pooled[j].Covered+a.Covered
					assert.GreaterOrEqual(t, a.Coverage(), math.Min(0.92, few), "%s of %s", name, f.name)
				}
				assert.LessOrEqual(t, lost, max(2, all[0].N/100), "readings of clean strips, %s", f.name)
			}
			for j, name := range judged {
				text += fmt.Sprintf("\n%s covers %.1f", name, 100*pooled[j].Coverage())
				assert.InDelta(t, 0.96, pooled[j].Coverage(), 0.025, name)
			}
			t.Logf("bias, rms and coverage of %v%s", judged, text)
		})
	}
}
