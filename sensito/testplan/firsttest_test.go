package testplan_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/testplan"
)

func firstSpec() testplan.FirstTestSpec {
	return testplan.FirstTestSpec{Film: sensito.Film{Name: "Tern 400", RatedSpeed: 400}, Minutes: 9}
}

// The exposures of a first test, by hand: 0.8/400 is log -2.699, three steps of
// 0.15 below it -3.149; behind a density of 3.05 that takes log -0.099, or
// 0.796 lux seconds, of which 0.794 with a stop and a step in place of three.
func TestFirstTest(t *testing.T) {
	p, err := testplan.FirstTest(firstSpec())
	require.NoError(t, err)
	assert.Equal(t, []sensito.Minutes{5.75, 7, 9, 11.5, 14.5}, p.Minutes)
	assert.InDelta(t, -2.69897, float64(p.SpeedPoint), 1e-5)
	assert.Equal(t, 1.0, p.Seconds)
	assert.Equal(t, 0.794, p.IlluminanceLx)
	assert.InDelta(t, 3, p.Inside, 0.02)
	assert.Equal(t, 21, p.Exposures.Len())
	assert.Empty(t, p.Warnings)

	spec := firstSpec()
	spec.IlluminanceLx = 4
	p, err = testplan.FirstTest(spec)
	require.NoError(t, err)
	assert.Equal(t, 0.199, p.Seconds)
	assert.Equal(t, []string{"short_exposure"}, blind.Codes(p.Warnings))

	// In the camera the speed point lies 3.34 stops below the metered exposure,
	// 10.16 times it (ISO 2720 with q 0.65 and K 12.5).
	spec = firstSpec()
	spec.Way = sensito.Camera
	p, err = testplan.FirstTest(spec)
	require.NoError(t, err)
	assert.Equal(t, sensito.Speed(400), p.MeterIndex)
	assert.Equal(t, []float64{-7, -6, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5}, p.Stops)
	assert.InDelta(t, 7-math.Log2(8.125/0.8), p.Inside, 1e-6)
}

// For any film and wedge, the speed point of a film within a stop of its box
// lies inside, and at least three steps where it is as the box says; the times
// are a geometric row, to 15 seconds.
func TestFirstTestHoldsTheSpeedPoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := testplan.FirstTestSpec{
			Film:    sensito.Film{Name: "Tern", RatedSpeed: sensito.Speed(rapid.Float64Range(1, 6400).Draw(t, "speed"))},
			Minutes: sensito.Minutes(rapid.Float64Range(1, 60).Draw(t, "minutes")),
			Strips:  rapid.IntRange(2, 12).Draw(t, "strips"),
			Way:     rapid.SampledFrom([]sensito.Kind{sensito.Contact, sensito.Camera}).Draw(t, "way"),
		}
		if spec.Way == sensito.Camera {
			spec.StopStep = rapid.SampledFrom([]float64{1. / 3, 0.5, 1, 2}).Draw(t, "stop step")
		} else {
			spec.WedgeStep = sensito.Density(rapid.Float64Range(0.05, 0.30).Draw(t, "step"))
			spec.WedgeCount = int(3/float64(spec.WedgeStep)) + 1
			spec.Seconds = rapid.Float64Range(0.1, 30).Draw(t, "seconds")
		}
		p, err := testplan.FirstTest(spec)
		require.NoError(t, err)
		logH := p.Exposures.LogH()
		lo, hi := slices.Min(logH), slices.Max(logH)
		const rounding = 0.003 // of the exposure, to three figures
		for _, stops := range []sensito.LogRange{-1, 0, 1} {
			at := p.SpeedPoint.Add(stops * sensito.Stop)
			assert.True(t, lo < at && at < hi, "%g stops from the box: %g outside %g to %g", float64(stops), float64(at), float64(lo), float64(hi))
		}
		assert.GreaterOrEqual(t, p.Inside, 3-rounding/0.05)
		assert.InDelta(t, math.Log10(0.8/float64(spec.Film.RatedSpeed)), float64(p.SpeedPoint), 1e-12)
		for i, m := range p.Minutes {
			assert.InDelta(t, math.Round(4*float64(m)), 4*float64(m), 1e-9)
			if len(p.Minutes) == spec.Strips {
				want := float64(spec.Minutes) * math.Pow(1.6, 2*float64(i)/float64(spec.Strips-1)-1)
				assert.InDelta(t, want, float64(m), 0.13)
			}
		}
	})
}

// Films within a stop of their box, read on a first test, give their speed
// point without extrapolation.
func TestFirstTestMeasuresTheSpeedPoint(t *testing.T) {
	for _, way := range []sensito.Kind{sensito.Contact, sensito.Camera} {
		spec := firstSpec()
		spec.Way, spec.StopStep = way, 0.5
		p, err := testplan.FirstTest(spec)
		require.NoError(t, err)
		for i := range 2 * len(simulated.ClassNames) {
			r := rand.New(rand.NewPCG(uint64(i), 4))
			f := simulated.Ordinary.Film(r, i%len(simulated.ClassNames))
			truth := float64(p.SpeedPoint) + simulated.Between(r, -0.3, 0.3)
			f = f.Moved(truth - f.SpeedPoint())
			m, err := curve.Measure(simulated.OneStrip(t, p.Exposures, sensito.StripSpec{Minutes: 9, Density: simulated.Readings(r, p.Exposures, f, 0.01),
				BaseFog: []sensito.Density{sensito.Density(math.Round(100*f.Base) / 100)}}), curve.MeasureOptions{})
			require.NoError(t, err)
			require.NotNil(t, m.SpeedPoint, "%s film %d", way, i)
			assert.InDelta(t, truth, float64(m.SpeedPoint.Value), 0.10, "%s film %d", way, i)
			for _, w := range m.Warnings {
				assert.NotRegexp(t, "^the speed point lies", w.Message(), "%s film %d", way, i)
			}
		}
	}
}

func TestFirstTestWarns(t *testing.T) {
	spec := firstSpec()
	spec.WedgeCount, spec.Minutes, spec.Strips, spec.Seconds = 15, 1, 9, 20
	p, err := testplan.FirstTest(spec)
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{"wedge_too_short", "short_time", "times_alike", "long_exposure"}, blind.Codes(p.Warnings))
}

func TestFirstTestChecks(t *testing.T) {
	_, err := testplan.FirstTest(testplan.FirstTestSpec{Strips: 1, Way: "paper"})
	for _, want := range []string{"the name of the film is missing", "speed 0 is outside 0.01 to 1e+06", "published time 0 min is outside 0.5 to 240 min",
		"number of strips 1 is outside 2 to 12", `way of exposing "paper" is neither contact nor camera`} {
		assert.ErrorContains(t, err, want)
	}
	spec := firstSpec()
	spec.Seconds, spec.IlluminanceLx = 1, 1
	_, err = testplan.FirstTest(spec)
	assert.EqualError(t, err, "the exposure follows from either the seconds or the illuminance: give one of them")
	spec = firstSpec()
	spec.Process.Dilution = "one to four"
	_, err = testplan.FirstTest(spec)
	assert.ErrorContains(t, err, "process.dilution")
}

// Ives 1920: 100 ml of a developer are exhausted by 30 square inches, another by
// 300; of a roll of 80 square inches that is 266.7 and 26.7 ml.
func TestDeveloperVolume(t *testing.T) {
	const squareInch = 6.4516
	assert.InDelta(t, 100, testplan.DeveloperVolume(266.7, 30*squareInch), 0.05)
	assert.InDelta(t, 100, testplan.DeveloperVolume(26.67, 300*squareInch), 0.05)
}
