package development

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
)

// Strips read with one densitometer are as sure as their readings scatter about
// all curves together: the pooled standard deviation, the root of the mean
// variance by degrees of freedom (JCGM 100:2008, H.3.6 and 4.2.4).
func TestPooledReadings(t *testing.T) {
	var strips []*curve.Measured
	var variance, dof float64
	for i, noise := range []float64{0.006, 0.012, 0.02} {
		m, err := curve.Measure(simulated.StripOf(t, simulated.TwoEmulsions, noise, uint64(i)), curve.MeasureOptions{})
		require.NoError(t, err)
		strips = append(strips, m)
		variance += m.Fit.DoF * math.Pow(float64(m.Fit.ResidualSD), 2)
		dof += m.Fit.DoF
	}
	pooled := math.Sqrt(variance / dof)
	tb := tableOf(strips)
	require.Len(t, tb.Rows, len(strips))
	for j, m := range strips {
		assert.InEpsilon(t, float64(m.SpeedPoint.StdErr)*pooled/float64(m.Fit.ResidualSD), tb.SD[j][curve.ColumnSpeedPoint], 1e-9, "strip %d", j+1)
		assert.InEpsilon(t, float64(m.BaseFog.StdErr)*pooled/float64(m.Fit.ResidualSD), tb.SD[j][curve.ColumnFog], 1e-9, "strip %d", j+1)
	}
	assert.InEpsilon(t, dof, tb.DoF, 1e-9)
}
