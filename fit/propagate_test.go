package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Student's t between whole degrees of freedom is that of the next lower one
// (JCGM 100:2008, G.4.1); values of table G.2 there.
func TestStudentTable(t *testing.T) {
	for _, c := range []struct{ dof, want float64 }{
		{1, 12.71}, {2, 4.30}, {4, 2.78}, {4.9, 2.78}, {10, 2.23}, {16.7, 2.12}, {50, 2.01}, {math.Inf(1), 1.960},
	} {
		assert.InDelta(t, c.want, StudentT(0.95, c.dof), 0.006, "%g degrees of freedom", c.dof)
	}
	assert.InDelta(t, 9.92, StudentT(0.99, 2), 0.006)
}
