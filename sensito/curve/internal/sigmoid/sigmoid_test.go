package sigmoid

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The forms hold the curves that they are named after.
func TestForms(t *testing.T) {
	// A generalised logistic is what ToeFirst tends to with corners that meet.
	a, b := 0.2, 0.1
	richards := func(x float64) float64 { return 1 - math.Pow(1+math.Exp(x/a), -a/b) }
	for x := -1.0; x < 1; x += 0.1 {
		share, _ := ToeFirst.At([]float64{0, 0, 0, a, -30, b}, x, nil)
		assert.InDelta(t, richards(x), share, 1e-9)
		bounded, _ := ToeFirst.At([]float64{0, 0, 0, a, LeastK, b}, x, nil)
		assert.InDelta(t, richards(x), bounded, 1.0/800)
		// Turned about, it is ShoulderFirst.
		turned, _ := ShoulderFirst.At([]float64{0, 0, 0, b, -30, a}, -x, nil)
		assert.InDelta(t, 1-share, turned, 1e-12)
		// A cubic logit is a normal distribution to 2e-4 (common practice, no
		// source).
		normal, _ := EvenSweep.At([]float64{0, 0, 0, 1 / 1.5976, 0, 0.07056776 / math.Pow(1.5976, 3)}, x, nil)
		assert.InDelta(t, math.Erfc(-x/math.Sqrt2)/2, normal, 2e-4)
	}
}
