package scene_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// trueTime returns when the model film spans the density range between the ends
// of the scene.
func trueTime(densityRange float64, s simulated.Lit) float64 {
	return simulated.Bisect(0.1, 200, func(t float64) float64 { return simulated.ModelFilm(simulated.GammaAt(t)).Spans(s) - densityRange })
}

func TestScene(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)

	assert.InDelta(t, 7*0.30103-0.40, float64(p.FilmRange), 1e-6)
	assert.InDelta(t, 1.05/float64(p.FilmRange), p.AverageGradient, 1e-12)
	assert.Zero(t, p.N)
	want := trueTime(1.05, simulated.Normally(7))
	assert.InDelta(t, want, float64(p.Minutes.Value), 4*float64(p.Minutes.StdErr))
	assert.Less(t, float64(p.Minutes.StdErr), 0.03*want)
	film := simulated.ModelFilm(simulated.GammaAt(want))
	index := 8.125 / (16 * math.Pow(10, film.SpeedPoint()))
	assert.InDelta(t, index, float64(p.ExposureIndex.Value), 4*float64(p.ExposureIndex.StdErr))
	assert.InDelta(t, film.ContrastIndex(), p.ContrastIndex.Value, 4*p.ContrastIndex.StdErr)
	assert.False(t, p.Extrapolated)

	require.Len(t, p.Tones, 11)
	for _, tone := range p.Tones {
		if tone.NetDensity == nil {
			assert.Greater(t, tone.Stops, 3.0)
			continue
		}
		x := film.SpeedPoint() + simulated.Normally(7).Above(tone.Stops)
		assert.InDelta(t, film.Net(x), float64(tone.NetDensity.Value), 4*float64(tone.NetDensity.StdErr)+0.002, "%+g stops", tone.Stops)
	}
	// A shadow one ISO ratio below the metered exposure is the film's speed.
	q, err := scene.For(f, scene.Scene{Stops: 7, ShadowStops: math.Log2(8.125 / 0.8)})
	require.NoError(t, err)
	assert.InEpsilon(t, 0.8/math.Pow(10, film.SpeedPoint()), float64(q.ExposureIndex.Value), 0.1)
}

// The answer must follow the aim: a longer scene needs less time, a larger
// density range more, no flare less.
func TestSceneFollowsAim(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	minutes := func(s scene.Scene) float64 {
		p, err := scene.For(f, s)
		require.NoError(t, err)
		want := trueTime(float64(p.Scene.DensityRange), simulated.LitBy(s.Stops, 4, s.Flare))
		assert.InEpsilon(t, want, float64(p.Minutes.Value), 0.03, "%+v", s)
		return float64(p.Minutes.Value)
	}
	normal := minutes(scene.Scene{Stops: 7})
	assert.Less(t, minutes(scene.Scene{Stops: 8}), normal)
	assert.Greater(t, minutes(scene.Scene{Stops: 7, DensityRange: 1.15}), normal)
	assert.Less(t, minutes(scene.Scene{Stops: 7, Flare: sensito.Flare{Kind: sensito.FlareNone}}), normal)
	assert.Less(t, minutes(scene.Scene{Stops: 7, Flare: sensito.Flare{Kind: sensito.FlareVeil, Value: 0.005}}), normal)
}

func TestSceneOutsideTimes(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 5, 6), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.True(t, p.Extrapolated)
	assert.Contains(t, blind.Codes(p.Warnings), "extrapolated")

	f, err = development.NewFamily(simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	inside, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.Greater(t, float64(p.Minutes.StdErr), 2*float64(inside.Minutes.StdErr), "extrapolation widens the interval")
	_, err = scene.For(f, scene.Scene{Stops: 5, DensityRange: 1.3})
	var u *sensito.Unanswerable
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Reason, "a density range of 1.30 over the 1.11 log H of this scene cannot be reached")
	assert.Contains(t, u.Hint, "paper of shorter range")
}

// A time that is told, to five seconds, as one that was tested does not lie outside.
func TestSceneAtTestedTime(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 9), curve.MeasureOptions{})
	require.NoError(t, err)
	for want, outside := range map[sensito.Minutes]bool{8.965: false, 9.035: false, 8.95: true, 9.05: true} {
		var p *scene.Answer
		for lo, hi := 0.8, 1.6; hi-lo > 1e-9; {
			aim := (lo + hi) / 2
			p, err = scene.For(f, scene.Scene{Stops: 7, DensityRange: sensito.NetDensity(aim)})
			require.NoError(t, err)
			if p.Minutes.Value < want {
				lo = aim
			} else {
				hi = aim
			}
		}
		require.InDelta(t, float64(want), float64(p.Minutes.Value), 1e-3)
		assert.Equal(t, outside, p.Extrapolated, "%v", p.Minutes.Value)
		assert.Equal(t, outside, slices.Contains(blind.Codes(p.Warnings), "extrapolated"), "%v: %v", p.Minutes.Value, p.Warnings)
	}
}

// One to eight strips; with one and with two the answer says what it rests on, and with
// one what it takes of usual developers is most of its error.
func TestSceneFromFewStrips(t *testing.T) {
	for n := 1; n <= 8; n++ {
		minutes := []float64{9, 6, 4, 12, 5, 7.5, 10.5, 4.5}[:n]
		f, err := development.NewFamily(simulated.ModelTrial(t, minutes...), curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		assert.InEpsilon(t, trueTime(1.05, simulated.Normally(7)), float64(p.Minutes.Value), map[bool]float64{true: 0.10, false: 0.06}[n == 1], "%d strips", n)
		first := ""
		if len(p.Warnings) > 0 {
			first = p.Warnings[0].Code
		}
		assert.Equal(t, n == 1, first == "one_strip", "%d strips: %v", n, p.Warnings)
		assert.Equal(t, n == 2, first == "two_strips", "%d strips: %v", n, p.Warnings)
		assert.Equal(t, n == 1, p.Budget()[0].Of == "law" && p.Budget()[0].Share > 0.5, "%d strips: %v", n, p.Budget())
	}

	// The interval has no end where development may have ended before.
	one, err := development.NewFamily(simulated.ModelTrial(t, 9), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(one, scene.Scene{Stops: 5.5})
	require.NoError(t, err)
	_, high := p.Minutes.Interval(0.95)
	assert.True(t, math.IsInf(float64(high), 1), "%v", p.Minutes)
	assert.Contains(t, blind.Codes(p.Warnings), "open_interval")
	assert.True(t, p.Extrapolated)
}

func TestSceneCheck(t *testing.T) {
	for _, c := range []struct {
		scene scene.Scene
		want  string
	}{
		{scene.Scene{}, "scene range in stops 0 is outside 1 to 20"},
		{scene.Scene{Stops: math.NaN()}, "scene range in stops NaN is outside 1 to 20"},
		{scene.Scene{Stops: 7, DensityRange: 9}, "density range 9 is outside 0.2 to 3"},
		{scene.Scene{Stops: 7, ShadowStops: -1}, "shadow stops -1 is outside 1 to 10"},
		{scene.Scene{Stops: 7, Flare: sensito.Flare{Kind: "fog"}}, `flare "fog" is not fixed, veil or none`},
		{scene.Scene{Stops: 2}, "flare leaves 0.20 log H of a scene of 2 stops: too little to develop for"},
	} {
		assert.EqualError(t, c.scene.Check(), c.want)
	}
	assert.NoError(t, scene.Scene{Stops: 7}.Check())
}

// Strips developed otherwise than the trial do not join it: diluted otherwise, or
// warmer without a rate that shows it.
func TestOtherConditions(t *testing.T) {
	e := simulated.ContactWedge(t, 31, false)
	r := rand.New(rand.NewPCG(4, 4))
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: sensito.Process{TemperatureC: 20, Dilution: "1+19"}, Exposures: e}
	for i, m := range []float64{5, 7, 9, 7, 7} {
		s := sensito.StripSpec{Minutes: sensito.Minutes(m), Density: simulated.Readings(r, e, simulated.ModelFilm(simulated.GammaAt(m)), 0.01)}
		switch i {
		case 3:
			s.Process.TemperatureC = 24
		case 4:
			s.Process.Dilution = "1+31"
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	assert.InDelta(t, 20, trial.Strips()[0].Process().TemperatureC, 0, "taken from the trial")
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	assert.Len(t, f.Strips, 3)
	assert.Contains(t, blind.Codes(f.Warnings), "other_conditions")
	assert.Contains(t, blind.Codes(f.Warnings), "other_temperature")
}

func TestCard(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	c, err := scene.NewCard(f, scene.Scene{})
	require.NoError(t, err)
	require.Len(t, c.Rows, 9)
	last := 0.0
	for i, row := range c.Rows {
		assert.Equal(t, -2+0.5*float64(i), row.N)
		assert.Equal(t, 7-row.N, row.Stops)
		if row.Answer == nil {
			assert.Contains(t, row.Reason, "can be reached is not known")
			continue
		}
		assert.Greater(t, float64(row.Answer.Minutes.Value), last, "shorter scenes take longer development")
		last = float64(row.Answer.Minutes.Value)
	}
	assert.Nil(t, c.Rows[8].Answer, "N+2 lies beyond what this developer gives")
}

// Near the end of development the interval of the time is the profile's: longer
// above than below, and open where the strips do not exclude that the aim is
// out of reach.
func TestTimeNearTheLimit(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 6, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	widths := func(densityRange sensito.NetDensity) (below, above float64, p *scene.Answer) {
		p, err := scene.For(f, scene.Scene{Stops: 7, DensityRange: densityRange})
		require.NoError(t, err)
		low, high := p.Minutes.Interval(0.95)
		return math.Log(float64(p.Minutes.Value / low)), math.Log(float64(high / p.Minutes.Value)), p
	}
	below, above, p := widths(0.80)
	assert.InEpsilon(t, below, above, 0.1, "far from the limit it is symmetric")
	assert.InEpsilon(t, fit.StudentT(0.95, p.Minutes.DoF)*float64(p.Minutes.StdErr/p.Minutes.Value), (below+above)/2, 0.1, "and that of the standard deviation")
	below, above, _ = widths(1.40)
	assert.Greater(t, above, 1.15*below)
	assert.NotContains(t, blind.Codes(p.Warnings), "open_interval")

	few, err := development.NewFamily(simulated.ModelTrial(t, 4, 5, 6), curve.MeasureOptions{})
	require.NoError(t, err)
	open, err := scene.For(few, scene.Scene{Stops: 7, DensityRange: 1.30})
	require.NoError(t, err)
	_, high := open.Minutes.Interval(0.95)
	assert.True(t, math.IsInf(float64(high), 1))
	assert.Contains(t, blind.Codes(open.Warnings), "open_interval")
}

func BenchmarkScene(b *testing.B) {
	trial := simulated.ModelTrial(b, 4, 5.5, 7, 9, 12)
	b.Run("strips=5", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f, err := development.NewFamily(trial, curve.MeasureOptions{})
			require.NoError(b, err)
			_, err = scene.For(f, scene.Scene{Stops: 7})
			require.NoError(b, err)
		}
	})
}

// Where the lightest tones lie on the shoulder less exposure helps: with the darkest on
// the speed point whatever tone is metered, by a higher index, and not by another tone.
func TestOnShoulder(t *testing.T) {
	f := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0.45, 0), "", simulated.FiveTimes, func(minutes float64) simulated.Film {
		return simulated.Film{Base: 0.1, Layers: []simulated.Layer{{Shape: simulated.Shouldered, Amplitude: simulated.GammaAt(minutes), At: -2.2, Width: 0.13, Span: 2.05, SpanWidth: 0.12}}}
	})
	told := func(p *scene.Answer) string {
		for _, w := range p.Warnings {
			if w.Code == "on_shoulder" {
				return w.Message()
			}
		}
		return ""
	}
	var ranges []sensito.NetDensity // of the tones of the scene
	for _, m := range []float64{4, 3} {
		p, err := scene.For(f, scene.Scene{Stops: 7, ShadowStops: m})
		require.NoError(t, err)
		assert.Contains(t, told(p), "Less exposure, by a stop or so (an index twice as high), keeps them off it")
		lightest := slices.IndexFunc(p.Tones, func(t scene.Tone) bool { return t.Stops == 7-m })
		ranges = append(ranges, p.Tones[lightest].NetDensity.Value)
	}
	assert.InDelta(t, float64(ranges[0]), float64(ranges[1]), 1e-6, "another tone metered")

	spots := &camera.Metering{Shadow: camera.SpotReading{EV: 3, Zone: 3}, Highlight: camera.SpotReading{EV: 8, Zone: 8}}
	p, err := scene.For(f, scene.Scene{Stops: 7, Metering: spots})
	require.NoError(t, err)
	assert.Contains(t, told(p), "Less exposure (3 stops or so from the metered tone to the speed point, in place of 4) keeps them off it")
	p, err = scene.For(f, scene.Scene{Stops: 7, Metering: spots, ShadowStops: 3})
	require.NoError(t, err)
	assert.Empty(t, told(p))
}
