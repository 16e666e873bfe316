package entry_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/entry"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// keyer keys in a strip from its first step to its last, as a person would who
// keeps every reading that is questioned.
type keyer struct {
	trial  *sensito.Trial
	number int // of the strip, whose readings in the trial do not count
}

// questioned returns the steps, from 1, at which the reading is questioned when
// it is keyed in, and those of which a later reading raises doubts for the first
// time, by the step that raises them. expected are the readings that it expects.
func (k keyer) questioned(t testing.TB, s sensito.StripSpec) (steps []int, doubts map[int]int, expected []sensito.Density) {
	doubts = map[int]int{}
	spec := k.trial.Spec()
	empty := s
	empty.NextStep, empty.Density = 1, slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, len(s.Density))
	spec.Strips[k.number-1] = empty
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	keying := entry.NewKeying(trial, k.number)
	for i, d := range s.Density {
		e, _ := keying.Expect()
		expected = append(expected, e.Density.Value)
		if _, _, far := keying.FarOff(d); far {
			steps = append(steps, i+1)
		}
		require.NoError(t, keying.Read(d))
		for _, step := range keying.NewDoubts() {
			doubts[step] = i + 1
		}
	}
	return steps, doubts, expected
}

// keyed draws a strip to be keyed in and the trial it belongs to, with other
// strips of the film, developed for other times, or none.
func keyed(t testing.TB, p simulated.Practice, r *rand.Rand, class, others int) (keyer, simulated.Bench, sensito.StripSpec) {
	f, b := p.Film(r, class), p.Bench(r)
	s := b.Read(r, f)
	strips := []sensito.StripSpec{s}
	for range others {
		factor := math.Exp(simulated.Between(r, -0.5, 0.5))
		o := b.Read(r, simulated.Film{Base: f.Base + 0.02*math.Log(factor), Layers: f.Scaled(func(int) float64 { return math.Pow(factor, 0.6) }).Layers}.Moved(-0.1*math.Log(factor)))
		o.Minutes = sensito.Minutes(float64(s.Minutes) * factor)
		if len(o.BaseFog) == 0 {
			o.BaseFog = []sensito.Density{sensito.Density(math.Round(100*f.Base) / 100)}
		}
		strips = append(strips, o)
	}
	return keyer{b.Trial(t, strips...), 1}, b, s
}

// slipped returns the strip with one reading wrong by size; ok is false when that
// takes it below zero.
func slipped(s sensito.StripSpec, i int, size float64) (sensito.StripSpec, bool) {
	s.Density = slices.Clone(s.Density)
	d := math.Round(100*(float64(s.Density[i])+size)) / 100
	s.Density[i] = sensito.Density(d)
	return s, d >= 0
}

// TestExpectBlind keys in strips of films that no prior was made for, with and
// without other strips of the film, read from either end of the wedge: how often
// a good reading is questioned or doubted, and how often a slip is. A slip counts
// as questioned when it is keyed in, and as noticed when it is that or in doubt
// later on. SENSITO_BLIND runs so many times as many.
func TestExpectBlind(t *testing.T) {
	t.Parallel()
	rounds := 2 * blind.Effort(t)
	sizes := []float64{0.10, 0.30, 1.00}
	for others := range 3 {
		strips, alarms, steps := 0, 0, 0
		var n, questioned, noticed, first [3]int // by size; first: noticed of the first three steps
		var nFirst [3]int
		for _, p := range []simulated.Practice{simulated.Ordinary, simulated.Careless} {
			for class := range simulated.ClassNames {
				r := rand.New(rand.NewPCG(uint64(others), uint64(class)))
				for range rounds {
					k, b, s := keyed(t, p, r, class, others)
					q, d, _ := k.questioned(t, s)
					strips++
					steps += len(s.Density)
					alarms += len(q) + len(d)
					for j, size := range sizes {
						i, sign := r.IntN(b.Steps), float64(1-2*r.IntN(2))
						wrong, ok := slipped(s, i, sign*size)
						if !ok {
							wrong, _ = slipped(s, i, size)
						}
						q, d, _ := k.questioned(t, wrong)
						_, later := d[i+1]
						seen := slices.Contains(q, i+1)
						if i < 3 && others == 0 { // too little is known yet
							nFirst[j]++
							if seen || later {
								first[j]++
							}
							continue
						}
						n[j]++
						if seen {
							questioned[j]++
						}
						if seen || later {
							noticed[j]++
						}
					}
				}
			}
		}
		t.Logf("%d other strips: %d false alarms on %d good strips of %d readings", others, alarms, strips, steps/strips)
		for j, size := range sizes {
			t.Logf("   slips of %.2f: %d of %d questioned at once, %d noticed in the end; of the first three steps %d of %d",
				size, questioned[j], n[j], noticed[j], first[j], nFirst[j])
		}
		assert.LessOrEqual(t, alarms, strips/20, "false alarms")
		assert.GreaterOrEqual(t, 100*questioned[1], 95*n[1], "slips of 0.30, %d other strips", others)
		assert.Equal(t, n[1], noticed[1], "slips of 0.30")
		assert.Equal(t, n[2], noticed[2], "slips of 1.00")
		assert.Equal(t, nFirst[1:], first[1:], "slips at the first steps")
	}
}

// A strip keyed in beside complete ones of its film follows their shape: from the
// fourth step on what is expected errs by less than a reading scatters, and most slips
// of 0.10 are questioned at once. A strip of another batch or emulsion is questioned no
// more than one that is expected by the nearest strips alone. SENSITO_BLIND runs so many
// times as many.
func TestBlindExpectByShape(t *testing.T) {
	t.Parallel()
	sizes := []float64{0.10, 0.20, 0.30}
	for kind, most := range map[string]struct{ off, alarms float64 }{ // from step 4 on, and for each strip
		"of the film": {0.0095, 0.01}, "of another batch": {0.0135, 0.03}, "of another emulsion": {0.055, 1.5}} {
		strips, alarms, readings := 0, 0, 0
		var off [21]blind.Tally // of the expected reading, by step
		var later blind.Tally   // from step 4
		var slips, once, noticed [3]int
		for others := 2; others <= 4; others++ {
			for k, p := range []simulated.Practice{simulated.Reaching, simulated.Careless} {
				if k != others%2 && blind.Effort(t) == 1 {
					continue // at depth alone
				}
				for class := range simulated.ClassNames {
					r := rand.New(rand.NewPCG(uint64(others), uint64(100+class)))
					for range blind.Effort(t) {
						k, b, film := beside(t, r, p, class, others, kind)
						s := k.trial.Strips()[0].Spec()
						q, d, expected := k.questioned(t, s)
						strips++
						alarms += len(q) + len(d)
						readings += len(s.Density)
						for i, e := range expected {
							x := i
							if !b.Reversed {
								x = b.Steps - 1 - i
							}
							truth := film.Density(float64(x) * b.Step)
							one := &sensito.Estimate[sensito.Density]{Value: e, DoF: math.Inf(1)}
							blind.Judge(&off[i], one, truth, blind.Apart, math.NaN())
							if i >= 3 {
								blind.Judge(&later, one, truth, blind.Apart, math.NaN())
							}
						}
						for j, size := range sizes {
							i, sign := r.IntN(b.Steps), float64(1-2*r.IntN(2))
							wrong, ok := slipped(s, i, sign*size)
							if !ok {
								wrong, _ = slipped(s, i, size)
							}
							q, d, _ = k.questioned(t, wrong)
							slips[j]++
							seen := slices.Contains(q, i+1)
							if seen {
								once[j]++
							}
							if _, in := d[i+1]; in || seen {
								noticed[j]++
							}
						}
					}
				}
			}
		}
		text := ""
		for i := range off {
			text += fmt.Sprintf(" %.3f", off[i].RMS())
		}
		t.Logf("%s: %d alarms on %d strips of %d readings; rms error of what is expected %.4f from step 4, by step%s", kind, alarms, strips, readings/strips, later.RMS(), text)
		for j, size := range sizes {
			t.Logf("   slips of %.2f: %d of %d at once, %d in the end", size, once[j], slips[j], noticed[j])
		}
		assert.Less(t, later.RMS(), most.off, "error of readings expected, strips %s", kind)
		assert.LessOrEqual(t, float64(alarms), most.alarms*float64(strips), "alarms, strips %s", kind)
		if kind == "of the film" {
			assert.GreaterOrEqual(t, 100*once[0], 86*slips[0], "slips of 0.10 at once")
			assert.GreaterOrEqual(t, 100*once[1], 93*slips[1], "slips of 0.20 at once")
			assert.Equal(t, slips[2], noticed[2], "slips of 0.30")
		}
	}
}

// beside draws a strip to be keyed in, the first of a trial, beside others of its film
// that were developed for other times, to 1 % of the time; it may be of another batch,
// 0.1 log H and 10 % of contrast off, or another emulsion of the same speed.
func beside(t testing.TB, r *rand.Rand, p simulated.Practice, class, others int, kind string) (keyer, simulated.Bench, simulated.Film) {
	d, b := p.Developing(r, class), p.Bench(r)
	var strips []sensito.StripSpec
	var film simulated.Film
	for i, k := range r.Perm(5)[:others+1] {
		f := d.At(d.Minutes[k] * math.Exp(0.01*r.NormFloat64()))
		if i == 0 {
			switch kind {
			case "of another batch":
				f = f.Moved(0.1 * float64(1-2*r.IntN(2))).Scaled(func(int) float64 { return 1 + 0.1*float64(1-2*r.IntN(2)) })
			case "of another emulsion":
				o := p.Developing(r, (class+1+r.IntN(5))%len(simulated.ClassNames))
				g := o.At(o.Minutes[2])
				f = g.Moved(f.SpeedPoint() - g.SpeedPoint())
			}
			film = f
		}
		s := b.Read(r, f)
		s.Minutes = sensito.Minutes(d.Minutes[k])
		if len(s.BaseFog) == 0 && i > 0 {
			s.BaseFog = []sensito.Density{sensito.Density(math.Round(100*f.Base) / 100)}
		}
		strips = append(strips, s)
	}
	return keyer{b.Trial(t, strips...), 1}, b, film
}

// Readings of one step are judged by each other.
func TestExpectAgain(t *testing.T) {
	trial := simulated.Bench{Kit: simulated.Usual}.Trial(t, sensito.StripSpec{Minutes: 8, Density: slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, simulated.Usual.Steps)})
	_, ok := entry.ExpectAgain(trial, nil)
	assert.False(t, ok)
	e, ok := entry.ExpectAgain(trial, []sensito.Density{1.13})
	require.True(t, ok)
	assert.Equal(t, sensito.Density(1.13), e.Density.Value)
	// One reading against another: twice the variance of one, rounding included.
	assert.InDelta(t, math.Sqrt(2*(0.01*0.01+0.01*0.01/12)), float64(e.Density.StdErr), 1e-12)
	assert.False(t, e.FarOff(1.17))
	assert.True(t, e.FarOff(1.23))
	assert.True(t, e.FarOff(sensito.Density(math.NaN())))
}

// By nothing but base plus fog no reading is questioned that a film can give, and
// nothing is said; with more readings the expectation narrows.
func TestExpectNarrows(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	f := simulated.Ordinary.Film(r, 0)
	b := simulated.Bench{Lamp: 0.5, BaseRead: 2, Kit: simulated.Usual}
	s := b.Read(r, f)
	full := slices.Clone(s.Density)
	for i := range s.Density {
		s.Density[i] = sensito.Density(math.NaN())
	}
	trial := b.Trial(t, s)
	e, ok := entry.Expect(trial, s, 1, 1)
	assert.False(t, ok)
	assert.False(t, e.FarOff(3.2))
	assert.False(t, e.FarOff(0.2))
	last := e.Density.StdErr
	for i := range 4 {
		s.Density[i] = full[i]
		e, ok = entry.Expect(trial, s, 1, i+2)
		assert.True(t, ok)
		assert.Less(t, e.Density.StdErr, last)
		assert.False(t, e.FarOff(full[i+1]))
		last = e.Density.StdErr
	}
	for _, step := range []int{0, len(full) + 1} {
		_, ok = entry.Expect(trial, s, 1, step)
		assert.False(t, ok)
		assert.Nil(t, entry.Doubts(trial, s, 1, step))
	}
}

// Keying in by the calls that a command makes, against what the strip must hold.
func TestKeying(t *testing.T) {
	nan := sensito.Density(math.NaN())
	empty := sensito.StripSpec{Minutes: 8, NextStep: 1, Density: slices.Repeat([]sensito.Density{nan}, simulated.Usual.Steps)}
	trial := simulated.Bench{Lamp: 0.5, Kit: simulated.Usual}.Trial(t, empty)
	k := entry.NewKeying(trial, 1)
	assert.Equal(t, 1, k.At())
	assert.EqualError(t, k.Back(), "step 1 is the first")
	assert.EqualError(t, k.Again(1), "the step before has no reading yet")
	assert.EqualError(t, k.Keep(), "there is no reading to keep")
	assert.EqualError(t, k.Read(-0.1), `density -0.1 is negative (set reading.zero to "base" if the densitometer was zeroed on the base)`)
	assert.EqualError(t, k.Read(nan), "density NaN is outside 0 to 6")
	assert.EqualError(t, k.Read(), "there is no reading")
	require.NoError(t, k.Fog(0.10, 0.12))
	require.NoError(t, k.Read(2.10))
	require.NoError(t, k.Again(2.12))
	require.NoError(t, k.Read(2.00, 2.01))
	require.NoError(t, k.Skip())
	require.NoError(t, k.Read(1.80))
	require.NoError(t, k.BackTo(3))
	assert.Equal(t, 3, k.Spec().NextStep)
	assert.EqualError(t, k.BackTo(3), "there is no step 3 before this one")
	require.NoError(t, k.Read(1.91))
	assert.Equal(t, 5, k.At(), "returned to where it was")
	require.NoError(t, k.Back())
	require.NoError(t, k.Keep())
	k.Note("one")
	k.Note("two")

	s := k.Spec()
	assert.Equal(t, []sensito.Density{0.10, 0.12}, s.BaseFog)
	assert.Equal(t, "[2.110 2.005 1.910 1.800 NaN]", fmt.Sprintf("%.3f", s.Density[:5]))
	assert.Equal(t, map[int][]sensito.Density{1: {2.10, 2.12}, 2: {2.00, 2.01}}, s.Repeats)
	assert.Equal(t, 5, s.NextStep)
	assert.Equal(t, "one; two", s.Note)

	// A trial made of it goes on at the same step with the same readings.
	trial = simulated.Bench{Lamp: 0.5, Kit: simulated.Usual}.Trial(t, s)
	k = entry.NewKeying(trial, 1)
	assert.Equal(t, 5, k.At())
	assert.Equal(t, fmt.Sprint(s), fmt.Sprint(k.Spec()))
	sd, steps := trial.Strips()[0].RepeatSpread()
	assert.Equal(t, 2, steps)
	// Two pairs 0.02 and 0.01 apart: the mean of half the squared differences.
	assert.InDelta(t, math.Sqrt((0.02*0.02+0.01*0.01)/4), float64(sd), 1e-12)

	for !k.Done() {
		require.NoError(t, k.Skip())
	}
	assert.Zero(t, k.Spec().NextStep)
	assert.EqualError(t, k.Read(1), "all 21 steps are read")
	assert.EqualError(t, k.Skip(), "all 21 steps are read")
}

// Of two steps of nearly one exposure the first tells what the second should read, as
// well as readings of a step tell each other: with an error between that of one
// reading, rounding included, and that of the difference of two, which other steps
// about it lessen. The readings scatter by as much.
func TestExpectedErrorHoldsTheReading(t *testing.T) {
	one := math.Sqrt(0.01*0.01 + 0.01*0.01/12)
	wedge := sensito.EvenWedge(0.05, 0.15, 21)
	wedge[11] = wedge[10] + 0.001
	e, err := sensito.NewContact(2, 1, wedge)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(12, 3))
	var squares, stated float64
	const runs = 400
	for range runs {
		f := simulated.Ordinary.Film(r, r.IntN(len(simulated.ClassNames)))
		s := sensito.StripSpec{Minutes: 8, Process: simulated.Tank, BaseFog: []sensito.Density{sensito.Density(f.Base)}}
		for _, d := range wedge {
			s.Density = append(s.Density, sensito.Density(math.Round(100*(f.Density(3.05-float64(d))+0.01*r.NormFloat64()))/100))
		}
		trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: simulated.Tank, Exposures: e, Strips: []sensito.StripSpec{s}})
		require.NoError(t, err)
		x, ok := entry.Expect(trial, s, 1, 12)
		require.True(t, ok)
		sd := float64(x.Density.StdErr)
		assert.Greater(t, sd, one)
		assert.Less(t, sd, math.Sqrt2*one)
		squares += math.Pow(float64(s.Density[11]-x.Density.Value), 2)
		stated += sd * sd
	}
	assert.InDelta(t, 1, math.Sqrt(squares/stated), 0.15, "scatter of readings over the error expected")
}

// A film that gets lighter again with great exposure does so in a strip keyed in as in
// those beside it: its falling end is not questioned.
func TestExpectReversing(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	d, b := simulated.Reaching.Developing(r, 1), simulated.Reaching.Bench(r)
	b.Reversed = false
	var strips []sensito.StripSpec
	for _, k := range []int{2, 0, 3, 4} {
		s := b.Read(r, d.At(d.Minutes[k]))
		s.Minutes = sensito.Minutes(d.Minutes[k])
		for i := range 6 { // the densest come first
			s.Density[i] = s.Density[6] - sensito.Density(0.07*float64(6-i))
		}
		strips = append(strips, s)
	}
	k := keyer{b.Trial(t, strips...), 1}
	ms, err := curve.MeasureTrial(k.trial, curve.MeasureOptions{})
	require.NoError(t, err)
	require.NotEmpty(t, ms[2].Fit.Reversed)
	q, doubts, _ := k.questioned(t, strips[0])
	assert.Empty(t, q)
	assert.Empty(t, doubts)
}

// What a key stroke costs beside complete strips of the film: first, and when one of
// them has changed.
func BenchmarkExpectByShape(b *testing.B) {
	for _, others := range []int{4, 12, 40} {
		r := rand.New(rand.NewPCG(1, 7))
		d, bench := simulated.Reaching.Developing(r, 1), simulated.Reaching.Bench(r)
		var trials [2]*sensito.Trial
		for i := range trials {
			strips := []sensito.StripSpec{bench.Read(r, d.At(6))}
			strips[0].Density[10], strips[0].NextStep = sensito.Density(math.NaN()), 11
			for k := range others {
				minutes := 4 + 8*float64(k)/float64(others)
				s := bench.Read(r, d.At(minutes))
				s.Minutes = sensito.Minutes(minutes)
				strips = append(strips, s)
			}
			trials[i] = bench.Trial(b, strips...)
		}
		k := entry.NewKeying(trials[0], 1)
		for name, step := range map[string]int{"same": 0, "changed": 1} {
			b.Run(fmt.Sprintf("strips=%d/others=%s", others, name), func(b *testing.B) {
				for i := 0; b.Loop(); i++ {
					k.In(trials[i*step%2], k.Number())
					k.Expect()
				}
			})
		}
	}
}

// The smooth curve of a strip follows its readings, but for one that belongs to another
// curve, and leans on nothing else.
func TestSmooth(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	b := simulated.Bench{Lamp: 0.5, BaseRead: 2, Kit: simulated.Usual}
	s := b.Read(r, simulated.Ordinary.Film(r, 0))
	const slip = 7
	right := s.Density[slip]
	s.Density[slip] += 0.3
	trial := b.Trial(t, s)
	curve := entry.Smooth(trial, s)
	require.Len(t, curve, len(s.Density))
	for i, d := range curve {
		want := s.Density[i]
		if i == slip {
			want = right
		}
		assert.InDelta(t, float64(want), float64(d), 0.03, "step %d", i+1)
	}
	for i := range s.Density {
		s.Density[i] = sensito.Density(math.NaN())
	}
	assert.Nil(t, entry.Smooth(trial, s))
}
