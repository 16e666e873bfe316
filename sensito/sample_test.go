package sensito_test

import (
	"testing"

	"sensito/sensito/curve"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Points of a curve lie on it, from end to end of what it rests on.
func TestSample(t *testing.T) {
	m, err := curve.Measure(repeated(t, nil).Strips()[0], curve.MeasureOptions{})
	require.NoError(t, err)
	c := m.Fit.Curve
	lo, hi := c.Domain()
	points := m.Sample(11)
	require.Len(t, points, 11)
	assert.Equal(t, lo, points[0].LogH)
	assert.Equal(t, hi, points[10].LogH)
	for i, p := range points {
		assert.InDelta(t, float64(lo)+float64(i)*float64(hi-lo)/10, float64(p.LogH), 1e-12)
		assert.Equal(t, c.Density(p.LogH), p.Density)
		assert.Equal(t, c.Slope(p.LogH), p.Slope)
		assert.Equal(t, p.Density.Above(curve.BaseFog(c)), p.Net)
	}
	assert.Nil(t, (&curve.Measured{}).Sample(11))
}
