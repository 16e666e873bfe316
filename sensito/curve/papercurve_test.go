package curve

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve/internal/sigmoid"
)

// sExamples are parameters of every form, the limits of k among them.
var sExamples = map[sigmoid.Form][][]float64{
	sigmoid.ToeFirst:      {{0.06, 0.7, 0.2, 0.08, 6, 0.12}, {0.06, 0.7, 0.2, 0.3, sigmoid.LeastK, 0.1}, {0.06, 0.7, 0.2, 0.05, 40, 0.02}},
	sigmoid.ShoulderFirst: {{0.06, 0.7, 1.2, 0.08, 6, 0.12}, {0.06, 0.7, 0.4, 0.3, sigmoid.LeastK, 0.1}, {0.06, 0.7, 0.9, 0.05, 16, 0.02}},
	sigmoid.EvenSweep:     {{0.06, 0.7, 0.6, 0.2, 0, 0.07}, {0.06, 0.7, 0.6, 0.2, -0.4, 0}, {0.06, 0.7, 0.6, 0.2, 0.5, 0.3}},
	sigmoid.LongToe:       {{0.06, 0.7, 0.6, 0.3}},
	sigmoid.LongShoulder:  {{0.06, 0.7, 0.6, 0.3}},
	sigmoid.TwoLayers:     {{0.06, 0.7, 0.3, 0.2, 0.9, 0.1, 0.6}, {0.06, 0.7, 0.3, 0.2, 0.3, 0.2, 0.02}},
}

// Every form runs from white to black without turning, its slope and the
// derivatives by its parameters are those of its values, and it can be inverted.
func TestSForms(t *testing.T) {
	const step = 1e-6
	for form, examples := range sExamples {
		for k, p := range examples {
			require.Len(t, p, form.Params())
			c := sCurve{form: form, params: p, lo: -1, hi: 3}
			assert.InDelta(t, float64(c.BaseFog()), float64(c.Density(-30)), 1e-9)
			assert.InDelta(t, float64(c.MaxDensity()), float64(c.Density(60)), 1e-9)
			for x := -1.0; x < 2.5; x += 0.07 {
				name := fmt.Sprintf("form %d, example %d, x %.2f", form, k, x)
				grad := make([]float64, form.Params()-sigmoid.Place)
				_, slope := form.At(p, x, grad)
				up, _ := form.At(p, x+step, nil)
				down, _ := form.At(p, x-step, nil)
				assert.InDelta(t, (up-down)/(2*step), slope, 1e-7*math.Max(1, slope), name)
				assert.GreaterOrEqual(t, slope, 0.0, name)
				for j, g := range grad {
					q := append([]float64(nil), p...)
					q[sigmoid.Place+j] = p[sigmoid.Place+j] + step
					up, _ := form.At(q, x, nil)
					q[sigmoid.Place+j] = p[sigmoid.Place+j] - step
					down, _ := form.At(q, x, nil)
					assert.InDelta(t, (up-down)/(2*step), g, 2e-6*math.Max(1, math.Abs(g)), "%s, by %s", name, form.Names()[sigmoid.Place+j])
				}
				d := c.Density(sensito.LogExposure(x))
				if slope > 1e-3 && d < c.MaxDensity() {
					h, err := c.LogExposure(d)
					require.NoError(t, err, name)
					assert.InDelta(t, x, float64(h), 1e-8, name)
				}
			}
			_, err := c.LogExposure(c.MaxDensity() + 0.01)
			assert.ErrorIs(t, err, sensito.ErrOutOfRange)
		}
	}
}
