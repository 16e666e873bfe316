package development_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// warming is a film whose development follows the temperature: each layer
// nearly alike.
type warming struct {
	simulated.Developing
	lnQ10 float64
	own   []float64 // how far the layers' coefficients differ from it
}

func (w warming) faster(layer int, celsius float64) float64 {
	return math.Exp((w.lnQ10 + w.own[layer]) * fit.TensOfDegrees(20, celsius))
}

// at returns the film developed at a temperature.
func (w warming) at(minutes, celsius float64) simulated.Film {
	d := w.Developing
	d.Rates = nil
	for i, k := range w.Rates {
		d.Rates = append(d.Rates, k*w.faster(i, celsius))
	}
	faster := math.Exp(w.lnQ10 * fit.TensOfDegrees(20, celsius))
	d.Induction /= faster
	// Fog and speed go with the development as a whole.
	f := d.Scaled(func(i int) float64 { return -math.Expm1(-d.Rates[i] * (minutes - d.Induction)) })
	f.Base += d.Fog * minutes * faster
	settled := func(t float64) float64 { return math.Exp(-d.Settling * (t - d.Minutes[0])) }
	gone := (1 - settled(minutes*faster)) / (1 - settled(d.Minutes[4]))
	return f.Moved(d.Speed - d.Move*gone - f.SpeedPoint())
}

func newWarming(p simulated.Practice, r *rand.Rand, class int) warming {
	w := warming{Developing: p.Developing(r, class), lnQ10: math.Log(2.1) + 0.2*r.NormFloat64()}
	for range w.Rates {
		w.own = append(w.own, 0.02*r.NormFloat64())
	}
	return w
}

// A thermometer read to 0.1 degrees and a clock to 2 seconds: standard deviations
// of one development.
const (
	thermometer = 0.1
	stopwatch   = 2.0 / 60
)

// spot is where one strip of a design is developed: at the time of a place among
// the five of the film, shortened as the temperature asks by a guessed
// coefficient of 2.1.
type spot struct {
	place   int
	celsius float64
}

// The designs of trials at several temperatures, all of a trial at 20 degrees.
var designs = []struct {
	name  string
	spots []spot
}{
	{"five, one warm", []spot{{0, 20}, {1, 20}, {2, 20}, {3, 20}, {4, 20}, {2, 24}}},
	{"five, two warm", []spot{{0, 20}, {1, 20}, {2, 20}, {3, 20}, {4, 20}, {1, 24}, {3, 24}}},
	{"three, two warm", []spot{{0, 20}, {2, 20}, {4, 20}, {1, 24}, {3, 24}}},
	{"three and three", []spot{{0, 18}, {2, 18}, {4, 18}, {0, 24}, {2, 24}, {4, 24}}},
	{"three temperatures", []spot{{0, 20}, {2, 20}, {4, 20}, {1, 17}, {3, 23}}},
}

// trial reads the strips of a design.
func (w warming) trial(t testing.TB, r *rand.Rand, b simulated.Bench, spots []spot) *sensito.Trial {
	var strips []sensito.StripSpec
	for _, s := range spots {
		guessed := w.Minutes[s.place] * math.Pow(2.1, -fit.TensOfDegrees(20, s.celsius))
		minutes := math.Round(4*guessed) / 4
		strip := b.Read(r, w.at(minutes+stopwatch*r.NormFloat64(), s.celsius+thermometer*r.NormFloat64()))
		strip.Minutes, strip.Process.TemperatureC = sensito.Minutes(minutes), s.celsius
		strips = append(strips, strip)
	}
	return b.Trial(t, strips...)
}

// right returns the time at a temperature at which a scene of seven stops spans
// the range of the aim, and that at 20 degrees; ok is false when the latter is
// not among those tested.
func (w warming) right(celsius float64) (minutes, at20 float64, ok bool) {
	solve := func(celsius float64) float64 {
		return simulated.Bisect(0.2, 200, func(t float64) float64 { return w.at(t, celsius).Spans(simulated.Normally(7)) - 1.05 })
	}
	at20 = solve(20)
	return solve(celsius), at20, at20 >= w.Minutes[0] && at20 <= w.Minutes[4]
}

// Trials at two temperatures or more: the time at any temperature of hand
// processing, and the coefficient, with intervals that cover.
func TestBlindTemperatures(t *testing.T) {
	t.Parallel()
	n := 6 * blind.Effort(t)
	var times, trialTimes, coefficients blind.Tallies
	byDesign := make([]blind.Tally, len(designs))
	left := 0
	for i := range n * len(designs) {
		r := rand.New(rand.NewPCG(uint64(i), 7))
		class, design := i%len(simulated.ClassNames), i/len(simulated.ClassNames)%len(designs)
		w, b := newWarming(simulated.Reaching, r, class), simulated.Reaching.Bench(r)
		f, err := development.NewFamily(w.trial(t, r, b, designs[design].spots), curve.MeasureOptions{})
		require.NoError(t, err, "%d", i)
		if f.Temperature == nil {
			left++
			continue
		}
		q := f.Temperature.Q10
		blind.Score(&coefficients, class, &q, math.Exp(w.lnQ10), blind.InShare)
		today := simulated.Between(r, 18, 24)
		minutes, at20, ok := w.right(today)
		if !ok {
			continue
		}
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err, "%d", i)
		low, high := p.Minutes.Interval(0.95)
		require.True(t, low < p.Minutes.Value && p.Minutes.Value < high, "%d: %v in %v to %v", i, p.Minutes.Value, low, high)
		if i%5 == 0 {
			next, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{MaxStrips: 1})
			require.NoError(t, err)
			require.InEpsilon(t, float64(p.Minutes.Value), next.Before.Value, 1e-9, "what is proposed sharpens the scene's answer")
		}
		ch, err := f.Under(development.Conditions{TemperatureC: new(today)})
		require.NoError(t, err, "%d", i)
		changed, err := (&scene.Adjustment{Change: ch}).Adjust(p)
		require.NoError(t, err, "%d", i)
		blind.Score(&times, class, &changed.Minutes, minutes, blind.InShare)
		blind.Judge(&byDesign[design], &changed.Minutes, minutes, blind.InShare, math.NaN())
		blind.Score(&trialTimes, class, &p.Minutes, at20, blind.InShare)
	}
	t.Log("\n" + blind.TallyHead + times.Table("time at T") + trialTimes.Table("time at 20") + coefficients.Table("q10"))
	for i, d := range designs {
		a := &byDesign[i]
		if a.N > 0 {
			t.Logf("%-20s %4d times, rms %.3f, covered %.1f", d.name, a.N, a.RMS(), 100*a.Coverage())
		}
	}
	assert.Zero(t, left, "trials whose temperatures were not joined")
	// These films repeat exactly from one development to the next.
	blind.CheckCoverageUpTo(t, 1, "the time at other temperatures", &times)
	blind.CheckCoverageUpTo(t, 1, "the time at the trial's temperature", &trialTimes)
	blind.CheckCoverage(t, "the coefficient", &coefficients)
}

// Trials at one temperature, and developers that differ as the published ones
// do: the usual coefficient with its error.
func TestBlindUsualCoefficient(t *testing.T) {
	n := 18 * blind.Effort(t)
	var times blind.Tallies
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 8))
		class := i % len(simulated.ClassNames)
		w, b := newWarming(simulated.Reaching, r, class), simulated.Reaching.Bench(r)
		f, err := development.NewFamily(w.trial(t, r, b, []spot{{0, 20}, {1, 20}, {2, 20}, {3, 20}, {4, 20}}), curve.MeasureOptions{})
		require.NoError(t, err)
		today := simulated.Between(r, 18, 24)
		minutes, _, ok := w.right(today)
		if !ok {
			continue
		}
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		ch, err := f.Under(development.Conditions{TemperatureC: new(today)})
		require.NoError(t, err)
		changed, err := (&scene.Adjustment{Change: ch}).Adjust(p)
		require.NoError(t, err)
		blind.Score(&times, class, &changed.Minutes, minutes, blind.InShare)
	}
	t.Log("\n" + blind.TallyHead + times.Table("time at T"))
	blind.CheckCoverage(t, "the time by the usual coefficient", &times)
}

// Strips agitated otherwise, one or three of them, measure a factor of the time
// that holds for the scene.
func TestBlindFactors(t *testing.T) {
	n := 24 * blind.Effort(t)
	var times, factors blind.Tallies
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 9))
		class := i % len(simulated.ClassNames)
		w, b := newWarming(simulated.Reaching, r, class), simulated.Reaching.Bench(r)
		longer := math.Exp(simulated.Between(r, 0.05, 0.3))
		trial := w.trial(t, r, b, []spot{{0, 20}, {1, 20}, {2, 20}, {3, 20}, {4, 20}})
		spec := trial.Spec()
		spec.Process.Agitation = sensito.AgitationContinuous
		for _, place := range [][]int{{2}, {1, 2, 3}}[i/len(simulated.ClassNames)%2] {
			minutes := math.Round(4*w.Minutes[place]) / 4
			s := b.Read(r, w.at(minutes/longer+stopwatch*r.NormFloat64(), 20+thermometer*r.NormFloat64()))
			s.Minutes, s.Process.Agitation = sensito.Minutes(minutes), sensito.AgitationIntermittent
			spec.Strips = append(spec.Strips, s)
		}
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		f, err := development.NewFamily(trial, curve.MeasureOptions{})
		require.NoError(t, err)
		require.Len(t, f.Strips, 5, "the strips of the factor are not among the family's")
		ch, err := f.Under(development.Conditions{Agitation: sensito.AgitationIntermittent})
		require.NoError(t, err, "%d", i)
		require.True(t, ch.Agitation.Measured)
		blind.Score(&factors, class, &ch.Agitation.Factor, longer, blind.InShare)
		_, at20, ok := w.right(20)
		if !ok {
			continue
		}
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		changed, err := (&scene.Adjustment{Change: ch}).Adjust(p)
		require.NoError(t, err)
		blind.Score(&times, class, &changed.Minutes, at20*longer, blind.InShare)
	}
	t.Log("\n" + blind.TallyHead + times.Table("time") + factors.Table("factor"))
	blind.CheckCoverage(t, "the time under another agitation", &times)
	blind.CheckCoverage(t, "the factor", &factors)
}
