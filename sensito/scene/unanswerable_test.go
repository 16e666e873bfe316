package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// An aim is refused only where the film does not reach it, as far as twice the
// longest tested time shows; where the strips do not tell, that is said.
func TestBlindRefusals(t *testing.T) {
	t.Parallel()
	refused, wrong, unknown := 0, 0, 0
	n := 60 * blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 91))
		d, _, family := blind.Family(t, simulated.Reaching, r, i%len(simulated.ClassNames))
		longest := d.Minutes[4]
		at := func(minutes float64) float64 { return d.At(minutes).Spans(simulated.Normally(7)) }
		aim := min(2.9, at(longest)*simulated.Between(r, 1.0, 1.35))
		_, err := scene.For(family, scene.Scene{Stops: 7, DensityRange: sensito.NetDensity(aim)})
		if err == nil {
			continue
		}
		var u *sensito.Unanswerable
		require.ErrorAs(t, err, &u)
		switch {
		case strings.Contains(u.Reason, "cannot be reached"):
			refused++
			assert.Regexp(t, `it ends between \d\.\d\d and \d\.\d\d$`, u.Reason)
			if at(2*longest) >= aim {
				wrong++
			}
		default:
			unknown++
			assert.Contains(t, u.Reason, "can be reached is not known")
			assert.Contains(t, u.Hint, "develop a strip for about")
		}
	}
	t.Logf("%d of %d refused, %d of them reach the aim within twice the longest time; of %d it is not known", refused, n, wrong, unknown)
	assert.Greater(t, refused, n/10)
	assert.LessOrEqual(t, float64(wrong), 0.05*float64(refused))
	assert.Greater(t, unknown, 0)
}

// Developers that slow down like t / (t + half) go on gaining for long after first order
// would have ended: what they reach within four times the longest tested time is not called
// out of reach, and development that has ended still is.
func TestBlindSlowingGrowth(t *testing.T) {
	t.Parallel()
	e := simulated.WedgeOf(t, 0.45, 0)
	refusals := func(seed uint64, most float64, gamma func(minutes, half float64) float64) (refused, wrong, unknown int) {
		for i := range 40 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), seed))
			half := simulated.Between(r, 4, 9)
			at := func(minutes float64) simulated.Film { return simulated.ModelFilm(gamma(minutes, half)) }
			spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
			for _, m := range simulated.FiveTimes {
				by := m * (1 + 0.008*r.NormFloat64())
				spec.Strips = append(spec.Strips, sensito.StripSpec{Minutes: sensito.Minutes(m), BaseFog: []sensito.Density{0.12, 0.12}, Density: simulated.Readings(r, e, at(by), 0.01)})
			}
			trial, err := sensito.NewTrial(spec)
			require.NoError(t, err)
			f, err := development.NewFamily(trial, curve.MeasureOptions{})
			require.NoError(t, err)
			aim := at(12).Spans(simulated.Normally(7)) * simulated.Between(r, 1.1, most)
			_, err = scene.For(f, scene.Scene{Stops: 7, DensityRange: sensito.NetDensity(aim)})
			switch {
			case err == nil:
			case !strings.Contains(err.Error(), "cannot be reached"):
				unknown++
			default:
				refused++
				if at(4*12).Spans(simulated.Normally(7)) > aim {
					wrong++
				}
			}
		}
		return refused, wrong, unknown
	}
	refused, wrong, unknown := refusals(92, 1.5, func(minutes, half float64) float64 { return 1.1 * minutes / (minutes + half) })
	t.Logf("slowing down: %d refused, %d of them wrongly; of %d it is not known", refused, wrong, unknown)
	assert.LessOrEqual(t, float64(wrong), 0.05*float64(40*blind.Effort(t)))
	assert.Greater(t, unknown, 0)
	refused, wrong, unknown = refusals(93, 1.2, func(minutes, half float64) float64 { return 0.7 * -math.Expm1(-2.4*minutes/half) })
	t.Logf("ended: %d refused, %d of them wrongly; of %d it is not known", refused, wrong, unknown)
	assert.Greater(t, refused, 20*blind.Effort(t))
	assert.Zero(t, wrong)
}

// Film whose contrast time hardly moves, as in two baths: no time is told, but
// what changes contrast, and what print the negative suits.
func TestTimeIsNoControl(t *testing.T) {
	e := simulated.WedgeOf(t, 0.45, 0)
	twoBaths := func(gamma float64) *development.Family {
		r := rand.New(rand.NewPCG(7, 7))
		spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
		for i, m := range []float64{3, 4, 5, 6} {
			spec.Strips = append(spec.Strips, sensito.StripSpec{Minutes: sensito.Minutes(m), BaseFog: []sensito.Density{0.12, 0.12},
				Density: simulated.Readings(r, e, simulated.ModelFilm(gamma+0.003*float64(i)), 0.01)})
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		f, err := development.NewFamily(trial, curve.MeasureOptions{})
		require.NoError(t, err)
		return f
	}
	var u *sensito.Unanswerable
	f := twoBaths(0.52)
	_, err := scene.For(f, scene.Scene{Stops: 7})
	require.ErrorAs(t, err, &u)
	assert.Regexp(t, `^time is no control here: at times from 3:00 to 6:00 the density range of this scene only lies between 0\.8\d and 0\.9\d, where 1.05 is wanted$`, u.Reason)
	assert.Contains(t, u.Hint, "dilution, temperature or agitation")
	assert.Contains(t, u.Hint, "grade 3")
	require.ErrorAs(t, f.NoContrast, &u)
	assert.Contains(t, u.Reason, "time is no control here")

	_, err = scene.For(twoBaths(0.61), scene.Scene{Stops: 7})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Hint, "develop for a time that was tested, which gives what is wanted")

	_, err = scene.For(twoBaths(1.30), scene.Scene{Stops: 7})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Hint, "; as it is, no grade prints such a negative: the nearest is grade 0 (ISO range 155)")

	// Ordinary development near its end is told from that, even by two strips.
	for _, minutes := range [][]float64{{4, 6, 9, 12}, {6, 12}, {8, 10, 12}} {
		f, err := development.NewFamily(simulated.ModelTrial(t, minutes...), curve.MeasureOptions{})
		require.NoError(t, err)
		require.NoError(t, f.NoContrast)
		_, err = scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err, "%v", minutes)
	}
}

// A scene longer than the strips reach: how long a scene they answer, which they
// then do, and how to reach further.
func TestSceneBeyondStrips(t *testing.T) {
	f, err := development.NewFamily(simulated.CutTrial(t, simulated.ModelTrial(t, 4, 6, 9), 6), curve.MeasureOptions{})
	require.NoError(t, err)
	var u *sensito.Unanswerable
	_, err = scene.For(f, scene.Scene{Stops: 9})
	require.ErrorAs(t, err, &u)
	assert.Regexp(t, `^a scene of 9 stops needs strips exposed to 2\.71 log H above the speed point, and [01] of 3 reach there$`, u.Reason)
	assert.Regexp(t, `these strips answer scenes of up to 7(\.\d)? stops$`, u.Hint)
	var stops float64
	_, after, _ := strings.Cut(u.Hint, "up to ")
	_, err = fmt.Sscanf(after, "%g stops", &stops)
	require.NoError(t, err)
	_, err = scene.For(f, scene.Scene{Stops: stops})
	assert.NoError(t, err)
	_, err = scene.For(f, scene.Scene{Stops: stops + 0.1})
	assert.ErrorAs(t, err, &u)
}

// Strips whose contrast goes up and down, as when two were swapped: no law, and
// what to look at. Time may well be a control.
func TestContrastThatFalls(t *testing.T) {
	gammas := map[float64]float64{4: 0.66, 5.5: 0.78, 7: 0.55, 9: 0.62}
	f := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0.45, 0), "", []float64{4, 5.5, 7, 9}, func(minutes float64) simulated.Film { return simulated.ModelFilm(gammas[minutes]) })
	for _, s := range []scene.Scene{{Stops: 7}, {Stops: 7, ScanMax: 1.5}} {
		var u *sensito.Unanswerable
		_, err := scene.For(f, s)
		require.ErrorAs(t, err, &u)
		assert.Regexp(t, `^the strips do not show contrast grow with time: at times from 4:00 to 9:00 it lies between`, u.Reason)
		_, err = scene.ForRoll(f, s, []scene.Frame{{Name: "lamp", Stops: 7}})
		require.ErrorAs(t, err, &u)
	}
}

// lineFilm is film for line drawings: gradient 4 and more, its greatest density the same at
// all times.
func lineFilm(minutes float64) simulated.Film {
	gamma := 4 + 0.3*minutes
	return simulated.Film{Base: 0.1, Layers: []simulated.Layer{{Shape: simulated.Shouldered, Amplitude: gamma, At: -2, Width: 0.05, Span: 3.5 / gamma, SpanWidth: 0.10}}}
}

// Film whose contrast grows, but which is black already where the scene's lightest tone
// lands: it is not said that strips were mixed up, but what film so steep can hold.
func TestSceneOnTheShoulder(t *testing.T) {
	e, err := sensito.NewContact(1, 1, sensito.EvenWedge(0.05, 0.10, 31))
	require.NoError(t, err)
	f := blind.ExactFamily(t, "", e, "", []float64{4, 6, 9}, lineFilm)
	require.NoError(t, f.NoContrast)
	var u *sensito.Unanswerable
	_, err = scene.For(f, scene.Scene{Stops: 7})
	require.ErrorAs(t, err, &u)
	assert.Regexp(t, `^the density range of this scene does not grow with time: at times from 4:00 to 9:00 it only lies between \d\.\d\d and \d\.\d\d, for the lightest tone lies on the shoulder of the film$`, u.Reason)
	assert.Equal(t, "film that steep holds a short scene: ask for a shorter one, with the flare that it really has: what is assumed lifts the darkest tone by 0.41 log H", u.Hint)

	_, err = scene.For(f, scene.Scene{Stops: 1.2, DensityRange: 1.2, Flare: sensito.Flare{Kind: sensito.FlareNone}})
	assert.NoError(t, err)
}

// Strips that begin far above their speed point are not placed by the others:
// they take no part in a scene, and one strip that remains is no law of speed.
func TestSpeedPointOfFewStrips(t *testing.T) {
	for shown := 1; shown <= 2; shown++ {
		f := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0.45, 0), "", simulated.FiveTimes, func(minutes float64) simulated.Film {
			if minutes <= simulated.FiveTimes[shown-1] {
				return simulated.Growing(-2, 0.12, 0.10)(minutes)
			}
			return simulated.Growing(-4, 0.12, 0.10)(minutes)
		})
		p, err := scene.For(f, scene.Scene{Stops: 7})
		if shown == 1 {
			var u *sensito.Unanswerable
			require.ErrorAs(t, err, &u)
			assert.Contains(t, u.Reason, "4 of 5 strips do not show their speed point")
			continue
		}
		require.NoError(t, err)
		assert.Contains(t, fmt.Sprint(p.Warnings), "3 of 5 strips do not reach from their speed point")
		film := simulated.Growing(-2, 0.12, 0.10)(float64(p.Minutes.Value))
		assert.InDelta(t, 8.125/(16*math.Pow(10, film.SpeedPoint())), float64(p.ExposureIndex.Value), 0.02*float64(p.ExposureIndex.Value))
	}
}
