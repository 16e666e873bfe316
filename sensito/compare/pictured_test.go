package compare_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
)

// pictured is a family whose strips were read by a calibration.
func pictured(t *testing.T, f *development.Family, c sensito.Calibration) *development.Family {
	spec := f.Trial.Spec()
	spec.Calibrations = []sensito.Calibration{c}
	for i := range spec.Strips {
		spec.Strips[i].Calibration = c.Name
	}
	return blind.FamilyOf(t, spec)
}

// Trials by one calibration have its error in common: their differences are about as sure
// as if it were exact, and surer than those by two calibrations, which another name or
// other figures make.
func TestTrialsOfOneCalibration(t *testing.T) {
	p := sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20}
	one, two := grown(t, "one", p, 0.12), grown(t, "two", p, 0.115)
	bed := sensito.Calibration{Name: "bed", Repeatability: 0.01, Covariance: [3][3]float64{{4e-4, 0, 0}, {0, 9e-4, 0}, {0, 0, 1e-6}}}
	exact, renamed, wider := bed, bed, bed
	exact.Covariance, renamed.Name, wider.Covariance[0][0] = [3][3]float64{}, "another bed", 4.01e-4
	compared := func(a, b sensito.Calibration, quantity string) *sensito.Estimate[float64] {
		got, err := compare.Compare([]*development.Family{pictured(t, one, a), pictured(t, two, b)}, compare.Options{})
		require.NoError(t, err)
		d := differenceOf(t, got, quantity)
		require.NotNil(t, d.Value, quantity)
		return d.Value
	}
	for _, quantity := range []string{compare.DiffMinutes, compare.DiffBaseFog} {
		sure, alike := compared(exact, exact, quantity), compared(bed, bed, quantity)
		assert.InEpsilon(t, sure.StdErr, alike.StdErr, 0.25, quantity)
		for name, other := range map[string]sensito.Calibration{"renamed": renamed, "other figures": wider} {
			apart := compared(bed, other, quantity)
			assert.Greater(t, apart.StdErr, 1.3*alike.StdErr, "%s, %s", quantity, name)
			assert.InDelta(t, alike.Value, apart.Value, 1e-9*alike.Value+1e-9)
		}
	}
	for _, quantity := range []string{compare.DiffSpeedStops, compare.DiffShadowGradient, compare.DiffStraightness, compare.DiffToe} {
		sure, alike, apart := compared(exact, exact, quantity), compared(bed, bed, quantity), compared(bed, renamed, quantity)
		assert.InEpsilon(t, sure.StdErr, alike.StdErr, 0.25, quantity)
		assert.GreaterOrEqual(t, apart.StdErr, alike.StdErr, quantity)
	}
}
