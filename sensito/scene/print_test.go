package scene_test

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
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// gradeOf returns the strip of a synthetic paper of the given range, read with
// noise of 0.01, and the paper itself.
func gradeOf(t *testing.T, shape int, logRange float64) (*paper.Strip, simulated.Paper) {
	paper := simulated.PaperShapes[shape].Of(logRange)
	return blind.MeasuredPaper(t, paper.Read(t, rand.New(rand.NewPCG(9, uint64(shape))), 0.05, 0.01)), paper
}

// Print densities against the closed forms of film and paper, followed by hand:
// the film's net density of an even tone at the time told, its distance from
// the density that prints white, and the paper's curve there.
func TestPrintDensities(t *testing.T) {
	f := longFamily(t)
	for _, c := range []struct {
		name     string
		shape    int
		logRange float64
		callier  float64
	}{
		{"diffusion", 0, 1.05, 0}, {"condenser", 0, 1.20, 1.3}, {"logistic", 4, 1.00, 0}, {"long shoulder", 10, 1.15, 1.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			strip, paper := gradeOf(t, c.shape, c.logRange)
			p, err := scene.For(f, scene.Scene{Stops: 7, Paper: strip, Callier: c.callier})
			require.NoError(t, err)
			got, err := p.PrintEnds()
			require.NoError(t, err)

			callier := math.Max(1, c.callier)
			film := simulated.ModelFilm(simulated.GammaAt(float64(p.Minutes.Value)))
			scene := simulated.Normally(7)
			_, lightest := scene.Ends()
			white := film.Net(film.SpeedPoint() + lightest)
			assert.InDelta(t, c.logRange/callier, float64(p.DensityRange), 4*float64(strip.LogRange.StdErr))
			known := 0
			for i, tone := range p.Tones {
				if tone.NetDensity == nil {
					assert.Nil(t, tone.Print)
					continue
				}
				known++
				net := film.Net(film.SpeedPoint() + scene.Above(tone.Stops))
				want := paper.Density(callier * (white - net)) // T is at log H 0
				e := tone.Print
				assert.InDelta(t, want, float64(e.Value), 4*float64(e.StdErr)+0.01, "%+g stops", tone.Stops)
				assert.Less(t, float64(e.StdErr), 0.08)
				assert.Positive(t, float64(e.StdErr))
				if i > 0 && p.Tones[i-1].Print != nil {
					assert.LessOrEqual(t, float64(e.Value), float64(p.Tones[i-1].Print.Value)+1e-9, "a lighter tone prints no darker")
				}
			}
			assert.Greater(t, known, 8)

			// Between whole stops as on them; without flare by the film's own curve.
			half, err := p.Follow([]float64{-1.5, 0})
			require.NoError(t, err)
			assert.InDelta(t, film.Net(film.SpeedPoint()+scene.Above(-1.5)), float64(half[0].NetDensity.Value), 4*float64(half[0].NetDensity.StdErr)+0.01)
			assert.Equal(t, p.Tones[5], half[1])
			bare, err := p.Unflared([]float64{-3, 0})
			require.NoError(t, err)
			for _, tone := range bare {
				assert.InDelta(t, film.Net(film.SpeedPoint()+0.30103*(4+tone.Stops)), float64(tone.NetDensity.Value), 4*float64(tone.NetDensity.StdErr)+0.01)
			}
			assert.Less(t, bare[0].NetDensity.Value, p.Tones[2].NetDensity.Value-0.02, "flare lifts the shadows")

			at := func(net float64) float64 { // stops from the metered tone
				return simulated.Bisect(-9, 9, func(stops float64) float64 { return film.Net(film.SpeedPoint()+scene.Above(stops)) - net })
			}
			assert.InDelta(t, at(white), got.White.Value, 4*got.White.StdErr+0.01)
			assert.InDelta(t, at(white-c.logRange/callier), got.Black.Value, 4*got.Black.StdErr+0.01)
			assert.InDelta(t, 3, got.White.Value, 1e-12)
			assert.Less(t, got.White.StdErr, 0.2)
			assert.Less(t, got.Black.StdErr, 0.4, "of scene luminance, of which flare leaves the darkest tone little")
		})
	}
}

// At the two ends the curve of the paper says it itself: T and S of ISO 6846,
// and beyond them white and black.
func TestPrintEnds(t *testing.T) {
	f := longFamily(t)
	strip, _ := gradeOf(t, 0, 1.05)
	p, err := scene.For(f, scene.Scene{Stops: 6, ShadowStops: 4, Flare: sensito.Flare{Kind: sensito.FlareNone}, Paper: strip})
	require.NoError(t, err)
	got, err := p.PrintEnds()
	require.NoError(t, err)
	dark, light := p.Tones[1].Print, p.Tones[7].Print // -4 and +2 stops, the ends of the scene
	span := float64(strip.MaxDensity.Value - strip.MinDensity.Value)
	assert.InDelta(t, float64(strip.MinDensity.Value)+0.90*span, float64(dark.Value), 0.005)
	assert.InDelta(t, float64(strip.MinDensity.Value)+0.04, float64(light.Value), 0.005)
	assert.Greater(t, float64(p.Tones[0].Print.Value), float64(dark.Value))
	assert.InDelta(t, float64(strip.MinDensity.Value), float64(p.Tones[9].Print.Value), 0.02)
	assert.InDelta(t, -4, got.Black.Value, 1e-12)
	assert.InDelta(t, 2, got.White.Value, 1e-9)
}

func TestPrintNeedsPaper(t *testing.T) {
	f := longFamily(t)
	for _, s := range []scene.Scene{{Stops: 7}, {Stops: 7, Grade: "2", DensityRange: 1.05}, {Stops: 7, ScanMax: 1.6}} {
		p, err := scene.For(f, s)
		require.NoError(t, err)
		got, err := p.PrintEnds()
		require.NoError(t, err)
		assert.Nil(t, got)
		assert.Nil(t, p.Tones[5].Print)
	}
}

// The tones that print black and white are those of the negative, whatever bath
// the time is for.
func TestPrintEndsUnderConditions(t *testing.T) {
	strip, _ := gradeOf(t, 0, 1.05)
	f, err := development.NewFamily(simulated.EditedTrial(t, simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), func(_ int, s *sensito.StripSpec) { s.Process = simulated.Tank }), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7, Paper: strip})
	require.NoError(t, err)
	want, err := p.PrintEnds()
	require.NoError(t, err)
	ch, err := f.Under(development.Conditions{TemperatureC: new(24.0)})
	require.NoError(t, err)
	warm, err := (&scene.Adjustment{Change: ch}).Adjust(p)
	require.NoError(t, err)
	require.Less(t, float64(warm.Minutes.Value), 0.9*float64(p.Minutes.Value))
	got, err := warm.PrintEnds()
	require.NoError(t, err)
	assert.Equal(t, want.Black, got.Black)
	assert.Equal(t, want.White.Value, got.White.Value)
	assert.Greater(t, got.White.StdErr, want.White.StdErr, "the density that prints white rests on a time that is less known")
	same, err := p.Reproduce()
	require.NoError(t, err)
	r, err := warm.Reproduce()
	require.NoError(t, err)
	require.Equal(t, len(same.Tones), len(r.Tones))
	for i, tone := range r.Tones {
		assert.Equal(t, same.Tones[i].Net, tone.Net)
		assert.Equal(t, same.Tones[i].Printed, tone.Printed)
	}
}

// Under another temperature, and corrected by a control log, every tone errs as
// well by what is not known of the time: by how the film's density at its exposure
// moves with the logarithm of time. Its print errs by how far it moves from the
// lightest tone, through the slope of the paper.
func TestTonesOfATimeNotKnown(t *testing.T) {
	strip, paper := gradeOf(t, 0, 1.05)
	f, err := development.NewFamily(exactTrial(t, 0.6), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := scene.For(f, scene.Scene{Stops: 7, Paper: strip})
	require.NoError(t, err)
	ch, err := f.Under(development.Conditions{TemperatureC: new(23.0), Q10: new(2.0), Q10SD: new(0.3)})
	require.NoError(t, err)
	today := func(ch *development.Change, log *scene.Drift) *scene.Answer {
		out, err := (&scene.Adjustment{Change: ch, Drift: log, Correct: true}).Adjust(p)
		require.NoError(t, err)
		return out
	}
	log := &scene.Drift{TimePercent: &sensito.Estimate[float64]{Value: 10, StdErr: 4, DoF: 20}}
	ofTemperature, ofLog := 0.3*0.3/2.0, 4/110.0 // ln t = -0.3 ln Q10 for three degrees of ten, nearly

	minutes, aimed := float64(p.Minutes.Value), simulated.Normally(7)
	at := simulated.ModelFilm(simulated.GammaAt(minutes)).SpeedPoint()
	const by = 1e-3
	net := func(stops, minutes float64) float64 {
		return simulated.ModelFilm(simulated.GammaAt(minutes)).Net(at + aimed.Above(stops))
	}
	moves := func(stops float64) float64 {
		return (net(stops, minutes*(1+by)) - net(stops, minutes*(1-by))) / (2 * by)
	}
	for name, c := range map[string]struct {
		answer *scene.Answer
		unsure float64
	}{
		"temperature": {today(ch, nil), ofTemperature}, "control log": {today(nil, log), ofLog}, "both": {today(ch, log), math.Hypot(ofTemperature, ofLog)},
	} {
		wider := func(was, is, more float64, what string, stops float64) {
			assert.InEpsilon(t, math.Hypot(was, more*c.unsure), is, 0.06, "%s: %s at %+g stops", name, what, stops)
		}
		wider(float64(p.Delivered.StdErr), float64(c.answer.Delivered.StdErr), moves(3)-moves(-4), "range", 3)
		for i, was := range p.Ends {
			wider(float64(was.NetDensity.StdErr), float64(c.answer.Ends[i].NetDensity.StdErr), moves(was.Stops), "end", was.Stops)
		}
		seen := 0
		for i, was := range p.Tones {
			is := c.answer.Tones[i]
			assert.Equal(t, was.NetDensity.Value, is.NetDensity.Value)
			assert.Equal(t, was.Print.Value, is.Print.Value)
			if was.Stops < -4 || was.Stops > 3 {
				continue
			}
			seen++
			wider(float64(was.NetDensity.StdErr), float64(is.NetDensity.StdErr), moves(was.Stops), "tone", was.Stops)
			below := net(3, minutes) - net(was.Stops, minutes) // T of the paper is at log H 0
			slope := (paper.Density(below+by) - paper.Density(below-by)) / (2 * by)
			wider(float64(was.Print.StdErr), float64(is.Print.StdErr), slope*(moves(3)-moves(was.Stops)), "print", was.Stops)
		}
		assert.Equal(t, 8, seen)
		r, err := c.answer.Reproduce()
		require.NoError(t, err)
		for i, tone := range r.Tones { // from -4 stops on
			is := c.answer.Tones[1+i]
			assert.InEpsilon(t, float64(is.NetDensity.StdErr), float64(tone.NetDensity.StdErr), 1e-6, "%s: %+g stops, asked for later", name, tone.Stops)
			assert.InEpsilon(t, float64(is.Print.StdErr), float64(tone.Print.StdErr), 1e-6)
			assert.InEpsilon(t, is.Print.DoF, tone.Print.DoF, 1e-6)
		}
	}
}
