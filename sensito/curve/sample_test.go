package curve_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
)

// Points of a curve lie on it, from end to end of what it rests on.
func TestSample(t *testing.T) {
	e := simulated.ContactWedge(t, 21, false)
	strip := simulated.OneStrip(t, e, sensito.StripSpec{Minutes: 6, Density: simulated.Readings(rand.New(rand.NewPCG(8, 4)), e, simulated.ModelFilm(0.65), 0)})
	m, err := curve.Measure(strip, curve.MeasureOptions{})
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
