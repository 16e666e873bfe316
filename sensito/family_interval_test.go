package sensito_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// The interval of a time is as wide as Student's t makes it: two strips, which
// nothing checks, are worth three degrees of freedom, and 3.18 standard errors
// (JCGM 100:2008, table G.2); five that agree are worth those of their readings.
func TestTimeIntervalIsStudents(t *testing.T) {
	film := growing(-2, 0.12, 0.10)
	aimed := scene.Scene{Stops: 6, Flare: sensito.Flare{Kind: sensito.FlareNone}}
	aimed.DensityRange = sensito.NetDensity(film(7).rise(aimed.Stops * math.Log10(2)))
	for _, c := range []struct {
		minutes   []float64
		dof, want float64
	}{{[]float64{4, 12}, 3, 3.18}, {fiveTimes, math.NaN(), 1.98}} {
		p, err := scene.For(exactly(t, "", wedgeOf(t, 0, 0), "", c.minutes, film), aimed)
		require.NoError(t, err)
		if !math.IsNaN(c.dof) {
			assert.Equal(t, c.dof, p.Minutes.DoF)
		}
		low, high := p.Minutes.Interval(0.95)
		assert.InEpsilon(t, c.want, math.Log(float64(high/low))/2/float64(p.Minutes.StdErr/p.Minutes.Value), 0.04, "%v", c.minutes)
	}
}

// What the lamp leaves open joins every speed that strips give together.
func TestCommonLogHOfFamilies(t *testing.T) {
	const lamp = 0.05
	film := growing(-2, 0.12, 0.10)
	still, shaken := exactly(t, "", wedgeOf(t, 0, 0), "", fiveTimes, film), exactly(t, "", wedgeOf(t, 0, lamp), "", fiveTimes, film)
	speeds := func(f *development.Family) []sensito.Estimate[sensito.Speed] {
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		at, err := f.At(8)
		require.NoError(t, err)
		require.NotNil(t, f.ISOSpeed)
		r, err := scene.ForRoll(f, scene.Scene{}, []scene.Frame{{Name: "lamp", Stops: 7}})
		require.NoError(t, err)
		return []sensito.Estimate[sensito.Speed]{*p.ExposureIndex, *at.Speed, *f.ISOSpeed, *r.ExposureIndex}
	}
	with := speeds(shaken)
	for i, without := range speeds(still) {
		assert.InEpsilon(t, float64(without.Value), float64(with[i].Value), 1e-9)
		own := float64(without.StdErr / without.Value)
		assert.InEpsilon(t, math.Hypot(own, math.Ln10*lamp), float64(with[i].StdErr/with[i].Value), 1e-6)
		low, high := with[i].Interval(0.95)
		assert.Greater(t, float64(high/low), math.Pow(10, 2*1.95*lamp))
	}
}

// However well strips are read, and though the film is of the form that is fitted,
// a comparison is no surer of its shape than other films differ from any form:
// 0.03 log H of a place, 0.005 of a gradient, 0.002 of a density.
func TestExactShapesAreNoSurer(t *testing.T) {
	e := wedgeOf(t, 0, 0)
	f := exactly(t, "", e, "", fiveTimes, growing(-2, 0.12, 0.10))
	c, err := compare.Compare([]*development.Family{f, exactly(t, "again", e, "", fiveTimes, growing(-2, 0.12, 0.10))}, compare.Options{})
	require.NoError(t, err)
	for _, x := range c.Trials {
		assert.InEpsilon(t, 0.03, float64(x.ToeLength.StdErr), 0.1)
		assert.InEpsilon(t, 0.005, x.ShadowGradient.StdErr, 0.1)
		assert.InEpsilon(t, 0.002, float64(x.Straightness.StdErr), 0.1)
	}
	for _, d := range c.Differences {
		if d.Quantity == compare.DiffShadowGradient {
			assert.InEpsilon(t, 0.005*math.Sqrt2, d.Value.StdErr, 0.1)
		}
	}
}
