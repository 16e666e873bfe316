package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
)

// JCGM 100:2008, G.4.1, example: a product of three inputs, known from 10, 5 and
// 15 readings to 0.25 %, 0.57 % and 0.82 %, is known to 1.03 % with 19.0
// effective degrees of freedom. Parts may be joined one after the other.
var gumProduct = []struct{ percent, dof float64 }{{0.25, 9}, {0.57, 4}, {0.82, 14}}

const gumPercent, gumDoF = 1.03, 19.0

// JCGM 100:2008, H.1.6: the parts of an end gauge's length, in nm.
var gumGauge = []struct{ nm, dof float64 }{{25, 18}, {9.7, 25.6}, {2.9, 50}, {16.6, 2}}

func TestWelchOfDifferences(t *testing.T) {
	// Differences of differences, each of nothing known but its error.
	joined := &sensito.Estimate[float64]{Value: 1, StdErr: gumProduct[0].percent, DoF: gumProduct[0].dof}
	for _, part := range gumProduct[1:] {
		joined = less(&sensito.Estimate[float64]{Value: 3, StdErr: part.percent, DoF: part.dof}, joined, 1)
	}
	assert.InDelta(t, gumPercent, joined.StdErr, 0.005)
	assert.InDelta(t, gumDoF, joined.DoF, 0.05)

	joined = &sensito.Estimate[float64]{StdErr: gumGauge[3].nm, DoF: gumGauge[3].dof}
	for _, part := range gumGauge[:3] {
		joined = less(joined, &sensito.Estimate[float64]{StdErr: part.nm, DoF: part.dof}, 1)
	}
	assert.InDelta(t, 32, joined.StdErr, 0.5, "H.1.6, in nm")
	assert.InDelta(t, 16.7, joined.DoF, 0.5, "H.1.6, from rounded parts")

	// Whichever side is uncertain, it alone decides; a factor changes nothing.
	known, found := &sensito.Estimate[float64]{StdErr: 0, DoF: 7}, &sensito.Estimate[float64]{StdErr: 2, DoF: 3}
	assert.InDelta(t, 3, less(known, found, -3).DoF, 1e-12)
	assert.InDelta(t, 3, less(found, known, -3).DoF, 1e-12)
	assert.InDelta(t, 6, less(found, found, -3).StdErr/math.Sqrt2, 1e-12)
	assert.InDelta(t, 6, less(found, found, -3).DoF, 1e-12, "two alike: the sum of theirs")
}
