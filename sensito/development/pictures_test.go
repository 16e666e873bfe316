package development_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// The calibration of all strips neither hides how much they scatter nor moves the law, and
// its error joins that of the contrast whole, however well the strips repeat.
func TestCalibrationOfAllStrips(t *testing.T) {
	film := simulated.Growing(-2, 0.12, 0.10)
	spec := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", simulated.FiveTimes[:], film).Trial.Spec()
	for i := range spec.Strips {
		spec.Strips[i].Calibration = "bed"
	}
	const sd = 0.02
	of := func(variance float64) (*development.Family, float64) {
		spec.Calibrations = []sensito.Calibration{{Name: "bed", Repeatability: 0.01, Covariance: [3][3]float64{1: {1: variance}}}}
		f := blind.FamilyOf(t, spec)
		at, err := f.At(7)
		require.NoError(t, err)
		return f, at.Contrast.StdErr / at.Contrast.Value
	}
	exact, own := of(0)
	known, told := of(sd * sd)
	assert.Equal(t, exact.Growth.Kinetics, known.Growth.Kinetics)
	assert.Equal(t, exact.Growth.Scatter, known.Growth.Scatter)
	assert.Less(t, exact.Growth.Scatter, 0.7, "exact strips repeat better than usual")
	assert.InEpsilon(t, math.Hypot(own, sd), told, 0.05) // whose line between two densities does not quite follow a scale
}

// An interval that is off by a factor of contrast besides: by as much as the aim would be,
// beside what it was, and open where that is beyond the limit.
func TestAlsoOff(t *testing.T) {
	const limit, rate, aim, sd, level = 1.5, 0.1, 1.2, 0.05, 0.95
	g := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", []float64{4, 6, 8, 11, 15}, simulated.Growing(-2, rate, 0.10)).Growth
	g.Limit, g.Rate, g.Slope, g.Induction = limit, rate, limit*rate, 0
	minutes, err := g.Time(aim)
	require.NoError(t, err)
	low, high := g.AlsoOff(minutes, minutes*(1-1e-9), minutes*(1+1e-9), aim, sd, level)
	by := 1.96 * sd / g.PerAim(aim)
	from, err := g.Time(aim - by)
	require.NoError(t, err)
	to, err := g.Time(aim + by)
	require.NoError(t, err)
	assert.InEpsilon(t, from, low, 1e-3)
	assert.InEpsilon(t, to, high, 1e-3)
	assert.Greater(t, math.Log(high/minutes), 1.02*math.Log(minutes/low))
	wide, _ := g.AlsoOff(minutes, minutes*math.Exp(-0.1), minutes, aim, sd, level)
	assert.InEpsilon(t, math.Hypot(0.1, math.Log(minutes/from)), math.Log(minutes/wide), 1e-3)
	_, open := g.AlsoOff(minutes, minutes, minutes, aim, 5, level)
	assert.True(t, math.IsInf(open, 1))
}
