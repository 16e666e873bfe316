package sensito_test

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
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// warming is a film whose development follows the temperature: each layer
// nearly alike.
type warming struct {
	developing
	lnQ10 float64
	own   []float64 // how far the layers' coefficients differ from it
}

func (w warming) faster(layer int, celsius float64) float64 {
	return math.Exp((w.lnQ10 + w.own[layer]) * fit.TensOfDegrees(20, celsius))
}

// at returns the film developed at a temperature.
func (w warming) at(minutes, celsius float64) film {
	d := w.developing
	d.rates = nil
	for i, k := range w.rates {
		d.rates = append(d.rates, k*w.faster(i, celsius))
	}
	faster := math.Exp(w.lnQ10 * fit.TensOfDegrees(20, celsius))
	d.induction /= faster
	// Fog and speed go with the development as a whole.
	f := d.scaled(func(i int) float64 { return -math.Expm1(-d.rates[i] * (minutes - d.induction)) })
	f.base += d.fog * minutes * faster
	settled := func(t float64) float64 { return math.Exp(-d.settling * (t - d.minutes[0])) }
	gone := (1 - settled(minutes*faster)) / (1 - settled(d.minutes[4]))
	return f.moved(d.speed - d.move*gone - f.speedPoint())
}

func (p practice) warming(r *rand.Rand, class int) warming {
	w := warming{developing: p.developing(r, class), lnQ10: math.Log(2.1) + 0.2*r.NormFloat64()}
	for range w.rates {
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
func (w warming) trial(t testing.TB, r *rand.Rand, b bench, spots []spot) *sensito.Trial {
	var strips []sensito.StripSpec
	for _, s := range spots {
		guessed := w.minutes[s.place] * math.Pow(2.1, -fit.TensOfDegrees(20, s.celsius))
		minutes := math.Round(4*guessed) / 4
		strip := b.read(r, w.at(minutes+stopwatch*r.NormFloat64(), s.celsius+thermometer*r.NormFloat64()))
		strip.Minutes, strip.Process.TemperatureC = sensito.Minutes(minutes), s.celsius
		strips = append(strips, strip)
	}
	return b.trial(t, strips...)
}

// right returns the time at a temperature at which a scene of seven stops spans
// the range of the aim, and that at 20 degrees; ok is false when the latter is
// not among those tested.
func (w warming) right(celsius float64) (minutes, at20 float64, ok bool) {
	solve := func(celsius float64) float64 {
		return bisect(0.2, 200, func(t float64) float64 { return w.at(t, celsius).spans(normally(7)) - 1.05 })
	}
	at20 = solve(20)
	return solve(celsius), at20, at20 >= w.minutes[0] && at20 <= w.minutes[4]
}

// Trials at two temperatures or more: the time at any temperature of hand
// processing, and the coefficient, with intervals that cover.
func TestBlindTemperatures(t *testing.T) {
	t.Parallel()
	n := 6 * effort(t)
	var times, trialTimes, coefficients tallies
	byDesign := make([]tally, len(designs))
	left := 0
	for i := range n * len(designs) {
		r := rand.New(rand.NewPCG(uint64(i), 7))
		class, design := i%len(classNames), i/len(classNames)%len(designs)
		w, b := reaching.warming(r, class), reaching.bench(r)
		f, err := development.NewFamily(w.trial(t, r, b, designs[design].spots), curve.MeasureOptions{})
		require.NoError(t, err, "%d", i)
		if f.Temperature == nil {
			left++
			continue
		}
		q := f.Temperature.Q10
		score(&coefficients, class, &q, math.Exp(w.lnQ10), inShare)
		today := between(r, 18, 24)
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
		changed, err := scene.ChangedPlan(ch, p)
		require.NoError(t, err, "%d", i)
		score(&times, class, &changed.Minutes, minutes, inShare)
		judge(&byDesign[design], &changed.Minutes, minutes, inShare, math.NaN())
		score(&trialTimes, class, &p.Minutes, at20, inShare)
	}
	t.Log("\n" + tallyHead + times.table("time at T") + trialTimes.table("time at 20") + coefficients.table("q10"))
	for i, d := range designs {
		a := &byDesign[i]
		if a.n > 0 {
			t.Logf("%-20s %4d times, rms %.3f, covered %.1f", d.name, a.n, a.rms(), 100*a.coverage())
		}
	}
	assert.Zero(t, left, "trials whose temperatures were not joined")
	checkCoverage(t, "the time at other temperatures", &times)
	checkCoverage(t, "the time at the trial's temperature", &trialTimes)
	checkCoverage(t, "the coefficient", &coefficients)
}

// Trials at one temperature, and developers that differ as the published ones
// do: the usual coefficient with its error.
func TestBlindUsualCoefficient(t *testing.T) {
	n := 18 * effort(t)
	var times tallies
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 8))
		class := i % len(classNames)
		w, b := reaching.warming(r, class), reaching.bench(r)
		f, err := development.NewFamily(w.trial(t, r, b, []spot{{0, 20}, {1, 20}, {2, 20}, {3, 20}, {4, 20}}), curve.MeasureOptions{})
		require.NoError(t, err)
		today := between(r, 18, 24)
		minutes, _, ok := w.right(today)
		if !ok {
			continue
		}
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		ch, err := f.Under(development.Conditions{TemperatureC: new(today)})
		require.NoError(t, err)
		changed, err := scene.ChangedPlan(ch, p)
		require.NoError(t, err)
		score(&times, class, &changed.Minutes, minutes, inShare)
	}
	t.Log("\n" + tallyHead + times.table("time at T"))
	checkCoverage(t, "the time by the usual coefficient", &times)
}

// Strips agitated otherwise, one or three of them, measure a factor of the time
// that holds for the scene.
func TestBlindFactors(t *testing.T) {
	n := 24 * effort(t)
	var times, factors tallies
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 9))
		class := i % len(classNames)
		w, b := reaching.warming(r, class), reaching.bench(r)
		longer := math.Exp(between(r, 0.05, 0.3))
		trial := w.trial(t, r, b, []spot{{0, 20}, {1, 20}, {2, 20}, {3, 20}, {4, 20}})
		spec := trial.Spec()
		spec.Process.Agitation = sensito.AgitationContinuous
		for _, place := range [][]int{{2}, {1, 2, 3}}[i/len(classNames)%2] {
			minutes := math.Round(4*w.minutes[place]) / 4
			s := b.read(r, w.at(minutes/longer+stopwatch*r.NormFloat64(), 20+thermometer*r.NormFloat64()))
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
		score(&factors, class, &ch.Agitation.Factor, longer, inShare)
		_, at20, ok := w.right(20)
		if !ok {
			continue
		}
		p, err := scene.For(f, scene.Scene{Stops: 7})
		require.NoError(t, err)
		changed, err := scene.ChangedPlan(ch, p)
		require.NoError(t, err)
		score(&times, class, &changed.Minutes, at20*longer, inShare)
	}
	t.Log("\n" + tallyHead + times.table("time") + factors.table("factor"))
	checkCoverage(t, "the time under another agitation", &times)
	checkCoverage(t, "the factor", &factors)
}
