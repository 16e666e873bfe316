package testplan_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// On a film that follows the law a strip to come, once developed and read, gives
// the standard error and the degrees of freedom that were foretold of it. The
// strips are read exactly; how well a densitometer would is taken from them, by
// which only development scatters, or stated. A strip that lies on the law leaves more
// degrees of freedom than one that lies off it as chance has it: 1.08 to 1.24 times
// those foretold, by which Student's t is 1 to 2 % less.
func TestPlannedStripComesTrue(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	e, film, aimed := simulated.WedgeOf(t, 0, 0), simulated.Growing(-2, 0.12, 0.10), scene.Scene{Stops: 7}
	stated := curve.MeasureOptions{Fit: curve.FitOptions{Noise: fit.NoiseGiven}}
	for _, c := range []struct {
		wanted testplan.Wanted
		o      curve.MeasureOptions
		within float64
	}{
		{testplan.WantedMinutes, curve.MeasureOptions{}, 0.12},
		{testplan.WantedMinutes, stated, 0.12},
		{testplan.WantedIndex, stated, 0.12},
	} {
		developed := func(minutes ...float64) *development.Family {
			f, err := development.NewFamily(blind.ExactFamily(t, "", e, "", minutes, film).Trial, c.o)
			require.NoError(t, err)
			return f
		}
		for _, minutes := range [][]float64{{4, 7, 12}, {4, 5.5, 9, 12}} {
			p, err := testplan.Propose(developed(minutes...), aimed, testplan.Options{Wanted: c.wanted, Within: 0.002, MaxStrips: 1, Measure: c.o})
			require.NoError(t, err)
			near := slices.DeleteFunc(p.Candidates, func(c testplan.Candidate) bool {
				return c.Action != nil || c.Far || slices.Contains(minutes, float64(c.Minutes)) // the same exact strip again is a copy
			})
			require.Greater(t, len(near), 3)
			for _, one := range []testplan.Candidate{near[0], near[len(near)-1]} {
				answer, err := scene.For(developed(append([]float64{float64(one.Minutes)}, minutes...)...), aimed)
				require.NoError(t, err)
				sd, dof := float64(answer.Minutes.StdErr), answer.Minutes.DoF
				if c.wanted == testplan.WantedIndex {
					sd, dof = float64(answer.ExposureIndex.StdErr), answer.ExposureIndex.DoF
				}
				assert.InEpsilon(t, sd, one.After.StdErr, c.within, "%s after %g min", c.wanted, one.Minutes)
				if c.wanted == testplan.WantedIndex {
					assert.Equal(t, dof, one.After.DoF)
					continue
				}
				assert.InEpsilon(t, dof, one.After.DoF, 0.2, "%s after %g min", c.wanted, one.Minutes)
				half := func(sd, dof float64) float64 { return sd * fit.StudentT(0.95, dof) }
				assert.InEpsilon(t, half(sd, dof), half(one.After.StdErr, one.After.DoF), 0.08)
			}
		}
	}
}
