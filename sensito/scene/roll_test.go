package scene_test

import (
	"fmt"
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
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// sixFrames are scenes of 5 to 10 stops.
func sixFrames() []scene.Frame {
	var frames []scene.Frame
	for i, stops := range []float64{7, 5, 8, 10, 6, 9} {
		frames = append(frames, scene.Frame{Name: fmt.Sprintf("frame %d", i+1), Stops: stops})
	}
	return frames
}

// longFamily is of model films, with exposures that reach over ten stops and more.
func longFamily(t *testing.T) *development.Family {
	e, err := sensito.NewContact(math.Pow(10, 1.05), 1, sensito.EvenWedge(0.05, 0.1, 38))
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(4, 9))
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
	for _, m := range []float64{4, 5.5, 7, 9, 12} {
		spec.Strips = append(spec.Strips, sensito.StripSpec{Minutes: sensito.Minutes(m), BaseFog: []sensito.Density{0.12, 0.12},
			Density: simulated.Readings(r, e, simulated.ModelFilm(simulated.GammaAt(m)), 0.01)})
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// rollAt returns how far the worst frame of a film developed for a time lies
// from the aim.
func rollAt(minutes, aim float64, scenes []simulated.Lit) float64 {
	var worst float64
	for _, s := range scenes {
		worst = math.Max(worst, math.Abs(simulated.ModelFilm(simulated.GammaAt(minutes)).Spans(s)-aim))
	}
	return worst
}

// The one time, and the grade of each frame, as a search over all times and
// grades finds them on the film that the strips were made from.
func TestRollAgainstSearch(t *testing.T) {
	f := longFamily(t)
	frames := sixFrames()
	r, err := scene.ForRoll(f, scene.Scene{}, frames)
	require.NoError(t, err)
	require.Len(t, r.Frames, len(frames))

	var scenes []simulated.Lit
	for _, frame := range r.Frames {
		scenes = append(scenes, simulated.Normally(frame.Stops))
	}
	best, least := 0.0, math.Inf(1)
	for minutes := 2.0; minutes < 15; minutes += 0.01 {
		if worst := rollAt(minutes, 1.05, scenes); worst < least {
			best, least = minutes, worst
		}
	}
	assert.InDelta(t, best, float64(r.Minutes.Value), 3*float64(r.Minutes.StdErr))
	assert.Less(t, float64(r.Minutes.StdErr), 0.03*best)
	assert.InDelta(t, least, math.Abs(float64(r.Frames[r.Worst].Mismatch)), 0.03)
	assert.Contains(t, []float64{5, 10}, r.Frames[r.Worst].Stops)

	for i, frame := range r.Frames {
		want := simulated.ModelFilm(simulated.GammaAt(best)).Spans(scenes[i])
		assert.InDelta(t, want, float64(frame.DensityRange.Value), 4*float64(frame.DensityRange.StdErr)+0.01, frame.Name)
		var grade string
		nearest := math.Inf(1)
		for _, g := range paper.GradeTable() {
			if apart := math.Abs(float64(g.Middle()) - want); apart < nearest {
				grade, nearest = g.Name, apart
			}
		}
		assert.Equal(t, "grade "+grade, frame.Print.Name, "%s of %g stops", frame.Name, frame.Stops)
		assert.InDelta(t, nearest, math.Abs(float64(frame.Rest)), 0.03)
	}
}

// One frame alone is a scene; a scan is ruled by its most contrasty frame.
func TestRollLimits(t *testing.T) {
	f := longFamily(t)
	alone, err := scene.ForRoll(f, scene.Scene{}, []scene.Frame{{Name: "lamp", Stops: 7}})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.InDelta(t, float64(p.Minutes.Value), float64(alone.Minutes.Value), 1e-6)
	assert.InDelta(t, float64(p.ExposureIndex.Value), float64(alone.ExposureIndex.Value), 1e-6*float64(p.ExposureIndex.Value))
	assert.InDelta(t, float64(p.Minutes.StdErr), float64(alone.Minutes.StdErr), 0.02*float64(p.Minutes.StdErr))

	scanned, err := scene.ForRoll(f, scene.Scene{ScanMax: 1.6}, sixFrames())
	require.NoError(t, err)
	p, err = scene.For(f, scene.Scene{Stops: 10, ScanMax: 1.6})
	require.NoError(t, err)
	assert.InDelta(t, float64(p.Minutes.Value), float64(scanned.Minutes.Value), 1e-3)

	_, err = scene.ForRoll(f, scene.Scene{}, nil)
	assert.ErrorContains(t, err, "0 frames is outside 1 to 500")
	_, err = scene.ForRoll(f, scene.Scene{}, []scene.Frame{{Name: "lens", Stops: 0.5}, {Name: "lamp", Stops: 21}})
	assert.ErrorContains(t, err, "lens: scene range in stops 0.5 is outside 1 to 20")
	assert.ErrorContains(t, err, "lamp: scene range in stops 21")
	var u *sensito.Unanswerable
	_, err = scene.ForRoll(f, scene.Scene{DensityRange: 2.5}, sixFrames())
	require.ErrorAs(t, err, &u)
}

// A roll of one frame is its scene: it gets the same time, or is refused for the
// same reason.
func TestRollOfOneFrame(t *testing.T) {
	families := map[string]*development.Family{
		"five times": longFamily(t),
		"two baths":  blind.ExactFamily(t, "", simulated.WedgeOf(t, 0.45, 0), "", simulated.FiveTimes, func(minutes float64) simulated.Film { return simulated.ModelFilm(0.52 + 0.001*minutes) }),
		"one strip":  blind.ExactFamily(t, "", simulated.WedgeOf(t, 0.45, 0), "", []float64{8}, simulated.Growing(-2, 0.12, 0.10)),
	}
	answers, refusals := 0, 0
	for name, f := range families {
		for _, s := range []scene.Scene{{}, {DensityRange: 0.35}, {DensityRange: 1.7}, {DensityRange: 1.95}, {DensityRange: 2.9}, {ScanMax: 0.7}, {ScanMax: 1.6}, {ScanMax: 2.05}, {ScanMax: 2.4}, {ScanMax: 4}, {ShadowStops: 3, ScanMax: 1.3}} {
			r, rollErr := scene.ForRoll(f, s, []scene.Frame{{Name: "lamp", Stops: 7}})
			s.Stops = 7
			p, err := scene.For(f, s)
			if err != nil {
				var u, ofRoll *sensito.Unanswerable
				require.ErrorAs(t, err, &u)
				require.ErrorAs(t, rollErr, &ofRoll, "%s %+v: %v", name, s, err)
				assert.Equal(t, u, ofRoll, "%s %+v", name, s)
				refusals++
				continue
			}
			require.NoError(t, rollErr, "%s %+v at %v", name, s, p.Minutes.Value)
			assert.InEpsilon(t, float64(p.Minutes.Value), float64(r.Minutes.Value), 1e-6)
			assert.InEpsilon(t, float64(p.Minutes.StdErr), float64(r.Minutes.StdErr), 0.02, "%s %+v", name, s)
			assert.InDelta(t, float64(p.Delivered.Value), float64(r.Frames[0].DensityRange.Value), 1e-6)
			assert.Equal(t, p.Extrapolated, r.Extrapolated)
			answers++
		}
	}
	assert.Equal(t, 15, answers)
	assert.Equal(t, 18, refusals)
}
