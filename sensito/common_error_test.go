package sensito

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// An error that is known, such as a lamp's, joined with one found from readings:
// the gauge's first part found and the rest known.
func TestDegreesWithCommonError(t *testing.T) {
	e := Estimate[LogExposure]{Value: -2, StdErr: 3, DoF: 4}
	e.AddCommon(4)
	assert.InDelta(t, 5, float64(e.StdErr), 1e-12)
	assert.InDelta(t, math.Pow(5, 4)/(math.Pow(3, 4)/4), e.DoF, 1e-9, "G.4.1, (G.2b)")
	e = Estimate[LogExposure]{StdErr: 0, DoF: 4}
	e.AddCommon(0.02)
	assert.True(t, math.IsInf(e.DoF, 1), "nothing but what is known")
}
