package scene

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
)

// A tank that does in 7 minutes what that of the trial did in 6: the film with
// this rate needs 7/6 of every time, and has the trial's speed then. A film that
// lost speed beside it needs the same time, and loses as much of its index.
func TestDrift(t *testing.T) {
	f, err := development.NewFamily(simulated.KineticTrial(t, sensito.Process{}), curve.MeasureOptions{})
	require.NoError(t, err)
	fresh, err := f.CurveAt(7)
	require.NoError(t, err)
	low, err := fresh.LogExposure(sensito.NetDensity(0.30).Over(curve.BaseFog(fresh)))
	require.NoError(t, err)
	patchesOf := func(c curve.Curve, low, high sensito.LogExposure) control.Patches {
		return control.Patches{BaseFog: curve.BaseFog(c), Low: c.Density(low), High: c.Density(high)}
	}
	aged := func(minutes, of sensito.Minutes, stops sensito.LogRange) *Drift {
		c, err := f.CurveAt(of)
		require.NoError(t, err)
		aim := patchesOf(fresh, low, low.Add(1.2))
		spec := control.LogSpec{Minutes: minutes, Aim: &aim, Tolerances: control.Tolerances{BaseFog: 0.03, Low: 0.03, Difference: 0.03 * math.Sqrt2}}
		for i := range 12 {
			spec.Strips = append(spec.Strips, control.Strip{Date: fmt.Sprintf("2026-03-%02d", 2+2*i), Patches: patchesOf(c, low.Add(stops*sensito.Stop), low.Add(1.2+stops*sensito.Stop))})
		}
		l, err := control.NewLog(spec)
		require.NoError(t, err)
		a, err := NewDrift(f, l)
		require.NoError(t, err)
		return a
	}
	p, err := For(f, Scene{Stops: 7})
	require.NoError(t, err)

	same := aged(7, 7, 0)
	assert.True(t, same.InControl)
	assert.Empty(t, same.Since)
	require.NoError(t, same.Correctable())
	corrected := func(a *Drift) *Answer {
		q, err := (&Adjustment{Drift: a, Correct: true}).Adjust(p)
		require.NoError(t, err)
		return q
	}
	assert.Equal(t, p.Minutes.Value, corrected(same).Minutes.Value, "in control nothing changes")
	assert.Nil(t, corrected(same).Uncorrected)

	slow := aged(7, 6, 0)
	assert.False(t, slow.InControl)
	assert.Equal(t, "2026-03-02", slow.Since)
	require.NotNil(t, slow.SpeedStops)
	assert.InDelta(t, 0, slow.SpeedStops.Value, 0.02, "the speed comes back with the contrast")
	q := corrected(slow)
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
	q = corrected(both)
	assert.InEpsilon(t, float64(want), float64(q.Minutes.Value), 0.01)
	assert.InEpsilon(t, float64(p.ExposureIndex.Value)*math.Exp2(-0.5), float64(q.ExposureIndex.Value), 0.015)
	slower := corrected(aged(7, 7, -0.5))
	assert.InEpsilon(t, float64(p.Minutes.Value), float64(slower.Minutes.Value), 0.01)
	assert.InEpsilon(t, float64(p.ExposureIndex.Value)*math.Exp2(-0.5), float64(slower.ExposureIndex.Value), 0.015)

	unknown := aged(0, 6, 0)
	assert.Error(t, unknown.Correctable())
}

// Times and speeds corrected twice, as the product is made of three parts.
func TestDegreesOfCorrectedTimes(t *testing.T) {
	gumProduct := []struct{ percent, dof float64 }{{0.25, 9}, {0.57, 4}, {0.82, 14}} // JCGM 100:2008, G.4.1
	const gumPercent, gumDoF = 1.03, 19.0
	minutes := &sensito.Estimate[sensito.Minutes]{Value: 10, StdErr: 0.1 * sensito.Minutes(gumProduct[0].percent), DoF: gumProduct[0].dof, Log: true}
	speed := &sensito.Estimate[sensito.Speed]{Value: 80, StdErr: 0.8 * sensito.Speed(gumProduct[0].percent), DoF: gumProduct[0].dof, Log: true}
	for _, part := range gumProduct[1:] {
		a := &Drift{TimePercent: &sensito.Estimate[float64]{Value: 25, StdErr: 1.25 * part.percent, DoF: part.dof},
			SpeedStops: &sensito.Estimate[float64]{Value: -1, StdErr: part.percent / 100 / math.Ln2, DoF: part.dof}}
		minutes, speed = a.Minutes(minutes), a.Speed(speed)
	}
	assert.InEpsilon(t, 10*1.25*1.25, float64(minutes.Value), 1e-12)
	assert.InDelta(t, gumPercent, 100*float64(minutes.StdErr/minutes.Value), 0.005)
	assert.InDelta(t, gumDoF, minutes.DoF, 0.05)
	assert.InEpsilon(t, 20, float64(speed.Value), 1e-12)
	assert.InDelta(t, gumPercent, 100*float64(speed.StdErr/speed.Value), 0.005)
	assert.InDelta(t, gumDoF, speed.DoF, 0.05)

	// The interval of a time that is not symmetric goes further out by the
	// correction's own, at Student's t of its few strips: 2.776 of 4, any table.
	lopsided := &sensito.Estimate[sensito.Minutes]{Value: 10, StdErr: 1, DoF: 9, Log: true,
		Limits: func(float64) (sensito.Minutes, sensito.Minutes) { return 9, sensito.Minutes(math.Inf(1)) }}
	a := &Drift{TimePercent: &sensito.Estimate[float64]{Value: 0, StdErr: 3, DoF: 4}}
	low, high := a.Minutes(lopsided).Interval(0.95)
	assert.InEpsilon(t, 10*math.Exp(-math.Hypot(math.Log(10./9), 2.776*0.03)), float64(low), 1e-4)
	assert.True(t, math.IsInf(float64(high), 1))
}
