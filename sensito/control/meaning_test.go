package control

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// patchesOf returns the densities that a curve gives at the two exposures of a
// control strip.
func patchesOf(c curve.Curve, low, high sensito.LogExposure) Patches {
	return Patches{BaseFog: curve.BaseFog(c), Low: c.Density(low), High: c.Density(high)}
}

// What a change means, against the family that the strips would come from: a
// tank that does in 7 minutes what a fresh one does in 6, strips that have a
// stop less exposure, and fog, each alone and all at once.
func TestChangeToldApart(t *testing.T) {
	f, err := development.NewFamily(simulated.KineticTrial(t, sensito.Process{}), curve.MeasureOptions{})
	require.NoError(t, err)
	fresh, err := f.CurveAt(7)
	require.NoError(t, err)
	slower, err := f.CurveAt(6)
	require.NoError(t, err)
	low, err := fresh.LogExposure(sensito.NetDensity(0.30).Over(curve.BaseFog(fresh)))
	require.NoError(t, err)
	high := low.Add(1.2)
	aim := patchesOf(fresh, low, high)
	log := func(now Patches) LogSpec {
		spec := aimed(controlSpec(12, 3, nothing, nothing))
		spec.Minutes, spec.Aim = 7, &aim
		for i := range spec.Strips {
			spec.Strips[i].Patches = now
		}
		return spec
	}
	fogged := func(p Patches) Patches {
		return Patches{BaseFog: p.BaseFog + 0.05, Low: p.Low + 0.05, High: p.High + 0.05}
	}
	slow := 100 * (7.0/6 - 1)
	for name, c := range map[string]struct {
		now                 Patches
		percent, stops, fog float64
	}{
		"as it was":             {aim, 0, 0, 0},
		"slower":                {patchesOf(slower, low, high), slow, 0, 0},
		"a stop less":           {patchesOf(fresh, low.Add(-sensito.Stop), high.Add(-sensito.Stop)), 0, -1, 0},
		"fogged":                {fogged(aim), 0, 0, 0.05},
		"slower, a stop less":   {patchesOf(slower, low.Add(-sensito.Stop), high.Add(-sensito.Stop)), slow, -1, 0},
		"slower, fogged":        {fogged(patchesOf(slower, low, high)), slow, 0, 0.05},
		"all three, and faster": {fogged(patchesOf(slower, low.Add(sensito.Stop/2), high.Add(sensito.Stop/2))), slow, 0.5, 0.05},
	} {
		e := evaluated(t, log(c.now), Options{Family: f})
		require.NotNil(t, e.TimePercent, name)
		assert.InDelta(t, c.percent, e.TimePercent.Value, 0.7, "%s: percent of time", name)
		assert.InDelta(t, c.stops, e.SpeedStops.Value, 0.02, "%s: stops", name)
		assert.InDelta(t, c.fog, e.Fog.Value, 0.002, "%s: fog", name)
		// The toe of this film stays where it is, so that the speed point moves with
		// contrast alone.
		was, err := curve.SpeedPoint(fresh)
		require.NoError(t, err)
		if c.percent != 0 {
			is, err := curve.SpeedPoint(slower)
			require.NoError(t, err)
			assert.InDelta(t, was.Sub(is).Stops()+c.stops, e.SpeedUnchanged.Value, 0.02, "%s: stops at the same time", name)
		}
		for _, e := range []*sensito.Estimate[float64]{e.TimePercent, e.SpeedStops, e.SpeedUnchanged, e.Fog} {
			assert.Greater(t, e.StdErr, 0.0, name)
		}
		assert.NotContains(t, codes(e.Warnings), "time_extrapolated", name)
	}

	// Of a mean of 12 strips, the step since the first, with the time known: what
	// the low patch and base plus fog add, and more since the rate is told too.
	c := evaluated(t, log(patchesOf(fresh, low.Add(-sensito.Stop), high.Add(-sensito.Stop))), Options{Family: f})
	per := fresh.Slope(low.Add(-sensito.Stop)) * float64(sensito.Stop)
	assert.Greater(t, c.SpeedStops.StdErr, 0.01*math.Sqrt2/math.Sqrt(12)/per)
	assert.Less(t, c.SpeedStops.StdErr, 2.5*0.01*math.Sqrt2/math.Sqrt(12)/per)
	// The error of an aim that is the mean of few strips counts.
	few := log(patchesOf(fresh, low.Add(-sensito.Stop), high.Add(-sensito.Stop)))
	few.AimStrips = 4
	assert.InEpsilon(t, math.Sqrt(1+12.0/4), evaluated(t, few, Options{Family: f}).SpeedStops.StdErr/c.SpeedStops.StdErr, 0.1)

	spec := log(aim)
	spec.Minutes = 0
	c = evaluated(t, spec, Options{Family: f})
	assert.Nil(t, c.SpeedStops)
	assert.Contains(t, codes(c.Warnings), "no_minutes")
	// A contrast that no time of the trial gives.
	c = evaluated(t, log(Patches{BaseFog: aim.BaseFog, Low: aim.Low, High: aim.High + 2}), Options{Family: f})
	assert.Nil(t, c.TimePercent)
	assert.Contains(t, codes(c.Warnings), "no_change_told")
	// A high patch far beyond the exposures of the trial.
	further := log(Patches{BaseFog: aim.BaseFog, Low: aim.Low, High: aim.High})
	beyond := aim
	beyond.High += 1.6
	further.Aim = &beyond
	for i := range further.Strips {
		further.Strips[i].High = beyond.High
	}
	c = evaluated(t, further, Options{Family: f})
	assert.Contains(t, codes(c.Warnings), "high_beyond_trial")
	assert.InDelta(t, 0, c.TimePercent.Value, 1e-6)
}

// Whatever a log holds, what it means is told with a size, or a warning says why
// not.
func TestBlindChangeOfAnyLog(t *testing.T) {
	n := 75 * blind.Effort(t)
	f, err := development.NewFamily(simulated.KineticTrial(t, sensito.Process{}), curve.MeasureOptions{})
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(9, 0))
	told := 0
	for range n {
		patches := func() Patches {
			fog := 0.3 * r.Float64()
			low := fog + r.Float64() - 0.04
			return Patches{BaseFog: sensito.Density(fog), Low: sensito.Density(max(0, low)), High: sensito.Density(max(fog, low, 0) + 0.02 + 1.5*r.Float64())}
		}
		spec := aimed(controlSpec(1+r.IntN(4), 3, nothing, nothing))
		aim := patches()
		spec.Aim, spec.Minutes = &aim, sensito.Minutes(3+10*r.Float64())
		for i := range spec.Strips {
			spec.Strips[i].Patches = patches()
			if r.IntN(2) == 0 { // near the aim
				p := aim
				p.Low, p.High = p.Low+sensito.Density(0.03*r.NormFloat64()), p.High+sensito.Density(0.03*r.NormFloat64())
				if p.Low < p.High && p.Low >= max(0, p.BaseFog-lowBelowFog) && p.BaseFog < p.High {
					spec.Strips[i].Patches = p
				}
			}
		}
		c := evaluated(t, spec, Options{Family: f})
		if c.TimePercent == nil {
			assert.Contains(t, codes(c.Warnings), "no_change_told")
			assert.Nil(t, c.SpeedStops)
			continue
		}
		told++
		for _, e := range []*sensito.Estimate[float64]{c.TimePercent, c.SpeedStops, c.SpeedUnchanged, c.Fog} {
			require.NotNil(t, e)
			require.Falsef(t, math.IsNaN(e.Value) || math.IsInf(e.Value, 0) || !(e.StdErr > 0) || math.IsInf(e.StdErr, 0), "%+v of %+v", e, spec)
		}
	}
	t.Logf("told in %d of %d", told, n)
	assert.Greater(t, told, n/4)
}

// Without a trial a stated gradient gives stops, and no time; density that the
// low patch lost with contrast is not counted.
func TestSpeedByGradient(t *testing.T) {
	log := func(low, difference float64) LogSpec {
		spec := aimed(controlSpec(12, 3, func(int) float64 { return low }, func(int) float64 { return difference }))
		spec.Gradient = 0.5
		return spec
	}
	c := evaluated(t, log(-0.06, 0), Options{})
	require.NotNil(t, c.SpeedStops)
	assert.InDelta(t, -0.06/(0.5*math.Log10(2)), c.SpeedStops.Value, 1e-9)
	assert.Nil(t, c.TimePercent)
	assert.Nil(t, c.Fog)
	assert.Contains(t, codes(c.Warnings), "no_trial")
	net := float64(controlAim.Low - controlAim.BaseFog)
	difference := float64(controlAim.High - controlAim.Low)
	c = evaluated(t, log(-0.1*net, -0.1*difference), Options{})
	assert.InDelta(t, 0, c.SpeedStops.Value, 1e-9)
	spec := log(-0.06, 0)
	spec.Gradient = 0
	c = evaluated(t, spec, Options{})
	assert.Nil(t, c.SpeedStops)
	assert.Contains(t, codes(c.Warnings), "no_trial")
}

// By how much a film may differ from what the gradient takes it for is stated and
// not found from the strips: the more of the error it is, the more degrees of
// freedom are behind it (JCGM 100:2008, G.4.1).
func TestDegreesOfSpeedByGradient(t *testing.T) {
	lost := func(by float64) *sensito.Estimate[float64] {
		r := rand.New(rand.NewPCG(8, 1))
		noise := func(int) float64 { return 0.01 * r.NormFloat64() }
		spec := controlSpec(24, 3, func(i int) float64 {
			if i < 12 {
				return noise(i)
			}
			return noise(i) - by
		}, noise)
		spec.Gradient = 0.5
		return evaluated(t, spec, Options{}).SpeedStops
	}
	little, much := lost(0.1), lost(0.2)
	require.Greater(t, much.StdErr, 1.3*little.StdErr)
	assert.InEpsilon(t, math.Pow(much.StdErr/little.StdErr, 4), much.DoF/little.DoF, 0.05)
}
