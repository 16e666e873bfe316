package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
)

// Student's t of table G.2 of JCGM 100:2008, and between whole degrees of freedom that of
// the density itself, or a little more: it never jumps.
func TestStudentTable(t *testing.T) {
	for _, c := range []struct{ dof, want float64 }{
		{1, 12.71}, {2, 4.30}, {4, 2.78}, {10, 2.23}, {16, 2.12}, {50, 2.01}, {math.Inf(1), 1.960},
	} {
		assert.InDelta(t, c.want, StudentT(0.95, c.dof), 0.006, "%g degrees of freedom", c.dof)
	}
	assert.InDelta(t, 9.92, StudentT(0.99, 2), 0.006)
	for dof := 2.0; dof < 30; dof += 0.1 {
		for _, level := range []float64{0.6827, 0.95, 0.99} {
			exact := distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(0.5 + level/2)
			within := 0.05
			if dof > 4 {
				within = 0.01
			}
			assert.InEpsilon(t, exact, StudentT(level, dof), within, "%g degrees of freedom at %g", dof, level)
			assert.GreaterOrEqual(t, StudentT(level, dof), exact*(1-1e-9))
			assert.InEpsilon(t, StudentT(level, dof), StudentT(level, dof-1e-9), 1e-6)
		}
	}
	assert.Equal(t, StudentT(0.95, 1), StudentT(0.95, 0.4))
}
