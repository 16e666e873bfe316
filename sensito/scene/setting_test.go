package scene_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// metered returns the answer for a shadow of EV 3 on zone III and a highlight of
// EV 8 on VIII, of a film with the reciprocity law given.
func metered(t *testing.T, law *sensito.StatedReciprocity) *scene.Answer {
	t.Helper()
	trial := simulated.ModelTrial(t, 4, 5.5, 7, 9, 12)
	spec := sensito.TrialSpec{Film: trial.Film(), Exposures: trial.Exposures(), Reciprocity: law}
	for _, s := range trial.Strips() {
		strip := sensito.StripSpec{Minutes: s.Minutes(), BaseFog: s.BaseFog()}
		for _, step := range s.Steps() {
			strip.Density = append(strip.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, strip)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	m := &camera.Metering{Shadow: camera.SpotReading{EV: 3, Zone: 3}, Highlight: camera.SpotReading{EV: 8, Zone: 8}}
	p, err := scene.For(f, scene.Scene{Stops: 7, Metering: m})
	require.NoError(t, err)
	return p
}

func TestSettingFromAperture(t *testing.T) {
	table := &sensito.StatedReciprocity{Pairs: []sensito.ReciprocityPair{{Metered: 1, Corrected: 1.25}, {Metered: 10, Corrected: 20}, {Metered: 100, Corrected: 480}}}
	p := metered(t, table)
	// Zone V is two stops over the shadow's reading, and the index of the film
	// stands against 100.
	ei := float64(p.ExposureIndex.Value)
	ev := 3 + 2 + math.Log2(ei/100)
	e := p.EV()
	assert.InDelta(t, ev, float64(e.Value), 1e-12)
	low, high := p.ExposureIndex.Interval(0.95)
	evLow, evHigh := e.Interval(0.95)
	assert.InDelta(t, math.Log2(float64(high/low)), float64(evHigh-evLow), 1e-9, "the interval of the EV is that of the index in stops")

	shot := camera.Shot{Aperture: 16, Filters: []camera.Factor{2, 1.5}, Bellows: 1.25}
	s, err := p.Setting(shot)
	require.NoError(t, err)
	want := 256 / math.Exp2(ev)
	assert.InEpsilon(t, want, float64(s.Shutter.Metered), 1e-12)
	assert.InEpsilon(t, 3.75*want, float64(s.Shutter.Factored), 1e-12)
	law, err := camera.NewReciprocity(table)
	require.NoError(t, err)
	corrected, err := law.Correct(sensito.Seconds(3.75 * want))
	require.NoError(t, err)
	assert.InEpsilon(t, float64(corrected.Corrected), float64(s.Shutter.Corrected), 1e-12)
	assert.Equal(t, shot, s.Shot)
	assert.Equal(t, sensito.FNumber(16), s.Aperture)

	s, err = metered(t, nil).Setting(camera.Shot{Aperture: 16})
	require.NoError(t, err)
	assert.Equal(t, s.Shutter.Metered, s.Shutter.Corrected)
	assert.Equal(t, []string{"reciprocity_unknown"}, blind.Codes(s.Shutter.Warnings))
}

// The aperture for a time gives that time back.
func TestSettingFromTime(t *testing.T) {
	table := &sensito.StatedReciprocity{Pairs: []sensito.ReciprocityPair{{Metered: 1, Corrected: 1.25}, {Metered: 10, Corrected: 20}, {Metered: 100, Corrected: 480}}}
	power := &sensito.StatedReciprocity{Law: sensito.PowerLaw, Constant: 1.3}
	additive := &sensito.StatedReciprocity{Law: sensito.AdditiveLaw, Constant: 0.06}
	for _, law := range []*sensito.StatedReciprocity{nil, table, power, additive} {
		p := metered(t, law)
		for _, seconds := range []sensito.Seconds{1. / 15, 0.5, 1, 3, 30, 90, 600} {
			shot := camera.Shot{Time: seconds, Filters: []camera.Factor{2}}
			s, err := p.Setting(shot)
			require.NoError(t, err, "%v by %v", seconds, law)
			assert.InEpsilon(t, float64(seconds), float64(s.Shutter.Corrected), 1e-6, "%v", law)
			back, err := p.Setting(camera.Shot{Aperture: s.Aperture, Filters: shot.Filters})
			require.NoError(t, err)
			if s.Aperture.Exact() == s.Aperture {
				assert.InEpsilon(t, float64(seconds), float64(back.Shutter.Corrected), 1e-6, "%v", law)
			}
		}
	}
	// Beyond the pairs nothing is said, not even the time where they end.
	var u *sensito.Unanswerable
	_, err := metered(t, table).Setting(camera.Shot{Time: 3600})
	require.ErrorAs(t, err, &u)
	assert.Equal(t, "1 h is longer than what is known of the film's long exposures", u.Reason)
	_, err = metered(t, table).Setting(camera.Shot{Time: 1e-5, Filters: []camera.Factor{4}})
	require.ErrorAs(t, err, &u)
	_, err = metered(t, nil).Setting(camera.Shot{Time: 1. / 8000})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Reason, "1/8000 s needs an aperture of f/0.0")
	_, err = metered(t, table).Setting(camera.Shot{Aperture: 256})
	require.ErrorAs(t, err, &u, "longer than the pairs reach")
}

func TestSettingNeedsReadings(t *testing.T) {
	f := fiveStrips(t)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.Nil(t, p.EV())
	var u *sensito.Unanswerable
	_, err = p.Setting(camera.Shot{Aperture: 16})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Hint, "meter a shadow and a highlight")
	assert.Equal(t, sensito.SpotReadings, u.Way)
}
