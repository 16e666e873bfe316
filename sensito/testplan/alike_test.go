package testplan_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// processes are shares by which the contrast of strips developed alike differs, as the
// processes of photographers do.
var processes = []float64{development.Scatter / 2, development.Scatter, development.Scatter, 2 * development.Scatter, 2 * development.Scatter, 4 * development.Scatter}

// arm is what one way to choose the next strip has come to.
type arm struct {
	predicted, got, off, repeats []float64
	covered                      int
}

func (a *arm) develop(t *testing.T, s started, strip testplan.Candidate, share, truth float64, wanted testplan.Wanted) {
	s.r, s.strips = rand.New(rand.NewPCG(uint64(1e6*truth), 99)), slices.Clone(s.strips)
	s.developAs(strip.Minutes, share)
	answer, err := scene.For(s.family(t), scene.Scene{Stops: 7})
	require.NoError(t, err)
	e := answered(answer, wanted)
	if low, high := e.Interval(0.95); low <= truth && truth <= high {
		a.covered++
	}
	a.predicted, a.got = append(a.predicted, width(strip.After)), append(a.got, width(e))
	a.off = append(a.off, math.Log(e.Value/truth))
	a.repeats = append(a.repeats, math.Log(answer.Growth.Repeats/share))
}

func quantile(v []float64, of float64) float64 {
	return slices.Sorted(slices.Values(v))[int(of*float64(len(v)-1))]
}

func ratios(a, b []float64) []float64 {
	var out []float64
	for i := range a {
		if r := a[i] / b[i]; !math.IsNaN(r) && !math.IsInf(a[i]+b[i], 0) { // of intervals that close
			out = append(out, r)
		}
	}
	return out
}

func rootMean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(v)))
}

// Another strip for a tested time gives the interval predicted of it, and is no worse
// than one for a time of its own: of blind films whose processes repeat well or badly,
// the best strip for a tested time, the best for a new one, and one for the new time
// next to the tested.
func TestBlindStripAlike(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		wanted testplan.Wanted
		tested []int
		films  int
	}{
		{testplan.WantedMinutes, []int{1, 3}, 12},
		{testplan.WantedMinutes, []int{0, 2, 4}, 12},
		{testplan.WantedMinutes, []int{0, 1, 2, 3, 4}, 12},
		{testplan.WantedIndex, []int{0, 2, 4}, 12},
	} {
		if len(c.tested) == 5 && blind.Effort(t) == 1 {
			continue // at depth alone
		}
		var alike, fresh, beside arm
		var first []bool // whether the strip alike is predicted to be the better
		for i := range c.films * blind.Effort(t) {
			s := newStarted(i)
			share := processes[rand.New(rand.NewPCG(uint64(i), 77)).IntN(len(processes))]
			for _, k := range c.tested {
				s.developAs(sensito.Minutes(s.Minutes[k]), share)
			}
			minutes, index, ok := s.Right(s.Bench, 7)
			if !ok {
				continue // out of reach, or nearly
			}
			truth := map[testplan.Wanted]float64{testplan.WantedMinutes: minutes, testplan.WantedIndex: index}[c.wanted]
			p, err := testplan.Propose(s.family(t), scene.Scene{Stops: 7}, testplan.Options{Wanted: c.wanted, Within: 1, MaxStrips: 1})
			if err != nil || p.Before == nil {
				continue // the aim looks out of reach
			}
			best := func(again bool) int {
				return slices.IndexFunc(p.Candidates, func(c testplan.Candidate) bool { return c.Action == nil && !c.Far && c.Again == again })
			}
			a, b := best(true), best(false)
			if a < 0 || b < 0 {
				continue // no tested time is near the answer
			}
			next := slices.MinFunc(p.Candidates, func(x, y testplan.Candidate) int {
				away := func(c testplan.Candidate) float64 {
					if c.Action != nil || c.Again {
						return math.Inf(1)
					}
					return math.Abs(math.Log(float64(c.Minutes / p.Candidates[a].Minutes)))
				}
				return int(math.Copysign(1, away(x)-away(y)))
			})
			first = append(first, a < b)
			alike.develop(t, *s, p.Candidates[a], share, truth, c.wanted)
			fresh.develop(t, *s, p.Candidates[b], share, truth, c.wanted)
			beside.develop(t, *s, next, share, truth, c.wanted)
		}
		n, better := len(first), 0
		var chosen [2]arm // where the strip alike is predicted to be the better
		for i, f := range first {
			if f {
				better++
				for k, from := range []arm{alike, fresh} {
					chosen[k].got, chosen[k].off = append(chosen[k].got, from.got[i]), append(chosen[k].off, from.off[i])
				}
			}
		}
		foretold := ratios(alike.predicted, alike.got)
		t.Logf("%s, strips %v: %d films; alike, predicted over achieved %.2f, quartiles %.2f and %.2f, a new time %.2f", c.wanted, c.tested, n, quantile(foretold, 0.5), quantile(foretold, 0.25), quantile(foretold, 0.75), quantile(ratios(fresh.predicted, fresh.got), 0.5))
		for _, of := range []struct {
			name string
			arm
		}{{"alike", alike}, {"new", fresh}, {"beside", beside}} {
			t.Logf("  %-6s width over alike %.3f, error %.2f %%, covered %d, repeatability off by a factor of %.2f", of.name, quantile(ratios(of.got, alike.got), 0.5), 100*rootMean(of.off), of.covered, math.Exp(rootMean(of.repeats)))
		}
		require.Positive(t, better)
		t.Logf("  alike predicted the better in %d: width over that of the new time %.3f, error %.2f and %.2f %%", better, quantile(ratios(chosen[0].got, chosen[1].got), 0.5), 100*rootMean(chosen[0].off), 100*rootMean(chosen[1].off))
		few := math.Max(1, math.Sqrt(24/float64(n))) // medians of few films stray further
		assert.InDelta(t, 1, quantile(foretold, 0.5), 0.08*few, "median of predicted over achieved width")
		assert.Greater(t, quantile(foretold, 0.25), 1-0.2*few)
		assert.Less(t, quantile(foretold, 0.75), 1+0.2*few)
		assert.InDelta(t, 1, quantile(ratios(beside.got, alike.got), 0.5), 0.04*few, "as wide as beside")
		if better >= 12 { // fewer tell no median
			assert.Less(t, quantile(ratios(chosen[0].got, chosen[1].got), 0.5), 1.04, "where proposed, as narrow as a new time")
		}
		assert.GreaterOrEqual(t, float64(alike.covered)/float64(n), 0.95-2*math.Sqrt(0.95*0.05/float64(n)))
	}
}

// repeatsOf returns a trial that states how well its process repeats.
func repeatsOf(t *testing.T, trial *sensito.Trial, r sensito.Repeating) *sensito.Trial {
	t.Helper()
	spec := trial.Spec()
	spec.Repeating = r
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}

// Tested times are tried in place of others that hardly differ, unless the trial states
// how well its process repeats; strips of other conditions are not developed again.
func TestTestedTimesAreTriedAgain(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	trial := simulated.ModelTrial(t, 4, 5.3, 7.1, 9, 12)
	propose := func(trial *sensito.Trial) *testplan.Proposal {
		f, err := development.NewFamily(trial, curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Within: 0.002})
		require.NoError(t, err)
		return p
	}
	times := func(p *testplan.Proposal, again bool) []float64 {
		var out []float64
		for _, c := range p.Candidates {
			if c.Action == nil && c.Again == again {
				out = append(out, float64(c.Minutes))
			}
		}
		slices.Sort(out)
		return out
	}
	p := propose(trial)
	assert.Equal(t, []float64{4, 5.3, 7.1, 9, 12}, times(p, true))
	for _, fresh := range times(p, false) {
		for _, tested := range times(p, true) {
			assert.Greater(t, math.Abs(fresh-tested), 0.25, "%g beside %g min", fresh, tested)
		}
	}
	require.NotEmpty(t, p.Again(), "7:06 is next to the answer")
	for _, m := range p.Again() {
		assert.Contains(t, times(p, true), float64(m))
		assert.Contains(t, p.Strips(), m)
	}

	stated := propose(repeatsOf(t, trial, sensito.Repeating{TemperatureSDC: 0.2, TimeSD: 3}))
	assert.Empty(t, times(stated, true))
	assert.NotContains(t, times(stated, false), 7.1)
	assert.Empty(t, stated.Again())

	warm := trial.Spec()
	warm.Process = simulated.Tank
	for i := range warm.Strips {
		warm.Strips[i].Process = simulated.Tank
	}
	warm.Strips[3].Process.TemperatureC += 4
	warm.Strips[3].Minutes = sensito.Minutes(9 * math.Pow(development.DefaultQ10, -0.4))
	mixed, err := sensito.NewTrial(warm)
	require.NoError(t, err)
	p = propose(mixed)
	require.Len(t, p.Family.Strips, 5, "the warm strip belongs")
	assert.Equal(t, []float64{4, 5.3, 7.1, 12}, times(p, true))
}

// Where the process is the largest part of the error, it is said what tells more of it:
// not where that is stated, of an exposure index, or of a time that is sure enough.
func TestProcessNamed(t *testing.T) {
	trial := simulated.ModelTrial(t, 4, 5.5, 7, 9, 12)
	codes := func(trial *sensito.Trial, o testplan.Options) []string {
		f, err := development.NewFamily(trial, curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := testplan.Propose(f, scene.Scene{Stops: 7}, o)
		require.NoError(t, err)
		return blind.Codes(p.Warnings)
	}
	narrow := testplan.Options{Within: 0.002, MaxStrips: 1}
	assert.Contains(t, codes(trial, narrow), "process_decides")
	assert.NotContains(t, codes(trial, testplan.Options{Within: 0.3, MaxStrips: 1}), "process_decides")
	assert.NotContains(t, codes(trial, testplan.Options{Wanted: testplan.WantedIndex, Within: 0.002, MaxStrips: 1}), "process_decides")
	assert.NotContains(t, codes(repeatsOf(t, trial, sensito.Repeating{TemperatureSDC: 1}), narrow), "process_decides")

	scaled := trial.Spec()
	scaled.Reading.ScaleSD = 0.05
	of, err := sensito.NewTrial(scaled)
	require.NoError(t, err)
	assert.NotContains(t, codes(of, narrow), "process_decides", "the densitometer is the largest")
}
