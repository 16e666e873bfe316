package scene_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

func fiveStrips(t *testing.T) *development.Family {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// FL-3, FL-4 and FL-6, the design equation: contrast is the density range wanted
// over the log luminance range less flare (described in words in discussions of
// the flare and no-flare models, the figures 0.58 and 0.44 from memory, 0.57
// published).
func TestDesignEquation(t *testing.T) {
	f := fiveStrips(t)
	stops := 2.20 / 0.30102999566398120
	for _, c := range []struct {
		source string
		scene  scene.Scene
		want   float64
		within float64
	}{
		{"FL-3", scene.Scene{Stops: stops}, 0.5833, 5e-5},
		{"FL-4", scene.Scene{Stops: stops, DensityRange: 1.05, Callier: 1.05 / 0.80}, 0.4444, 5e-5},
		{"FL-6", scene.Scene{Stops: 2.10 / 0.30102999566398120, DensityRange: 1.20, Flare: sensito.Flare{Kind: sensito.FlareNone}}, 0.5714, 5e-5},
	} {
		p, err := scene.For(f, c.scene)
		require.NoError(t, err, c.source)
		assert.InDelta(t, c.want, p.AverageGradient, c.within, c.source)
	}
}

// PA-4: a diffuse range of 0.80 prints as 1.05 where the Callier coefficient is
// 1.31, so a condenser asks for less development.
func TestCondenser(t *testing.T) {
	f := fiveStrips(t)
	p, err := scene.For(f, scene.Scene{Stops: 7, Callier: 1.31})
	require.NoError(t, err)
	assert.InDelta(t, 0.80, float64(p.DensityRange), 0.005)
	want := trueTime(1.05/1.31, simulated.Normally(7))
	assert.InDelta(t, want, float64(p.Minutes.Value), 4*float64(p.Minutes.StdErr))
	assert.Equal(t, "a density range of 0.80 (ISO range 105), condenser enlarger, Callier coefficient 1.31", p.Scene.AimText())
}

// A scan: at the time told the lightest tone of the scene has the density given.
func TestScan(t *testing.T) {
	f := fiveStrips(t)
	p, err := scene.For(f, scene.Scene{Stops: 8, ScanMax: 1.5})
	require.NoError(t, err)
	c, err := f.CurveAt(p.Minutes.Value)
	require.NoError(t, err)
	m, err := curve.SpeedPoint(c)
	require.NoError(t, err)
	_, lightest := simulated.Normally(8).Ends()
	assert.InDelta(t, 1.5, float64(c.Density(m.Add(sensito.LogRange(lightest)))), 0.005)
	want := simulated.Bisect(0.1, 100, func(t float64) float64 {
		film := simulated.ModelFilm(simulated.GammaAt(t))
		return film.Density(film.SpeedPoint()+lightest) - 1.5
	})
	assert.InDelta(t, want, float64(p.Minutes.Value), 4*float64(p.Minutes.StdErr))
	low, high := p.Minutes.Interval(0.95)
	assert.Less(t, low, p.Minutes.Value)
	assert.Greater(t, high, p.Minutes.Value)
}

// Where no time serves, what would: a paper within reach and its time.
func TestOtherPaper(t *testing.T) {
	f := fiveStrips(t)
	var u *sensito.Unanswerable
	_, err := scene.For(f, scene.Scene{Stops: 4.5})
	require.ErrorAs(t, err, &u)
	assert.Regexp(t, `grade \d \(ISO range \d+\) would serve at \d+:\d\d`, u.Hint)

	p, err := scene.For(f, scene.Scene{Stops: 7.5, DensityRange: 0.75})
	require.NoError(t, err)
	require.True(t, p.Extrapolated)
	var said string
	for _, w := range p.Warnings {
		if w.Code == "other_paper" {
			said = w.Message()
		}
	}
	assert.Regexp(t, `^within the tested times grade \d \(ISO range \d+\) would serve at [456]:\d\d$`, said)
}

func TestBadAims(t *testing.T) {
	for _, c := range []struct {
		scene scene.Scene
		want  string
	}{
		{scene.Scene{Stops: 7, Callier: 0.9}, "Callier coefficient 0.9 is outside 1 to 2"},
		{scene.Scene{Stops: 7, ScanMax: 0.3}, "greatest density for a scan 0.3 is outside 0.5 to 6"},
	} {
		assert.ErrorContains(t, c.scene.Check(), c.want)
	}
}
