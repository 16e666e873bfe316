package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// The fractional-gradient speed covers in films of every foreign form, by one strip of 21
// steps and of 7, of two strips and of five: the toes of two emulsions above all, which
// bend twice and of which many films are drawn. What is told of the other forms is not
// much wider than they need.
func TestBlindFractional(t *testing.T) {
	t.Parallel()
	seven, coarse, fine := simulated.Usual, simulated.Usual, simulated.Usual
	seven.Steps, seven.Step = 7, 0.45
	coarse.Steps, coarse.Step = 8, 0.40
	fine.Steps, fine.Step = 61, 0.05
	for k, c := range []struct {
		name          string
		strips, films int     // of each form
		widest        float64 // mean width of the intervals, stops
		simulated.Kit
	}{
		{"21 steps", 1, 200, 0.58, simulated.Usual}, {"7 steps", 1, 200, 1.01, seven}, {"two strips", 2, 40, 0.475, simulated.Usual},
		{"five strips", 5, 20, 0.345, simulated.Usual}, {"five strips, coarse", 5, 10, 0.515, coarse}, {"five strips, fine", 5, 5, 0.245, fine},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			covered, width, bias := 0.0, 0.0, 0.0 // of all forms alike
			text := ""
			for form, f := range foreignForms {
				films := c.films * blind.Effort(t)
				if strings.HasPrefix(f.name, "two emulsions") {
					films *= 5
				}
				var a blind.Tally
				wide := 0.0
				for i := range films {
					r := rand.New(rand.NewPCG(uint64(i), uint64(1400+20*k+form)))
					d := newForeign(r, form, [2]float64{0.45, 0.75})
					d.Kit = c.Kit
					at := []float64{d.minutes[r.IntN(5)]}
					if c.strips > 1 {
						at = at[:0]
						for j := range c.strips {
							at = append(at, d.minutes[j*4/(c.strips-1)])
						}
					}
					var strips []sensito.StripSpec
					var truth []float64
					for _, minutes := range at {
						film := d.developed(r, minutes)
						s := d.ReadFilm(r, d.base+d.fog*minutes, film)
						s.Minutes = sensito.Minutes(minutes)
						h := simulated.FractionalPoint(film, film.speedPoint()) + d.Faint()
						strips, truth = append(strips, s), append(truth, float64(curve.FractionalGradientSpeed(sensito.LogExposure(h))))
					}
					ms, err := curve.MeasureTrial(d.Trial(t, strips...), curve.MeasureOptions{})
					require.NoError(t, err)
					for j, m := range ms {
						blind.Judge(&a, m.FractionalGradientSpeed, truth[j], blind.InStops, math.NaN())
						if v := m.FractionalGradientSpeed; v != nil {
							low, high := v.Interval(0.95)
							wide += blind.InStops(float64(high), float64(low))
						}
					}
				}
				wide /= float64(a.N)
				each := float64(len(foreignForms))
				covered, width, bias = covered+a.Coverage()/each, width+wide/each, bias+a.Bias()/each
				text += fmt.Sprintf("\n%-32s n %4d bias %+.3f rms %.3f covers %.1f width %.3f", f.name, a.N, a.Bias(), a.RMS(), 100*a.Coverage(), wide)
				// Strips of a film miss together, so that films count.
				least := math.Min(0.92, 0.95-3.3*math.Sqrt(0.95*0.05/float64(films)))
				assert.GreaterOrEqual(t, a.Coverage(), least, f.name)
				assert.LessOrEqual(t, float64(a.Missing), 0.01*float64(a.N), "strips of %s that do not give it", f.name)
			}
			t.Logf("fractional gradient, stops%s\nof all forms alike covers %.1f width %.3f bias %+.3f", text, 100*covered, width, bias)
			few := 2.5 * math.Sqrt(0.95*0.05/float64(len(foreignForms)*c.films*blind.Effort(t)))
			assert.LessOrEqual(t, covered, math.Max(0.995, 0.95+few))
			assert.LessOrEqual(t, width, c.widest)
			assert.LessOrEqual(t, math.Abs(bias), 0.055)
		})
	}
}
