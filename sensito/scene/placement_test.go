package scene_test

import (
	"math"
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

// exactTrial is a trial of model films, as simulated.ModelTrial has them, read without noise
// under a wedge of 31 steps whose clear end gives a log exposure.
func exactTrial(t testing.TB, clear float64) *sensito.Trial {
	e, err := sensito.NewContact(math.Pow(10, clear), 1, sensito.EvenWedge(0, 0.1, 31))
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: sensito.Process{TemperatureC: 20}, Exposures: e}
	for _, m := range []float64{4, 5.5, 7, 9, 12} {
		f := simulated.ModelFilm(simulated.GammaAt(m))
		s := sensito.StripSpec{Minutes: sensito.Minutes(m), Process: spec.Process, BaseFog: []sensito.Density{sensito.Density(f.Base)}}
		for _, h := range e.LogH() {
			s.Density = append(s.Density, sensito.Density(f.Density(float64(h))))
		}
		spec.Strips = append(spec.Strips, s)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

// Of readings without error, the density range delivered errs by how development
// repeats, and by part of what the film gains beyond the last step: a shoulder may begin
// there.
func TestUnseenBeyondTheLastStep(t *testing.T) {
	for _, clear := range []float64{0.3, -0.1, -0.3} {
		f, err := development.NewFamily(exactTrial(t, clear), curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		film := simulated.ModelFilm(simulated.GammaAt(float64(p.Minutes.Value)))
		_, lightest := simulated.Normally(7).Ends()
		end := film.SpeedPoint() + lightest
		beyond := math.Max(0, film.Net(end)-film.Net(math.Min(clear, end)))
		unseen := math.Sqrt(math.Pow(float64(p.Delivered.StdErr), 2) - math.Pow(p.Growth.Repeats*1.05, 2))
		if beyond == 0 {
			assert.Less(t, unseen, 0.004)
		} else {
			assert.InDelta(t, 0.18, unseen/beyond, 0.12, "the wedge ends at %g, the scene at %.2f", clear, end)
		}
		assert.Equal(t, beyond > 0.01, len(blind.Codes(p.Warnings)) > 0, "%v", p.Warnings)
	}
}

// Under another temperature the range delivered errs as well by what is not known
// of the time there: by how the film's range moves with the logarithm of time.
func TestDeliveredAtAnotherTemperature(t *testing.T) {
	f, err := development.NewFamily(exactTrial(t, 0.3), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	ch, err := f.Under(development.Conditions{TemperatureC: new(23.0), Q10: new(2.0), Q10SD: new(0.3)})
	require.NoError(t, err)
	warm, err := (&scene.Adjustment{Change: ch}).Adjust(p)
	require.NoError(t, err)
	spans := func(minutes float64) float64 {
		return simulated.ModelFilm(simulated.GammaAt(minutes)).Spans(simulated.Normally(7))
	}
	const by = 1e-3
	at := float64(p.Minutes.Value)
	slope := (spans(at*(1+by)) - spans(at*(1-by))) / (2 * by)
	// ln t = -0.3 ln Q10 for three degrees of ten, nearly
	unsure := 0.3 * 0.3 / 2.0
	assert.InEpsilon(t, math.Hypot(float64(p.Delivered.StdErr), slope*unsure), float64(warm.Delivered.StdErr), 0.06)
	assert.Equal(t, p.Delivered.Value, warm.Delivered.Value)
}

// A strip that was developed for the time of a normal scene gives the density range
// that the scene asks for; shorter and longer times give less and more.
func TestNormalRange(t *testing.T) {
	trial := exactTrial(t, 0.8)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	answer, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	gamma := simulated.GammaAt(float64(answer.Minutes.Value))
	strip := simulated.ModelFilm(gamma)
	spec := sensito.TrialSpec{Film: trial.Film(), Exposures: trial.Exposures(),
		Strips: []sensito.StripSpec{{Minutes: answer.Minutes.Value, BaseFog: []sensito.Density{sensito.Density(strip.Base)}}}}
	for _, h := range trial.Exposures().LogH() {
		spec.Strips[0].Density = append(spec.Strips[0].Density, sensito.Density(strip.Density(float64(h))))
	}
	one, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	ms, err := curve.MeasureTrial(one, curve.MeasureOptions{})
	require.NoError(t, err)
	density, v, ok := scene.NormalRange(ms[0])
	require.True(t, ok)
	assert.InDelta(t, float64(scene.DefaultDensityRange), float64(density), 0.01)
	assert.Equal(t, scene.Near, v)

	ms, err = curve.MeasureTrial(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	_, v, _ = scene.NormalRange(ms[0])
	assert.Equal(t, scene.Lower, v)
	_, v, _ = scene.NormalRange(ms[len(ms)-1])
	assert.Equal(t, scene.Higher, v)
	ms[0].SpeedPoint = nil
	_, _, ok = scene.NormalRange(ms[0])
	assert.False(t, ok)
}
