package curve_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
)

// The quantities of strips that share a shape move along every direction of its error as
// those do that are solved for anew on the moved curve.
func TestSharedQuantitiesMove(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 9))
	d, b := simulated.Reaching.Developing(r, 1), simulated.Reaching.Bench(r)
	var strips []sensito.StripSpec
	for _, minutes := range d.Minutes {
		s := b.Read(r, d.At(minutes))
		s.Minutes = sensito.Minutes(minutes)
		strips = append(strips, s)
	}
	trial := b.Trial(t, strips...)
	for _, g := range []curve.Gradient{{}, {From: 0.25, To: 0.8}, {Span: 1, Arc: true}} {
		ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{Gradient: g})
		require.NoError(t, err)
		for _, m := range ms {
			require.NotNil(t, m.Fit.Together)
			solved, err := curve.DeriveAll(m.Fit, func(c curve.Curve) ([]float64, error) {
				point, noPoint := curve.SpeedPoint(c)
				index, noIndex := curve.ContrastIndex(c)
				gradient, noGradient := curve.AverageGradient(c, m.Gradient)
				iso, noISO := curve.ISODifference(c)
				fractional, noFractional := curve.FractionalGradientPoint(c)
				return []float64{curve.ColumnFog: float64(curve.BaseFog(c)), curve.ColumnSpeedPoint: float64(point), curve.ColumnIndex: index,
						curve.ColumnGradient: gradient, curve.ColumnISO: iso, curve.ColumnFractional: float64(fractional)},
					errors.Join(noPoint, noIndex, noGradient, noISO, noFractional)
			})
			require.NoError(t, err)
			for _, i := range []int{curve.ColumnFog, curve.ColumnSpeedPoint, curve.ColumnIndex, curve.ColumnGradient, curve.ColumnISO, curve.ColumnFractional} {
				require.InDelta(t, solved.Values[i], m.Derived.Values[i], 1e-9, "quantity %d", i)
				require.Len(t, m.Derived.Moves, len(solved.Moves))
				most := 0.0
				for k, move := range solved.Moves {
					most = math.Max(most, math.Abs(move[i]-m.Derived.Moves[k][i]))
				}
				assert.Less(t, most, 1e-4*solved.SD(i), "quantity %d of a gradient %+v", i, m.Gradient)
			}
		}
	}
}
