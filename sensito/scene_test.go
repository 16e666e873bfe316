package sensito_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// family returns a trial of model films developed for the given times, with
// gamma 0.95 (1 - exp(-0.15 t)), whose exposures reach over eight stops.
func family(t testing.TB, minutes ...float64) *sensito.Trial {
	e, err := sensito.NewContact(math.Pow(10, 0.35), 1, sensito.EvenWedge(0.05, 0.1, 31))
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(21, 1))
	spec := sensito.TrialSpec{Title: "Larkfield 125 in Brinewater", Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
	for _, m := range minutes {
		spec.Strips = append(spec.Strips, sensito.StripSpec{Minutes: sensito.Minutes(m), BaseFog: []sensito.Density{0.12},
			Density: readings(r, e, modelFilm(gammaAt(m)), 0.01)})
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

func gammaAt(minutes float64) float64 { return 0.95 * (1 - math.Exp(-0.15*minutes)) }

// trueTime returns when the model film spans the density range between the ends
// of the scene.
func trueTime(densityRange float64, s lit) float64 {
	return bisect(0.1, 200, func(t float64) float64 { return modelFilm(gammaAt(t)).spans(s) - densityRange })
}

func TestScene(t *testing.T) {
	f, err := development.NewFamily(family(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)

	assert.InDelta(t, 7*0.30103-0.40, float64(p.FilmRange), 1e-6)
	assert.InDelta(t, 1.05/float64(p.FilmRange), p.AverageGradient, 1e-12)
	assert.Zero(t, p.N)
	want := trueTime(1.05, normally(7))
	assert.InDelta(t, want, float64(p.Minutes.Value), 4*float64(p.Minutes.StdErr))
	assert.Less(t, float64(p.Minutes.StdErr), 0.03*want)
	film := modelFilm(gammaAt(want))
	index := 8.125 / (16 * math.Pow(10, film.speedPoint()))
	assert.InDelta(t, index, float64(p.ExposureIndex.Value), 4*float64(p.ExposureIndex.StdErr))
	assert.InDelta(t, film.contrastIndex(), p.ContrastIndex.Value, 4*p.ContrastIndex.StdErr)
	assert.False(t, p.Extrapolated)

	require.Len(t, p.Tones, 11)
	for _, tone := range p.Tones {
		if tone.NetDensity == nil {
			assert.Greater(t, tone.Stops, 3.0)
			continue
		}
		x := film.speedPoint() + normally(7).above(tone.Stops)
		assert.InDelta(t, film.net(x), float64(tone.NetDensity.Value), 4*float64(tone.NetDensity.StdErr)+0.002, "%+g stops", tone.Stops)
	}
	// A shadow one ISO ratio below the metered exposure is the film's speed.
	q, err := scene.For(f, scene.Scene{Stops: 7, ShadowStops: math.Log2(8.125 / 0.8)})
	require.NoError(t, err)
	assert.InEpsilon(t, 0.8/math.Pow(10, film.speedPoint()), float64(q.ExposureIndex.Value), 0.1)
}

// The answer must follow the aim: a longer scene needs less time, a larger
// density range more, no flare less.
func TestSceneFollowsAim(t *testing.T) {
	f, err := development.NewFamily(family(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	minutes := func(s scene.Scene) float64 {
		p, err := scene.For(f, s)
		require.NoError(t, err)
		want := trueTime(float64(p.Scene.DensityRange), litBy(s.Stops, 4, s.Flare))
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
	f, err := development.NewFamily(family(t, 4, 5, 6), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.True(t, p.Extrapolated)
	assert.Contains(t, codes(p.Warnings), "extrapolated")

	f, err = development.NewFamily(family(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
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

func TestSceneNeedsTwoTimes(t *testing.T) {
	one, err := development.NewFamily(family(t, 6), curve.MeasureOptions{})
	require.NoError(t, err)
	var u *sensito.Unanswerable
	require.ErrorAs(t, one.NoContrast, &u)
	_, err = one.At(6)
	require.ErrorAs(t, err, &u)
	_, err = scene.For(one, scene.Scene{Stops: 7})
	require.ErrorAs(t, err, &u)
	assert.Equal(t, "the trial has one development time, and a rate needs two or more", u.Reason)

	// One to eight strips; with two the answer says what it rests on.
	for n := 2; n <= 8; n++ {
		minutes := []float64{6, 9, 4, 12, 5, 7.5, 10.5, 4.5}[:n]
		f, err := development.NewFamily(family(t, minutes...), curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		assert.InEpsilon(t, trueTime(1.05, normally(7)), float64(p.Minutes.Value), 0.06, "%d strips", n)
		assert.Equal(t, n == 2, len(codes(p.Warnings)) > 0 && codes(p.Warnings)[0] == "two_strips", "%d strips: %v", n, p.Warnings)
	}
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
	e := contact(t, 31, false)
	r := rand.New(rand.NewPCG(4, 4))
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: sensito.Process{TemperatureC: 20, Dilution: "1+19"}, Exposures: e}
	for i, m := range []float64{5, 7, 9, 7, 7} {
		s := sensito.StripSpec{Minutes: sensito.Minutes(m), Density: readings(r, e, modelFilm(gammaAt(m)), 0.01)}
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
	assert.Contains(t, codes(f.Warnings), "other_conditions")
	assert.Contains(t, codes(f.Warnings), "other_temperature")
}

func TestCard(t *testing.T) {
	f, err := development.NewFamily(family(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	c, err := scene.NewCard(f, scene.Scene{})
	require.NoError(t, err)
	require.Len(t, c.Rows, 9)
	last := 0.0
	for i, row := range c.Rows {
		assert.Equal(t, -2+0.5*float64(i), row.N)
		assert.Equal(t, 7-row.N, row.Stops)
		if row.Plan == nil {
			assert.Contains(t, row.Reason, "can be reached is not known")
			continue
		}
		assert.Greater(t, float64(row.Plan.Minutes.Value), last, "shorter scenes take longer development")
		last = float64(row.Plan.Minutes.Value)
	}
	assert.Nil(t, c.Rows[8].Plan, "N+2 lies beyond what this developer gives")
}

// The ISO contrast condition: the time at which the model film has it.
func TestFamilyISO(t *testing.T) {
	f, err := development.NewFamily(family(t, 4, 5.5, 7, 9, 12, 16), curve.MeasureOptions{})
	require.NoError(t, err)
	require.NotNil(t, f.ISOMinutes)
	want := bisect(0.1, 200, func(t float64) float64 { return modelFilm(gammaAt(t)).rise(1.30) - 0.80 })
	assert.InDelta(t, want, float64(f.ISOMinutes.Value), 4*float64(f.ISOMinutes.StdErr))
	speed := 0.8 / math.Pow(10, modelFilm(gammaAt(want)).speedPoint())
	assert.InDelta(t, speed, float64(f.ISOSpeed.Value), 4*float64(f.ISOSpeed.StdErr))
	at, err := f.At(8)
	require.NoError(t, err)
	assert.InDelta(t, modelFilm(gammaAt(8)).contrastIndex(), at.Contrast.Value, 4*at.Contrast.StdErr)
	assert.InDelta(t, 0.12, float64(at.BaseFog.Value), 4*float64(at.BaseFog.StdErr))
}

// Near the end of development the interval of the time is the profile's: longer
// above than below, and open where the strips do not exclude that the aim is
// out of reach.
func TestTimeNearTheLimit(t *testing.T) {
	f, err := development.NewFamily(family(t, 4, 6, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	widths := func(densityRange sensito.NetDensity) (below, above float64, p *scene.Plan) {
		p, err := scene.For(f, scene.Scene{Stops: 7, DensityRange: densityRange})
		require.NoError(t, err)
		low, high := p.Minutes.Interval(0.95)
		return math.Log(float64(p.Minutes.Value / low)), math.Log(float64(high / p.Minutes.Value)), p
	}
	below, above, p := widths(0.80)
	assert.InEpsilon(t, below, above, 0.1, "far from the limit it is symmetric")
	assert.InEpsilon(t, 1.96*float64(p.Minutes.StdErr/p.Minutes.Value), (below+above)/2, 0.1, "and that of the standard deviation")
	below, above, _ = widths(1.40)
	assert.Greater(t, above, 1.15*below)
	assert.NotContains(t, codes(p.Warnings), "open_interval")

	few, err := development.NewFamily(family(t, 4, 5, 6), curve.MeasureOptions{})
	require.NoError(t, err)
	open, err := scene.For(few, scene.Scene{Stops: 7, DensityRange: 1.50})
	require.NoError(t, err)
	_, high := open.Minutes.Interval(0.95)
	assert.True(t, math.IsInf(float64(high), 1))
	assert.Contains(t, codes(open.Warnings), "open_interval")
}
