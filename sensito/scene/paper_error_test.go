package scene_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// unsurePaper is a paper read so poorly that its range is known to a twentieth.
func unsurePaper(t testing.TB) *paper.Strip {
	trial := simulated.PaperShapes[0].Of(1.05).Read(t, rand.New(rand.NewPCG(9, 2)), 0.15, 0.05)
	strip := blind.MeasuredPaper(t, trial)
	require.Greater(t, float64(strip.LogRange.StdErr), 0.02)
	return strip
}

// paperPart returns the part of the error of ln t that comes from the paper, by
// working the time out for a range one standard deviation shorter and longer.
func paperPart(t testing.TB, paper *paper.Strip, time func(scene.Scene) (sensito.Estimate[sensito.Minutes], error)) float64 {
	at := func(by float64) float64 {
		e, err := time(scene.Scene{DensityRange: sensito.NetDensity(float64(paper.LogRange.Value) + by*float64(paper.LogRange.StdErr))})
		require.NoError(t, err)
		return math.Log(float64(e.Value))
	}
	return (at(0.5) - at(-0.5))
}

// What a paper's own test leaves open is in the error of the time, once and
// whole: for a scene, for a roll of one frame and for one of several.
func TestPaperErrorInTimes(t *testing.T) {
	f := longFamily(t)
	paper := unsurePaper(t)
	for name, time := range map[string]func(scene.Scene) (sensito.Estimate[sensito.Minutes], error){
		"scene": func(s scene.Scene) (sensito.Estimate[sensito.Minutes], error) {
			s.Stops = 7
			p, err := scene.For(f, s)
			if err != nil {
				return sensito.Estimate[sensito.Minutes]{}, err
			}
			return p.Minutes, nil
		},
		"roll of one frame": func(s scene.Scene) (sensito.Estimate[sensito.Minutes], error) {
			r, err := scene.ForRoll(f, s, []scene.Frame{{Name: "lamp", Stops: 7}})
			if err != nil {
				return sensito.Estimate[sensito.Minutes]{}, err
			}
			return r.Minutes, nil
		},
		"roll": func(s scene.Scene) (sensito.Estimate[sensito.Minutes], error) {
			r, err := scene.ForRoll(f, s, sixFrames())
			if err != nil {
				return sensito.Estimate[sensito.Minutes]{}, err
			}
			return r.Minutes, nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := time(scene.Scene{Paper: paper})
			require.NoError(t, err)
			exact, err := time(scene.Scene{DensityRange: sensito.NetDensity(paper.LogRange.Value)})
			require.NoError(t, err)
			assert.InEpsilon(t, float64(exact.Value), float64(got.Value), 1e-9)
			part := paperPart(t, paper, time)
			own := float64(exact.StdErr / exact.Value)
			require.Greater(t, part, own, "the paper must matter for this test")
			assert.InEpsilon(t, math.Hypot(own, part), float64(got.StdErr/got.Value), 0.02)

			low, high := got.Interval(0.95)
			exactLow, exactHigh := exact.Interval(0.95)
			assert.InDelta(t, math.Hypot(math.Log(float64(exactHigh/exactLow)), 2*1.96*part), math.Log(float64(high/low)), 0.12*part,
				"the interval, symmetric in ln t but for the curvature")
		})
	}
}

// The print is exposed so that the lightest tone gets the paper's white point,
// whatever the negative: of its print only paper white is uncertain. Every other
// tone has beside the paper's error that of the density between it and the
// lightest one, which grows from nothing as the two part.
func TestLightestTonePrintsWhite(t *testing.T) {
	r := toneCases[0].reproduce(t, seeded(), 0.01)
	paper := r.Answer.Scene.Paper
	last := r.Tones[len(r.Tones)-1]
	assert.InDelta(t, float64(paper.MinDensity.Value)+0.04, float64(last.Printed), 1e-9)
	require.NotNil(t, last.Print)
	assert.InEpsilon(t, float64(paper.MinDensity.StdErr), float64(last.Print.StdErr), 1e-4)
	require.Greater(t, float64(last.NetDensity.StdErr), 0.003, "though its density is uncertain")
}

// The errors of prints against trials read anew: film and paper are known here,
// so that what each tone should print at the time told is too.
func TestPrintErrorsAgainstTrials(t *testing.T) {
	runs := 30 * blind.Effort(t)
	c, r := toneCases[0], rand.New(rand.NewPCG(5, 5))
	var missed, stated float64
	for range runs {
		got := c.reproduce(t, r, 0.01)
		film := c.developed(float64(got.Answer.Minutes.Value))
		net := func(stops float64) float64 { return film.Net(film.SpeedPoint() + c.lit().Above(stops)) }
		for _, tone := range got.Tones {
			require.NotNil(t, tone.Print)
			want := c.paper.Density(net(c.stops-c.shadow) - net(tone.Stops))
			missed += math.Pow(float64(tone.Printed)-want, 2)
			stated += math.Pow(float64(tone.Print.StdErr), 2)
		}
	}
	ratio := math.Sqrt(missed / stated)
	t.Logf("rms error of a print over the standard error stated: %.2f", ratio)
	assert.InDelta(t, 0.85, ratio, 0.25, "neither larger than stated nor far smaller")
}

// A paper that was read in pictures aims a scene by its log range, with what the calibration
// leaves open of it and of the densities of the print; nothing is called ISO, and the answer
// says why.
func TestScenePaperPictured(t *testing.T) {
	f := longFamily(t)
	answer := func(bend float64) *scene.Answer {
		spec := simulated.PaperShapes[4].Of(1.05).Read(t, rand.New(rand.NewPCG(9, 2)), 0.15, 0.003).Spec()
		spec.Calibrations = []sensito.Calibration{{Name: "grey scale", Repeatability: 0.004, Covariance: [3][3]float64{2: {2: bend * bend}}}}
		spec.Strips[0].Calibration = "grey scale"
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		p, err := scene.For(f, scene.Scene{Stops: 7, Paper: blind.MeasuredPaper(t, trial)})
		require.NoError(t, err)
		return p
	}
	exact, bent := answer(0), answer(0.03)
	assert.Equal(t, exact.Minutes.Value, bent.Minutes.Value)
	assert.Greater(t, bent.Scene.WantedSD(), 1.2*exact.Scene.WantedSD())
	more := math.Sqrt(math.Pow(bent.Scene.WantedSD(), 2) - math.Pow(exact.Scene.WantedSD(), 2))
	steps := scene.Scene{Stops: 7, DensityRange: sensito.NetDensity(float64(bent.Scene.Paper.LogRange.Value) + more)}
	longer, err := scene.For(f, steps)
	require.NoError(t, err)
	moved := float64(longer.Minutes.Value - exact.Minutes.Value)
	assert.InEpsilon(t, math.Hypot(float64(exact.Minutes.StdErr), moved), float64(bent.Minutes.StdErr), 0.02)

	tones := func(p *scene.Answer) []scene.Reproduced {
		r, err := p.Reproduce()
		require.NoError(t, err)
		return r.Tones
	}
	before, after := tones(exact), tones(bent)
	assert.Greater(t, float64(after[0].Print.StdErr), 1.2*float64(before[0].Print.StdErr), "the darkest tone, near black")

	assert.NotContains(t, bent.Scene.AimText(), "ISO")
	assert.Contains(t, bent.Scene.AimText(), "(log range 1.04)")
	assert.NotContains(t, bent.Scene.Prints()[0].String(), "ISO")
	assert.Contains(t, blind.Codes(bent.Scene.AimWarnings()), "paper_reflection_pictured")
}
