package sensito

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A tank that does in 7 minutes what that of the trial did in 6: the film with
// this rate needs 7/6 of every time, and has the trial's speed then. A film that
// lost speed beside it needs the same time, and loses as much of its index.
func TestAgeing(t *testing.T) {
	f := kineticFamily(t)
	fresh, err := f.CurveAt(7)
	require.NoError(t, err)
	low, err := fresh.LogExposure(NetDensity(0.30).Over(BaseFog(fresh)))
	require.NoError(t, err)
	aged := func(minutes, of Minutes, stops LogRange) *Ageing {
		c, err := f.CurveAt(of)
		require.NoError(t, err)
		aim := patchesOf(fresh, low, low.Add(1.2))
		spec := aimed(controlSpec(12, 3, nothing, nothing))
		spec.Minutes, spec.Aim = minutes, &aim
		for i := range spec.Strips {
			spec.Strips[i].ControlPatches = patchesOf(c, low.Add(stops*Stop), low.Add(1.2+stops*Stop))
		}
		l, err := NewControlLog(spec)
		require.NoError(t, err)
		a, err := f.Ageing(l)
		require.NoError(t, err)
		return a
	}
	p, err := f.For(Scene{Stops: 7})
	require.NoError(t, err)

	same := aged(7, 7, 0)
	assert.True(t, same.InControl)
	assert.Empty(t, same.Since)
	require.NoError(t, same.Correctable())
	assert.Same(t, p, same.Plan(p), "in control nothing changes")

	slow := aged(7, 6, 0)
	assert.False(t, slow.InControl)
	assert.Equal(t, "2026-03-02", slow.Since)
	require.NotNil(t, slow.SpeedStops)
	assert.InDelta(t, 0, slow.SpeedStops.Value, 0.02, "the speed comes back with the contrast")
	q := slow.Plan(p)
	want := p.Minutes.Value * 7 / 6
	for _, level := range []float64{0.68, 0.95} {
		lo, hi := q.Minutes.Interval(level)
		assert.True(t, lo < want && want < hi, "%v in %v to %v", want, lo, hi)
	}
	assert.InEpsilon(t, float64(want), float64(q.Minutes.Value), 0.01)
	assert.Greater(t, float64(q.Minutes.StdErr/q.Minutes.Value), float64(p.Minutes.StdErr/p.Minutes.Value))
	lo, hi := q.ExposureIndex.Interval(0.95)
	assert.True(t, lo < p.ExposureIndex.Value && p.ExposureIndex.Value < hi)

	assert.Less(t, slow.SpeedUnchanged.Value, -0.01)

	both := aged(7, 6, -0.5)
	q = both.Plan(p)
	assert.InEpsilon(t, float64(want), float64(q.Minutes.Value), 0.01)
	assert.InEpsilon(t, float64(p.ExposureIndex.Value)*math.Exp2(-0.5), float64(q.ExposureIndex.Value), 0.015)
	slower := aged(7, 7, -0.5).Plan(p)
	assert.InEpsilon(t, float64(p.Minutes.Value), float64(slower.Minutes.Value), 0.01)
	assert.InEpsilon(t, float64(p.ExposureIndex.Value)*math.Exp2(-0.5), float64(slower.ExposureIndex.Value), 0.015)

	unknown := aged(0, 6, 0)
	assert.Error(t, unknown.Correctable())
}
