package development_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// The interval of a time among five strips is as wide as Student's t makes its
// standard error (JCGM 100:2008, table G.2), by the degrees of freedom that the
// scatter of strips about their law leaves, and a little wider, since the profile of the
// likelihood is.
func TestTimeIntervalIsStudents(t *testing.T) {
	film := simulated.Growing(-2, 0.12, 0.10)
	aimed := scene.Scene{Stops: 6, Flare: sensito.Flare{Kind: sensito.FlareNone}}
	aimed.DensityRange = sensito.NetDensity(film(7).Rise(aimed.Stops * math.Log10(2)))
	p, err := scene.For(blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", simulated.FiveTimes, film), aimed)
	require.NoError(t, err)
	assert.InDelta(t, 7, p.Minutes.DoF, 3)
	low, high := p.Minutes.Interval(0.95)
	ratio := math.Log(float64(high/low)) / 2 / float64(p.Minutes.StdErr/p.Minutes.Value)
	assert.Greater(t, ratio, fit.StudentT(0.95, p.Minutes.DoF))
	assert.Less(t, ratio, 1.3*fit.StudentT(0.95, p.Minutes.DoF))
}

// What the lamp leaves open joins every speed that strips give together.
func TestCommonLogHOfFamilies(t *testing.T) {
	const lamp = 0.05
	film := simulated.Growing(-2, 0.12, 0.10)
	still, shaken := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", simulated.FiveTimes, film), blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, lamp), "", simulated.FiveTimes, film)
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

// The ISO contrast condition: the time at which the model film has it.
func TestFamilyISO(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 5.5, 7, 9, 12, 16), curve.MeasureOptions{})
	require.NoError(t, err)
	require.NotNil(t, f.ISOMinutes)
	want := simulated.Bisect(0.1, 200, func(t float64) float64 { return simulated.ModelFilm(simulated.GammaAt(t)).Rise(1.30) - 0.80 })
	assert.InDelta(t, want, float64(f.ISOMinutes.Value), 4*float64(f.ISOMinutes.StdErr))
	speed := 0.8 / math.Pow(10, simulated.ModelFilm(simulated.GammaAt(want)).SpeedPoint())
	assert.InDelta(t, speed, float64(f.ISOSpeed.Value), 4*float64(f.ISOSpeed.StdErr))
	at, err := f.At(8)
	require.NoError(t, err)
	assert.InDelta(t, simulated.ModelFilm(simulated.GammaAt(8)).ContrastIndex(), at.Contrast.Value, 4*at.Contrast.StdErr)
	assert.InDelta(t, 0.12, float64(at.BaseFog.Value), 4*float64(at.BaseFog.StdErr))
}

// Of strips of one time the curve is theirs.
func TestCurveAtOneTime(t *testing.T) {
	for _, times := range [][]float64{{7}, {7, 7}} {
		f := blind.FamilyOf(t, simulated.ModelTrial(t, times...).Spec())
		c, err := f.CurveAt(7)
		require.NoError(t, err)
		for h := sensito.LogExposure(-2); h < 0; h += 0.25 {
			assert.InDelta(t, float64(f.Strips[0].Fit.Curve.Density(h)), float64(c.Density(h)), 0.02, "%v at %.2f", times, float64(h))
		}
	}
}

// The curve at a time between the strips is that of the film.
func TestCurveAt(t *testing.T) {
	f := blind.FamilyOf(t, simulated.ModelTrial(t, 4, 5.5, 7, 9, 12).Spec())
	for _, minutes := range []float64{4.5, 6, 8, 11} {
		c, err := f.CurveAt(sensito.Minutes(minutes))
		require.NoError(t, err)
		film := simulated.ModelFilm(simulated.GammaAt(minutes))
		lo, hi := c.Domain()
		assert.Greater(t, float64(hi.Sub(lo)), 2.5)
		for h := lo; h < hi; h = h.Add(0.1) {
			assert.InDelta(t, film.Density(float64(h)), float64(c.Density(h)), 0.02, "%g min at %.2f", minutes, float64(h))
		}
	}
}

// A strip that was keyed in a step off is named by the family too, from which times come.
func TestStripKeyedAStepOff(t *testing.T) {
	disagrees := func(trial *sensito.Trial) []int {
		f, err := development.NewFamily(trial, curve.MeasureOptions{})
		require.NoError(t, err)
		var strips []int
		for _, w := range f.Warnings {
			if w.Code == "strip_disagrees" {
				strips = append(strips, w.Strip)
			}
		}
		return strips
	}
	sound := simulated.ModelTrial(t, 5, 6.5, 8, 10, 13)
	assert.Empty(t, disagrees(sound))
	assert.Equal(t, []int{3}, disagrees(simulated.EditedTrial(t, sound, func(i int, s *sensito.StripSpec) {
		if i == 2 {
			s.Density = append(s.Density[1:], sensito.Density(math.NaN()))
		}
	})))
}

// The contrast of ISO 6 outside the tested times is told where that is of use: not of film
// for line drawings, which has it in a few seconds at most.
func TestISOOutside(t *testing.T) {
	for _, c := range []struct {
		minutes []float64
		want    string // "" for nothing
	}{
		{[]float64{9, 12, 16}, "the ISO contrast condition would be met at 5:55, outside the tested times"},
		{[]float64{2, 2.5, 3}, "the ISO contrast condition would be met at 6:00, outside the tested times"},
		{[]float64{26, 32, 40}, ""},
		{[]float64{0.8, 1, 1.3}, ""},
	} {
		f := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", c.minutes, simulated.Growing(-2, 0.12, 0.10))
		got := ""
		for _, w := range f.Warnings {
			if w.Code == "iso_outside" {
				got = w.Message()
			}
		}
		assert.Equal(t, c.want, got, "%v", c.minutes)
		assert.Nil(t, f.ISOMinutes)
	}
}
