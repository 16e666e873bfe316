package curve

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// sExamples are parameters of every form, the limits of k among them.
var sExamples = map[sForm][][]float64{
	toeFirst:      {{0.06, 0.7, 0.2, 0.08, 6, 0.12}, {0.06, 0.7, 0.2, 0.3, leastK, 0.1}, {0.06, 0.7, 0.2, 0.05, 40, 0.02}},
	shoulderFirst: {{0.06, 0.7, 1.2, 0.08, 6, 0.12}, {0.06, 0.7, 0.4, 0.3, leastK, 0.1}, {0.06, 0.7, 0.9, 0.05, 16, 0.02}},
	evenSweep:     {{0.06, 0.7, 0.6, 0.2, 0, 0.07}, {0.06, 0.7, 0.6, 0.2, -0.4, 0}, {0.06, 0.7, 0.6, 0.2, 0.5, 0.3}},
	longToe:       {{0.06, 0.7, 0.6, 0.3}},
	longShoulder:  {{0.06, 0.7, 0.6, 0.3}},
	twoLayers:     {{0.06, 0.7, 0.3, 0.2, 0.9, 0.1, 0.6}, {0.06, 0.7, 0.3, 0.2, 0.3, 0.2, 0.02}},
}

// Every form runs from white to black without turning, its slope and the
// derivatives by its parameters are those of its values, and it can be inverted.
func TestSForms(t *testing.T) {
	const step = 1e-6
	for form, examples := range sExamples {
		for k, p := range examples {
			require.Len(t, p, form.params())
			c := sCurve{form: form, params: p, lo: -1, hi: 3}
			assert.InDelta(t, float64(c.BaseFog()), float64(c.Density(-30)), 1e-9)
			assert.InDelta(t, float64(c.MaxDensity()), float64(c.Density(60)), 1e-9)
			for x := -1.0; x < 2.5; x += 0.07 {
				name := fmt.Sprintf("form %d, example %d, x %.2f", form, k, x)
				grad := make([]float64, form.params()-sPlace)
				_, slope := form.at(p, x, grad)
				up, _ := form.at(p, x+step, nil)
				down, _ := form.at(p, x-step, nil)
				assert.InDelta(t, (up-down)/(2*step), slope, 1e-7*math.Max(1, slope), name)
				assert.GreaterOrEqual(t, slope, 0.0, name)
				for j, g := range grad {
					q := append([]float64(nil), p...)
					q[sPlace+j] = p[sPlace+j] + step
					up, _ := form.at(q, x, nil)
					q[sPlace+j] = p[sPlace+j] - step
					down, _ := form.at(q, x, nil)
					assert.InDelta(t, (up-down)/(2*step), g, 2e-6*math.Max(1, math.Abs(g)), "%s, by %s", name, form.names()[sPlace+j])
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

// The forms hold the curves that they are named after.
func TestSFormsAre(t *testing.T) {
	// A generalised logistic is what toeFirst tends to with corners that meet.
	a, b := 0.2, 0.1
	richards := func(x float64) float64 { return 1 - math.Pow(1+math.Exp(x/a), -a/b) }
	for x := -1.0; x < 1; x += 0.1 {
		share, _ := toeFirst.at([]float64{0, 0, 0, a, -30, b}, x, nil)
		assert.InDelta(t, richards(x), share, 1e-9)
		bounded, _ := toeFirst.at([]float64{0, 0, 0, a, leastK, b}, x, nil)
		assert.InDelta(t, richards(x), bounded, 1.0/800)
		// Turned about, it is shoulderFirst.
		turned, _ := shoulderFirst.at([]float64{0, 0, 0, b, -30, a}, -x, nil)
		assert.InDelta(t, 1-share, turned, 1e-12)
		// A cubic logit is a normal distribution to 2e-4 (common practice, no
		// source).
		normal, _ := evenSweep.at([]float64{0, 0, 0, 1 / 1.5976, 0, 0.07056776 / math.Pow(1.5976, 3)}, x, nil)
		assert.InDelta(t, math.Erfc(-x/math.Sqrt2)/2, normal, 2e-4)
	}
}
