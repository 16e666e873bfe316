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

// started is a blind film of which some strips have been developed.
type started struct {
	simulated.Developing
	simulated.Bench
	strips []sensito.StripSpec
	r      *rand.Rand
}

func newStarted(i int, strips ...int) *started {
	s := &started{r: rand.New(rand.NewPCG(uint64(i), 3))}
	s.Developing, s.Bench = simulated.Reaching.Developing(s.r, i%len(simulated.ClassNames)), simulated.Reaching.Bench(s.r)
	for _, k := range strips {
		s.develop(sensito.Minutes(s.Minutes[k]))
	}
	return s
}

// develop adds a strip. It scatters about its film as strips usually do: of strips
// that do not, more is foretold than comes, 1.08 times the width of a time's interval.
func (s *started) develop(minutes sensito.Minutes) { s.developAs(minutes, development.Scatter) }

// developAs is develop with a process of such a scatter.
func (s *started) developAs(minutes sensito.Minutes, scatter float64) {
	by := 1 + scatter*s.r.NormFloat64()
	strip := s.Read(s.r, s.At(float64(minutes)).Scaled(func(int) float64 { return by }))
	strip.Minutes = minutes
	s.strips = append(s.strips, strip)
}

func (s *started) family(t testing.TB) *development.Family {
	f, err := development.NewFamily(s.Trial(t, s.strips...), curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// answered returns what an answer says of the quantity wanted.
func answered(p *scene.Answer, w testplan.Wanted) sensito.Estimate[float64] {
	e := sensito.Estimate[float64]{Value: float64(p.Minutes.Value), Limits: func(level float64) (float64, float64) {
		low, high := p.Minutes.Interval(level)
		return float64(low), float64(high)
	}}
	if w == testplan.WantedIndex {
		e = sensito.Estimate[float64]{Value: float64(p.ExposureIndex.Value), StdErr: float64(p.ExposureIndex.StdErr), DoF: p.ExposureIndex.DoF, Log: true}
	}
	return e
}

func width(e sensito.Estimate[float64]) float64 {
	low, high := e.Interval(0.95)
	return math.Log(high / low)
}

// The intervals predicted, against those that come of it when the strips
// proposed are developed: blind films of which three strips are tested, two more
// proposed for a normal scene.
func TestProposalsCarriedOut(t *testing.T) {
	t.Parallel()
	aimed := scene.Scene{Stops: 7}
	for _, wanted := range []testplan.Wanted{testplan.WantedMinutes, testplan.WantedIndex} {
		var ratios []float64
		asked, likely, judged, covered, refused, open := 0, 0, 0, 0, 0, 0
		films := 44
		if wanted == testplan.WantedIndex {
			films = 24
		}
		for i := range films * blind.Effort(t) {
			s := newStarted(i, 0, 2, 4)
			minutes, index, ok := s.Right(s.Bench, 7)
			if !ok {
				continue // out of reach, or nearly
			}
			asked++
			p, err := testplan.Propose(s.family(t), aimed, testplan.Options{Wanted: wanted, Within: 0.005, MaxStrips: 2})
			if err != nil || p.Before == nil {
				refused++ // the aim looks out of reach
				continue
			}
			if len(p.Strips()) == 0 {
				continue // none is worth it
			}
			for _, minutes := range p.Strips() {
				s.develop(minutes)
			}
			answer, err := scene.For(s.family(t), aimed)
			if err != nil {
				refused++
				continue
			}
			got := answered(answer, wanted)
			truth := map[testplan.Wanted]float64{testplan.WantedMinutes: minutes, testplan.WantedIndex: index}[wanted]
			judged++
			if low, high := got.Interval(0.95); low <= truth && truth <= high {
				covered++
			}
			if half := testplan.HalfWidth(got, 0.95); p.Likely[0] <= half && half <= p.Likely[1] {
				likely++
			}
			if math.IsInf(width(got), 1) || math.IsInf(width(*p.After()), 1) {
				open++
				continue
			}
			ratios = append(ratios, width(*p.After())/width(got))
		}
		slices.Sort(ratios)
		part := func(of float64) float64 { return ratios[int(of*float64(len(ratios)-1))] }
		t.Logf("%s: %d films of %d, %d refused, %d open; predicted over achieved %.2f, quartiles %.2f and %.2f, 5 and 95 %% %.2f and %.2f; within what was likely %d of %d; the truth covered %d",
			wanted, len(ratios), asked, refused, open, part(0.5), part(0.25), part(0.75), part(0.05), part(0.95), likely, judged, covered)
		assert.InDelta(t, 1, part(0.5), 0.06, "median of predicted over achieved width, %s", wanted)
		assert.Greater(t, part(0.25), 0.85)
		assert.Less(t, part(0.75), 1.25)
		// As Proposal.Likely says; the time's counts that other processes repeat less well.
		expected := map[testplan.Wanted]float64{testplan.WantedMinutes: 0.85, testplan.WantedIndex: 0.80}[wanted]
		sd := func(share float64) float64 { return math.Sqrt(share * (1 - share) / float64(judged)) }
		assert.InDelta(t, expected, float64(likely)/float64(judged), 0.03+2*sd(expected), "within what was likely")
		assert.GreaterOrEqual(t, float64(covered)/float64(judged), 0.95-1.5*sd(0.95), "answers covered after the strips proposed")
		assert.LessOrEqual(t, float64(refused), 0.02*float64(asked))
	}
}

// A strip more never widens what is predicted, and more strips leave less.
func TestStripsNeverWiden(t *testing.T) {
	t.Parallel()
	for i := range 6 * blind.Effort(t) {
		for _, wanted := range []testplan.Wanted{testplan.WantedMinutes, testplan.WantedIndex} {
			f := newStarted(i, [][]int{{0, 2, 4}, {1, 3}, {0, 1, 2, 3, 4}}[i%3]...).family(t)
			p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Wanted: wanted, Within: 0.002})
			require.NoError(t, err)
			require.NotNil(t, p.Before)
			now := testplan.HalfWidth(*p.Before, 0.95)
			told, err := scene.For(f, scene.Scene{Stops: 7})
			require.NoError(t, err)
			require.NotEmpty(t, p.Candidates)
			for k, c := range p.Candidates {
				// Far strips let the law expect development to begin later: of 48 films
				// the interval of one time grew by 0.3 % with a strip of twice the longest.
				slack := 1e-9
				if c.Far {
					slack = 0.005
				}
				assert.LessOrEqual(t, c.Half, now*(1+slack), "film %d, %s, %g min", i, wanted, c.Minutes)
				assert.Equal(t, testplan.HalfWidth(c.After, 0.95), c.Half)
				if k > 0 {
					assert.GreaterOrEqual(t, c.Half, p.Candidates[k-1].Half, "ranked")
				}
				if away := float64(c.Minutes) / float64(told.Minutes.Value); c.Action == nil {
					assert.Equal(t, math.Max(away, 1/away) > 1.5, c.Far, "%g min for %g", c.Minutes, told.Minutes.Value)
				}
			}
			for _, c := range p.Chosen {
				assert.False(t, c.Far)
				assert.Less(t, c.Half, now)
				now = c.Half
			}
			assert.LessOrEqual(t, len(p.Strips()), testplan.DefaultMaxStrips)
			assert.True(t, slices.IsSorted(p.Strips()))
			lo, hi := f.Times()
			for _, m := range p.Strips() {
				assert.True(t, m >= lo/2-0.2 && m <= 2*hi+0.2, "%g min of %g to %g", m, lo, hi)
				assert.InDelta(t, math.Round(4*float64(m)), 4*float64(m), 1e-9, "to 15 seconds")
			}
		}
	}
}

// What is known now is what the answer to the scene says, for every kind of aim.
func TestProposalBefore(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	for _, minutes := range [][]float64{{4, 5.5, 7, 9, 12}, {5, 9}} {
		f, err := development.NewFamily(simulated.ModelTrial(t, minutes...), curve.MeasureOptions{})
		require.NoError(t, err)
		for _, aimed := range []scene.Scene{{Stops: 7}, {Stops: 8, ShadowStops: 3.34}, {Stops: 7, ScanMax: 1.3}, {Stops: 7.5, DensityRange: 1.3, Callier: 1.3}} {
			answer, err := scene.For(f, aimed)
			require.NoError(t, err)
			for _, wanted := range []testplan.Wanted{testplan.WantedMinutes, testplan.WantedIndex} {
				p, err := testplan.Propose(f, aimed, testplan.Options{Wanted: wanted})
				require.NoError(t, err)
				want := answered(answer, wanted)
				for _, level := range []float64{0.8, 0.95} {
					low, high := p.Before.Interval(level)
					wantLow, wantHigh := want.Interval(level)
					assert.InEpsilon(t, want.Value, p.Before.Value, 1e-6, "%+v %s", aimed, wanted)
					assert.InEpsilon(t, wantLow, low, 1e-4, "%+v %s", aimed, wanted)
					assert.InEpsilon(t, wantHigh, high, 1e-4, "%+v %s", aimed, wanted)
				}
				if wanted == testplan.WantedMinutes {
					assert.InEpsilon(t, float64(answer.Minutes.StdErr), p.Before.StdErr, 5e-3, "by differences there, by the covariance of the fit here")
				}
			}
		}
	}
}

func actionsOf(p *testplan.Proposal) map[string]testplan.Candidate {
	out := map[string]testplan.Candidate{}
	for _, c := range p.Candidates {
		if c.Action != nil {
			out[c.Action.Code] = c
		}
	}
	return out
}

// Readings that are missing are named and weighed; where none is, nothing is.
func TestProposalNamesMissingReadings(t *testing.T) {
	propose := func(trial *sensito.Trial, stops float64, wanted testplan.Wanted) *testplan.Proposal {
		f, err := development.NewFamily(trial, curve.MeasureOptions{})
		require.NoError(t, err)
		p, err := testplan.Propose(f, scene.Scene{Stops: stops}, testplan.Options{Wanted: wanted, Within: 0.002, MaxStrips: 1})
		require.NoError(t, err)
		return p
	}
	whole := simulated.EditedTrial(t, simulated.ModelTrial(t, 5, 7, 10), func(_ int, s *sensito.StripSpec) { s.BaseFog = []sensito.Density{0.12, 0.12} })
	assert.Empty(t, actionsOf(propose(whole, 7, testplan.WantedMinutes)))

	unread := simulated.EditedTrial(t, whole, func(i int, s *sensito.StripSpec) {
		if i != 1 {
			s.BaseFog = nil
		}
	})
	p := propose(unread, 7, testplan.WantedIndex)
	base, ok := actionsOf(p)[testplan.ActionReadBase]
	require.True(t, ok)
	assert.Equal(t, "read base plus fog twice on strips 1 and 3", base.Action.Text)
	assert.Greater(t, base.Gain, 0.0, "the speed point hangs on the base")

	var slip sensito.Density
	gaps := simulated.EditedTrial(t, whole, func(i int, s *sensito.StripSpec) {
		switch i {
		case 0: // every other step from the toe up
			for k := 0; k < 24; k += 2 {
				s.Density[k] = sensito.Density(math.NaN())
			}
		case 2:
			s.Density[9] += 0.25
			slip = s.Density[9]
		}
	})
	p = propose(gaps, 7, testplan.WantedMinutes)
	steps, ok := actionsOf(p)[testplan.ActionReadSteps]
	require.True(t, ok, "slip %g", slip)
	assert.Equal(t, "read step 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23 of strip 1, and step 10 of strip 3", steps.Action.Text)
	assert.Less(t, steps.Half, testplan.HalfWidth(*p.Before, 0.95))

	// Carried out, the readings bring about what was foretold of them.
	read := propose(simulated.EditedTrial(t, gaps, func(i int, s *sensito.StripSpec) {
		for k, step := range whole.Strips()[i].Steps() {
			s.Density[k] = step.Density
		}
	}), 7, testplan.WantedMinutes)
	assert.InEpsilon(t, testplan.HalfWidth(*read.Before, 0.95), steps.Half, 0.15)
}

// Strips whose exposures end before the scene does are better made again with
// more light.
func TestProposalReachesFurther(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 5, 7, 10), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{})
	require.NoError(t, err)
	further, ok := actionsOf(p)[testplan.ActionReachFurther]
	assert.False(t, ok, "the wedge of 31 steps reaches: %+v", further)

	f, err = development.NewFamily(simulated.CutTrial(t, simulated.ModelTrial(t, 5, 7, 10), 5), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err = testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Within: 0.002, MaxStrips: 1})
	require.NoError(t, err)
	further, ok = actionsOf(p)[testplan.ActionReachFurther]
	require.True(t, ok)
	assert.Regexp(t, `^expose all strips anew with 0\.\d log H \(\d\.\d stops\) more at the strong end, which strips 1, 2 and 3 lack$`, further.Action.Text)
	assert.Less(t, further.Half, testplan.HalfWidth(*p.Before, 0.95))
}

// One strip gives no rate: a second one narrows the answer to a fifth or less.
func TestProposalFromOneStrip(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 7), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := testplan.Propose(f, scene.Scene{Stops: 7, DensityRange: 1.2}, testplan.Options{MaxStrips: 1})
	require.NoError(t, err)
	assert.False(t, p.Guessed)
	require.Len(t, p.Strips(), 1)
	assert.Less(t, p.Chosen[0].Half, testplan.HalfWidth(*p.Before, 0.95)/5)
	assert.Contains(t, blind.Codes(p.Warnings), "one_strip")
	for _, c := range p.Candidates {
		assert.NotEqual(t, sensito.Minutes(7), c.Minutes, "the same time again gives no rate")
	}
}

// Two strips whose contrast grows as the time, or faster, give no rate; the proposal
// says that it guesses one.
func TestProposalWithoutRate(t *testing.T) {
	f := blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", []float64{4, 6}, func(minutes float64) simulated.Film { return simulated.ModelFilm(0.1 * minutes) })
	p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{})
	require.NoError(t, err)
	assert.True(t, p.Guessed)
	assert.Nil(t, p.Before)
	assert.Nil(t, p.Likely)
	require.NotEmpty(t, p.Strips())
	assert.True(t, p.Met)
	assert.Contains(t, blind.Codes(p.Warnings), "rate_guessed")
}

func TestProposalRefuses(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), curve.MeasureOptions{})
	require.NoError(t, err)
	var u *sensito.Unanswerable
	_, err = testplan.Propose(f, scene.Scene{Stops: 5, DensityRange: 1.3}, testplan.Options{})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Reason, "cannot be reached")
	_, err = testplan.Propose(f, scene.Scene{Stops: 0.5}, testplan.Options{})
	assert.EqualError(t, err, "scene range in stops 0.5 is outside 1 to 20")
	_, err = testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Wanted: "speed"})
	assert.EqualError(t, err, `wanted answer "speed" is neither minutes nor exposure_index`)
	_, err = testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Within: 2})
	assert.EqualError(t, err, "an interval within 200 % is outside 0.2 to 100 %")
	_, err = testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{MaxStrips: 13})
	assert.EqualError(t, err, "13 strips are outside 1 to 12")

	f, err = development.NewFamily(simulated.CutTrial(t, simulated.ModelTrial(t, 4, 5.5, 7, 9, 12), 0), curve.MeasureOptions{})
	require.NoError(t, err)
	_, err = testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Wanted: testplan.WantedIndex})
	require.ErrorAs(t, err, &u)
	p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{})
	require.NoError(t, err, "a time can be had of relative exposures")
	assert.NotNil(t, p.Before)
}

// A proposal that is asked for no more than there is proposes nothing; an error
// common to all exposures is named as what no strip narrows.
func TestProposalKnowsItsLimits(t *testing.T) {
	trial := simulated.ModelTrial(t, 4, 5.5, 7, 9, 12)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Within: 0.5})
	require.NoError(t, err)
	assert.True(t, p.Met)
	assert.Empty(t, p.Chosen)
	assert.Equal(t, p.Before, p.After())
	assert.Empty(t, p.Steps)

	e, err := trial.Exposures().WithCommonSD(0.05)
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: trial.Film(), Exposures: e}
	for _, strip := range trial.Strips() {
		s := sensito.StripSpec{Minutes: strip.Minutes(), BaseFog: strip.BaseFog()}
		for _, step := range strip.Steps() {
			s.Density = append(s.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, s)
	}
	common, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err = development.NewFamily(common, curve.MeasureOptions{})
	require.NoError(t, err)
	p, err = testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Wanted: testplan.WantedIndex, Within: 0.1})
	require.NoError(t, err)
	assert.False(t, p.Met)
	floor := math.Pow(10, 1.96*0.05) - 1
	assert.Greater(t, testplan.HalfWidth(*p.After(), 0.95), floor*0.999)
	assert.Contains(t, blind.Codes(p.Warnings), "common_error")
	assert.Contains(t, blind.Codes(p.Warnings), "not_met")
}

// The steps that matter hold the speed point and the end of the scene.
func TestStepsThatMatter(t *testing.T) {
	f, err := development.NewFamily(simulated.ModelTrial(t, 5, 7, 10), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Within: 0.002, MaxStrips: 2})
	require.NoError(t, err)
	require.NotEmpty(t, p.Steps)
	logH := f.Trial.Exposures().LogH()
	lo, hi := logH[p.Steps[len(p.Steps)-1]-1], logH[p.Steps[0]-1] // the wedge begins at its strong end
	point := simulated.ModelFilm(simulated.GammaAt(float64(p.Strips()[0]))).SpeedPoint()
	assert.InDelta(t, point-0.3, float64(lo), 0.15)
	_, lightest := simulated.Normally(7).Ends()
	assert.InDelta(t, point+lightest, float64(hi), 0.15)
	assert.Equal(t, "1 to 3, 5, 7 to 8", sensito.StepList([]int{1, 2, 3, 5, 7, 8}))
}
