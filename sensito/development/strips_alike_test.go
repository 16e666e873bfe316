package development_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// How far strips developed alike differ however well they are read, in contrast,
// in the time for a scene and in the tones: what 0.1 degrees Celsius, at a factor
// of 2 for 10 degrees, and 2 seconds do in 6 minutes, and as much again for
// agitation and for the law itself. Strips that repeat better lower that, those that do
// not raise it. Three exact strips about each of two times carry a law of two
// constants, so that at one of the times it is as sure as the mean of the three there.
func TestDevelopmentScatter(t *testing.T) {
	const rate, minutes = 0.12, 6.0
	film := simulated.Growing(-2, rate, 0.10)
	f := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", []float64{minutes - 0.01, minutes, minutes + 0.01, 11.99, 12, 12.01}, film)
	contrast := func(rate, minutes float64) float64 { return math.Log(-math.Expm1(-rate * minutes)) }
	temperature := contrast(rate*math.Exp2(0.01), minutes) - contrast(rate, minutes)
	clock := contrast(rate, minutes+2./60) - contrast(rate, minutes)
	scatter := math.Sqrt2 * math.Hypot(temperature, clock)
	assert.InDelta(t, 0.0086, scatter, 5e-5)
	assert.InDelta(t, scatter, development.Scatter, 1e-3)
	assert.InDelta(t, 0.38, f.Growth.Scatter, 0.05, "exact strips repeat better than usual")
	mean := f.Growth.Scatter * development.Scatter / math.Sqrt(3)

	at, err := f.At(minutes)
	require.NoError(t, err)
	assert.InEpsilon(t, mean, at.Contrast.StdErr/at.Contrast.Value, 0.12, "contrast")

	// An aim that these minutes meet; ln t moves with ln contrast by the inverse
	// of the clock's.
	aimed := scene.Scene{Stops: 6, Flare: sensito.Flare{Kind: sensito.FlareNone}}
	aimed.DensityRange = sensito.NetDensity(film(minutes).Rise(aimed.Stops * math.Log10(2)))
	p, err := scene.For(f, aimed)
	require.NoError(t, err)
	require.InEpsilon(t, minutes, float64(p.Minutes.Value), 2e-3)
	lnClock := math.Log1p(2. / 60 / minutes)
	assert.InEpsilon(t, mean*lnClock/clock, float64(p.Minutes.StdErr/p.Minutes.Value), 0.12, "time")
	seen := 0
	for _, tone := range p.Tones {
		if e := tone.NetDensity; tone.Stops <= 2 && e.Value > 0.7 { // within the scene
			seen++
			own, once := mean*float64(e.Value), p.Growth.Repeats*float64(e.Value) // of the strips, and of the development to come
			ratio := float64(e.StdErr) / math.Hypot(own, once)                    // what the strips leave open of their shape is beside it
			assert.Greater(t, ratio, 0.97, "tone %+g", tone.Stops)
			assert.Less(t, ratio, 1.2, "tone %+g", tone.Stops)
		}
	}
	assert.Greater(t, seen, 1)
}

// rootMeanSquare returns that of so many draws, nil ones left out.
func rootMeanSquare(n int, draw func(i int) *float64) float64 {
	sum, drawn := 0.0, 0.0
	for i := range n {
		if z := draw(i); z != nil {
			sum, drawn = sum+*z**z, drawn+1
		}
	}
	return math.Sqrt(sum / drawn)
}

// inStandardErrors returns the error of an estimate in its own standard errors,
// in the logarithm.
func inStandardErrors[Q ~float64](e sensito.Estimate[Q], truth float64) *float64 {
	z := math.Log(float64(e.Value)/truth) / float64(e.StdErr/e.Value)
	return &z
}

// Times from two strips, which no third one checks, err by no more than they say,
// though films do not follow the law exactly. These films repeat exactly, which
// nobody knows of two strips, so that they err by less. Without flare the time rests
// on the law of growth alone.
func TestBlindTwoStrips(t *testing.T) {
	t.Parallel()
	aimed := scene.Scene{Stops: 5.7, Flare: sensito.Flare{Kind: sensito.FlareNone}}
	refused, films := 0, 100*blind.Effort(t)
	rms := rootMeanSquare(films, func(i int) *float64 {
		r := rand.New(rand.NewPCG(uint64(i), 31))
		d, b := simulated.Ordinary.Developing(r, i%len(simulated.ClassNames)), simulated.Ordinary.Bench(r)
		first, last := d.Minutes[0], d.Minutes[4]
		short := func(minutes float64) float64 {
			return d.At(minutes).Spans(simulated.LitBy(aimed.Stops, 4, aimed.Flare)) - 1.05
		}
		if short(first) > 0 || short(last) < 0 {
			return nil
		}
		p, err := scene.For(blind.FamilyAt(t, b, r, d, first, last), aimed)
		if err != nil {
			refused++
			return nil
		}
		return inStandardErrors(p.Minutes, simulated.Bisect(first, last, short))
	})
	t.Logf("errors of times from two strips: %.2f standard errors (rms), %d of %d films refused", rms, refused, films)
	assert.Greater(t, rms, 0.5)
	assert.Less(t, rms, 1.1)
	assert.LessOrEqual(t, float64(refused), 0.01*float64(films), "films refused though a tested time serves")
}

// Speeds from many strips err by no more than they say: what all share does not
// average out.
func TestBlindManyStrips(t *testing.T) {
	t.Parallel()
	const strips = 14
	rms := rootMeanSquare(40*blind.Effort(t), func(i int) *float64 {
		r := rand.New(rand.NewPCG(uint64(i), 41))
		d, b := simulated.Ordinary.Developing(r, 0), simulated.Ordinary.Bench(r)
		var minutes []float64
		for k := range strips {
			minutes = append(minutes, d.Minutes[0]*math.Pow(d.Minutes[4]/d.Minutes[0], float64(k)/(strips-1)))
		}
		at, err := blind.FamilyAt(t, b, r, d, minutes...).At(sensito.Minutes(d.Minutes[2]))
		require.NoError(t, err)
		return inStandardErrors(*at.Speed, 0.8/math.Pow(10, d.At(d.Minutes[2]).SpeedPoint()+b.Faint()))
	})
	t.Logf("errors of speeds from %d strips: %.2f standard errors (rms)", strips, rms)
	assert.InDelta(t, 1, rms, 0.2)
}
