package control

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"sensito/sensito"
	"sensito/sensito/control/chart"
)

// controlSpec returns a log of n strips, so many days apart, whose low patch and
// difference are moved by what the functions say; the readings are exact.
func controlSpec(n, apart int, low, difference func(i int) float64) LogSpec {
	start := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	var spec LogSpec
	for i := range n {
		l := 0.39 + low(i)
		spec.Strips = append(spec.Strips, Strip{
			Date:    start.AddDate(0, 0, i*apart).Format(time.DateOnly),
			Patches: Patches{BaseFog: 0.11, Low: sensito.Density(l), High: sensito.Density(l + 0.82 + difference(i))},
		})
	}
	return spec
}

func nothing(int) float64 { return 0 }

var controlAim = Patches{BaseFog: 0.11, Low: 0.39, High: 1.21}

// aimed returns the spec with an aim and limits of three standard deviations.
func aimed(spec LogSpec) LogSpec {
	aim := controlAim
	spec.Aim = &aim
	spec.Tolerances = Tolerances{BaseFog: 0.03, Low: 0.03, Difference: 0.03 * math.Sqrt2}
	return spec
}

func evaluated(t testing.TB, spec LogSpec, o Options) *Evaluation {
	t.Helper()
	l, err := NewLog(spec)
	require.NoError(t, err)
	c, err := l.Evaluate(o)
	require.NoError(t, err)
	return c
}

func TestBaseline(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 0))
	noisy := func(int) float64 { return 0.02 * r.NormFloat64() }
	spec := controlSpec(16, 3, noisy, noisy)
	first := func(c *Evaluation, n int) {
		t.Helper()
		require.Len(t, c.Baseline.Strips, n)
		x := c.Log.series(QuantityLow)
		s := chart.RangeSigma(chart.MovingRanges(x[:n]))
		want := chart.IndividualsLimits(stat.Mean(x[:n], nil), s)
		assert.Equal(t, want, c.chart(QuantityLow, chart.KindIndividuals).Limits)
		assert.Equal(t, s, c.chart(QuantityLow, chart.KindEWMA).Sigma)
		assert.Equal(t, chart.Limits{Lower: -5 * s, Center: 0, Upper: 5 * s}, c.chart(QuantityLow, chart.KindCUSUM).Limits)
		assert.Equal(t, chart.MovingRangeLimits(s), c.chart(QuantityLow, chart.KindMovingRange).Limits)
	}
	c := evaluated(t, spec, Options{})
	first(c, 12)
	assert.Equal(t, Baseline{Center: "baseline", Limits: "baseline", From: "first", Strips: []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}}, c.Baseline)
	first(evaluated(t, spec, Options{Baseline: 9}), 9)

	// A strip more does not move limits once they stand; before, a warning says so.
	longer := spec
	longer.Strips = spec.Strips[:13]
	assert.Equal(t, c.chart(QuantityLow, chart.KindIndividuals).Limits, evaluated(t, longer, Options{}).chart(QuantityLow, chart.KindIndividuals).Limits)
	short := spec
	short.Strips = spec.Strips[:10]
	moving := evaluated(t, short, Options{})
	first(moving, 10)
	assert.Equal(t, []string{"limits_move"}, codes(moving.Warnings)[:1])

	marked := spec
	marked.Strips = append([]Strip(nil), spec.Strips...)
	for i := range 9 {
		marked.Strips[i+3].Baseline = true
	}
	m := evaluated(t, marked, Options{})
	assert.Equal(t, []int{4, 5, 6, 7, 8, 9, 10, 11, 12}, m.Baseline.Strips)
	assert.Equal(t, "marked", m.Baseline.From)
	x := m.Log.series(QuantityLow)[3:12]
	assert.Equal(t, chart.IndividualsLimits(stat.Mean(x, nil), chart.RangeSigma(chart.MovingRanges(x))), m.chart(QuantityLow, chart.KindIndividuals).Limits)
	first(evaluated(t, marked, Options{Baseline: 8}), 8)
	// Ranges are of neighbours only, and not across a fresh start.
	marked.Strips[8].Baseline, marked.Strips[6].Fresh = false, true
	m = evaluated(t, marked, Options{})
	all := m.Log.series(QuantityLow)
	want := chart.RangeSigma([]float64{math.Abs(all[4] - all[3]), math.Abs(all[5] - all[4]), math.Abs(all[7] - all[6]), math.Abs(all[10] - all[9]), math.Abs(all[11] - all[10])})
	assert.InDelta(t, want, m.chart(QuantityLow, chart.KindIndividuals).Sigma, 1e-12)

	// With an aim the strips give only their scatter; with limits too, nothing.
	withAim := spec
	withAim.Aim = &controlAim
	a := evaluated(t, withAim, Options{})
	assert.Equal(t, 0.39, a.chart(QuantityLow, chart.KindIndividuals).Limits.Center)
	assert.Equal(t, c.chart(QuantityLow, chart.KindIndividuals).Sigma, a.chart(QuantityLow, chart.KindIndividuals).Sigma)
	few := aimed(controlSpec(2, 3, nothing, nothing))
	g := evaluated(t, few, Options{})
	assert.Equal(t, Baseline{Center: "aim", Limits: "given"}, g.Baseline)
	assert.InDelta(t, 0.01, g.chart(QuantityLow, chart.KindCUSUM).Sigma, 1e-12)
	assert.InDelta(t, 0.42, g.chart(QuantityLow, chart.KindIndividuals).Limits.Upper, 1e-12)
	few.Reference = true
	assert.Contains(t, codes(evaluated(t, few, Options{Baseline: 8}).Warnings), "one_reference_strip")
	assert.Contains(t, codes(evaluated(t, few, Options{Baseline: 8}).Warnings), "baseline_not_needed")

	// Readings that do not vary do not make limits of no width.
	coarse := evaluated(t, controlSpec(12, 3, nothing, nothing), Options{})
	assert.Equal(t, "base plus fog: the baseline varies less than a densitometer reads, so its limits are set to 0.020 on both sides; state them in [limits]",
		coarse.Warnings[slices.Index(codes(coarse.Warnings), "coarse_readings")].Message())
	assert.InDelta(t, 0.02, coarse.chart(QuantityLow, chart.KindIndividuals).Limits.Upper-0.39, 1e-12)
	assert.Nil(t, coarse.First)
	drifting := evaluated(t, controlSpec(14, 3, func(i int) float64 { return -0.01 * float64(i) }, nothing), Options{})
	assert.Contains(t, codes(drifting.Warnings), "baseline_drifts")
	assert.NotContains(t, codes(c.Warnings), "baseline_drifts")
}

// chart returns one of the charts.
func (c *Evaluation) chart(quantity string, kind chart.Kind) *Chart {
	for i := range c.Charts {
		if c.Charts[i].Quantity == quantity && c.Charts[i].Kind == kind {
			return &c.Charts[i]
		}
	}
	panic("no chart " + quantity + " " + string(kind))
}

func codes(ws sensito.Warnings) []string {
	out := []string{}
	for _, w := range ws {
		out = append(out, w.Code)
	}
	return out
}

func TestTooFewStrips(t *testing.T) {
	refuse := func(spec LogSpec, o Options, reason, hint string) {
		t.Helper()
		l, err := NewLog(spec)
		require.NoError(t, err)
		_, err = l.Evaluate(o)
		var u *sensito.Unanswerable
		require.True(t, errors.As(err, &u), "%v", err)
		assert.Equal(t, []string{reason, hint}, []string{u.Reason, u.Hint})
	}
	spec := controlSpec(5, 3, nothing, nothing)
	refuse(spec, Options{}, "limits from the strips need a baseline of 8 or more; this log has 5", "develop 3 more, or state [aim] and repeatability in the log")
	refuse(spec, Options{Baseline: 9}, "a baseline of 9 strips was asked for, and the log has 5", "develop 4 more, or take a shorter baseline")
	spec.Repeatability = 0.01 // makes no centre
	refuse(spec, Options{}, "limits from the strips need a baseline of 8 or more; this log has 5", "develop 3 more, or state [aim] and repeatability in the log")
	spec = controlSpec(20, 3, nothing, nothing)
	spec.Strips[2].Baseline = true
	refuse(spec, Options{}, "limits from the strips need a baseline of 8 or more; this log has 1", "mark 7 more, or state [aim] and repeatability in the log")
	l, err := NewLog(spec)
	require.NoError(t, err)
	_, err = l.Evaluate(Options{Rules: "own"})
	assert.EqualError(t, err, `"own" is not a set of rules`)
}

// With an aim a log answers from its first strip: by a repeatability that it
// states, and else by the usual one until its own strips show it.
func TestAimAnswersFromTheFirstStrip(t *testing.T) {
	first := func(n int, low float64) LogSpec {
		spec := controlSpec(n, 3, func(int) float64 { return low }, nothing)
		spec.Aim = &controlAim
		return spec
	}
	stated := first(1, 0.04)
	stated.Repeatability = 0.012
	c := evaluated(t, stated, Options{})
	assert.Equal(t, Baseline{Center: "aim", Limits: "repeatability", Repeatability: 0.012}, c.Baseline)
	assert.Equal(t, &Signal{QuantityLow, chart.KindIndividuals, chart.Signal{Rule: chart.BeyondLimit, Index: 1, Since: 1}}, c.First)
	assert.InDelta(t, 0.39+0.036, c.chart(QuantityLow, chart.KindIndividuals).Limits.Upper, 1e-12)
	assert.InDelta(t, 0.82+0.036*math.Sqrt2, c.chart(QuantityDifference, chart.KindIndividuals).Limits.Upper, 1e-12)
	assert.InDelta(t, 0.11+0.036, c.chart(QuantityBaseFog, chart.KindIndividuals).Limits.Upper, 1e-12)
	assert.True(t, math.IsInf(c.levelOf(QuantityLow).Change.DoF, 1))
	assert.Empty(t, slices.DeleteFunc(codes(c.Warnings), func(code string) bool { return code == "no_trial" }))
	assert.Less(t, c.FalseShare(), 0.1)
	assert.Nil(t, evaluated(t, first(1, 0.029), Options{}).First, "within three usual standard deviations")

	unstated := evaluated(t, first(3, 0.04), Options{})
	assert.Equal(t, Baseline{Center: "aim", Limits: "repeatability", Repeatability: 0.01}, unstated.Baseline)
	assert.Contains(t, codes(unstated.Warnings), "usual_repeatability")
	assert.EqualValues(t, 8, unstated.levelOf(QuantityLow).Change.DoF)
	assert.NotNil(t, unstated.First)
	eight := evaluated(t, first(8, 0.04), Options{})
	assert.Equal(t, "baseline", eight.Baseline.Limits)
	assert.NotContains(t, codes(eight.Warnings), "usual_repeatability")

	// Limits that are stated stand; the others follow.
	stated.Tolerances.Low = 0.05
	c = evaluated(t, stated, Options{})
	assert.Equal(t, "given and repeatability", c.Baseline.Limits)
	assert.Nil(t, c.First)
	assert.InDelta(t, 0.44, c.chart(QuantityLow, chart.KindIndividuals).Limits.Upper, 1e-12)
	// Further patches too.
	stated.Strips[0].Others, stated.Aim = map[string]sensito.Density{"middle": 0.76}, &Patches{BaseFog: 0.11, Low: 0.39, High: 1.21, Others: map[string]sensito.Density{"middle": 0.7}}
	assert.Equal(t, &Signal{"middle", chart.KindIndividuals, chart.Signal{Rule: chart.BeyondLimit, Index: 1, Since: 1}}, evaluated(t, stated, Options{}).First)
}

// A fresh start begins the charts anew, and what went before is no longer the
// first signal.
func TestFreshStart(t *testing.T) {
	spec := aimed(controlSpec(30, 3, func(i int) float64 {
		if i < 20 {
			return -0.004 * float64(i)
		}
		return 0
	}, nothing))
	c := evaluated(t, spec, Options{})
	require.NotNil(t, c.First)
	before := *c.First
	spec.Strips[20].Fresh = true
	c = evaluated(t, spec, Options{})
	assert.Nil(t, c.First)
	assert.Equal(t, 21, c.RunFrom())
	assert.Empty(t, c.Advice)
	ewma := c.chart(QuantityLow, chart.KindEWMA)
	assert.NotEmpty(t, ewma.Signals)
	assert.InDelta(t, 0.39, ewma.Values[20], 1e-12)
	assert.Equal(t, ewma.LimitsAt(1), ewma.LimitsAt(21))
	assert.Equal(t, chart.EWMALimits(ewma.Limits.Center, ewma.Sigma, chart.EWMAWeight, chart.EWMAWidth, 20), ewma.LimitsAt(20))
	assert.Zero(t, c.chart(QuantityLow, chart.KindCUSUM).Falling[20])
	assert.True(t, math.IsNaN(c.chart(QuantityLow, chart.KindMovingRange).Values[20]))
	spec.Strips = spec.Strips[:20]
	assert.Equal(t, before, *evaluated(t, spec, Options{}).First)
	// A second fault after the fresh start is found with its numbers in the log.
	spec = aimed(controlSpec(12, 3, func(i int) float64 { return map[bool]float64{true: 0.04}[i == 9] }, nothing))
	spec.Strips[6].Fresh = true
	assert.Equal(t, &Signal{QuantityLow, chart.KindIndividuals, chart.Signal{Rule: chart.BeyondLimit, Index: 10, Since: 10}}, evaluated(t, spec, Options{}).First)
}

// Levels of exact readings come out exactly, with the start of the change.
func TestLevels(t *testing.T) {
	step := evaluated(t, aimed(controlSpec(30, 3, func(i int) float64 { return map[bool]float64{true: -0.05}[i >= 18] }, nothing)), Options{})
	low := step.levelOf(QuantityLow)
	assert.Equal(t, []any{ChangeStep, 19, -1}, []any{low.Shape, low.Since, low.Direction()})
	assert.InDelta(t, -0.05, low.Change.Value, 1e-9)
	assert.InEpsilon(t, 0.01/math.Sqrt(12), low.Change.StdErr, 0.15, "that of the mean, and a little for the start")
	assert.True(t, math.IsInf(low.Change.DoF, 1))
	assert.Nil(t, low.PerWeek)
	assert.Equal(t, []any{ChangeNone, 0, 0}, []any{step.levelOf(QuantityBaseFog).Shape, step.levelOf(QuantityBaseFog).Since, step.levelOf(QuantityBaseFog).Direction()})

	drift := evaluated(t, aimed(controlSpec(30, 3, nothing, func(i int) float64 { return math.Max(0, float64(i-17)) * 3 * 0.02 / 7 })), Options{})
	d := drift.levelOf(QuantityDifference)
	assert.Equal(t, []any{ChangeDrift, 19, 1}, []any{d.Shape, d.Since, d.Direction()})
	require.NotNil(t, d.PerWeek)
	assert.InDelta(t, 0.02, d.PerWeek.Value, 1e-9)
	assert.InDelta(t, 12*3*0.02/7, d.Change.Value, 1e-9)
}

// Every sure change of the three quantities has advice.
func TestAdviceForEveryPattern(t *testing.T) {
	seen := map[string]bool{}
	for fog := -1; fog <= 1; fog++ {
		for low := -1; low <= 1; low++ {
			for difference := -1; difference <= 1; difference++ {
				spec := aimed(controlSpec(12, 3, func(int) float64 { return 0.1 * float64(low) }, func(int) float64 { return 0.1 * float64(difference) }))
				for i := range spec.Strips {
					spec.Strips[i].BaseFog += sensito.Density(0.08 * float64(fog))
				}
				c := evaluated(t, spec, Options{})
				name := fmt.Sprint(fog, low, difference)
				if fog == 0 && low == 0 && difference == 0 {
					assert.Empty(t, c.Advice)
					continue
				}
				require.Len(t, c.Advice, 2, name)
				assert.Equal(t, firstOfAll, c.Advice[0])
				seen[c.Advice[1].Pattern] = true
			}
		}
	}
	assert.Len(t, seen, len(controlCauses))
	// One strip out, and back.
	c := evaluated(t, aimed(controlSpec(20, 3, func(i int) float64 { return map[bool]float64{true: 0.04}[i == 5] }, nothing)), Options{})
	require.NotNil(t, c.First)
	require.Len(t, c.Advice, 2)
	assert.Equal(t, "a signal, and a level that is not surely another", c.Advice[1].Pattern)
}

func TestNotes(t *testing.T) {
	spec := aimed(controlSpec(20, 3, func(i int) float64 { return map[bool]float64{true: 0.06}[i >= 12] }, nothing))
	for _, i := range []int{2, 11, 12, 17} {
		spec.Strips[i].Note = "n"
	}
	assert.Equal(t, []int{12, 13, 18}, evaluated(t, spec, Options{}).Notes())
	spec.Strips = spec.Strips[:10]
	assert.Empty(t, evaluated(t, spec, Options{}).Notes())
}

func TestFurtherPatches(t *testing.T) {
	spec := aimed(controlSpec(12, 3, nothing, nothing))
	for i := range spec.Strips {
		spec.Strips[i].Others = map[string]sensito.Density{"speed_point": 0.21, "middle": sensito.Density(0.7 + map[bool]float64{true: 0.1}[i == 7])}
	}
	spec.Aim.Others = map[string]sensito.Density{"speed_point": 0.21, "middle": 0.7}
	spec.Tolerances.Others = map[string]sensito.Density{"speed_point": 0.02, "middle": 0.03}
	c := evaluated(t, spec, Options{Kinds: []chart.Kind{chart.KindIndividuals}})
	assert.Equal(t, []string{"base_fog", "low", "difference", "middle", "speed_point"}, c.Log.Quantities())
	assert.Len(t, c.Charts, 5)
	assert.Equal(t, &Signal{"middle", chart.KindIndividuals, chart.Signal{Rule: chart.BeyondLimit, Index: 8, Since: 8}}, c.First)
}

func TestControlLogFaults(t *testing.T) {
	spec := LogSpec{
		Minutes: 2000, Gradient: 40, AimStrips: -1, Repeatability: 0.5,
		Aim:        &Patches{BaseFog: 0.1, Low: 1.2, High: 0.4, Others: map[string]sensito.Density{"other": 1}},
		Tolerances: Tolerances{Low: 0.001, Difference: -0.02, Others: map[string]sensito.Density{"x": 1, "middle": 3}},
		Strips: []Strip{
			{Date: "2026-03-02", Patches: Patches{BaseFog: 0.1, Low: 0.4, High: 1.2, Others: map[string]sensito.Density{"middle": 0.7, "low": 0.3}}},
			{Date: "2026-03-01", Patches: Patches{BaseFog: 1.3, Low: 0.4, High: 1.2, Others: map[string]sensito.Density{"middle": 7, "low": 0.3, "a b": 1}}},
			{Date: "02.03.2026", Patches: Patches{BaseFog: -0.1, Low: 0.4, High: sensito.Density(math.NaN())}},
			{},
		},
	}
	_, err := NewLog(spec)
	require.Error(t, err)
	assert.Equal(t, `minutes: 2000 min is outside 0.05 to 1440 min
aim.gradient: 40 is outside 0.01 to 10
aim.low: 1.2 is not below high, 0.4; were the patches exchanged?
aim.patches: lacks low, which the first strip has
aim.patches: lacks middle, which the first strip has
aim.patches.other: is a patch that the first strip does not have
aim.strips: -1 is outside 1 to 1000
repeatability: 0.5 is outside 0.002 to 0.2
strip[2].date: 2026-03-01 after 2026-03-02 runs backwards; a strip is appended at the end of the log
strip[3].date: "02.03.2026" is not a date like 2026-03-01
strip[4].date: is missing
strip[1].patches.low: is a name that the log uses already
strip[2].base_fog: 1.3 is not below high, 1.2
strip[2].patches: "a b" is not a name for a patch: a letter, then letters, figures, - and _, at most 24
strip[2].patches.low: is a name that the log uses already
strip[2].patches.middle: 7 is outside 0 to 6
strip[3].base_fog: -0.1 is outside 0 to 6
strip[3].high: NaN is outside 0 to 6
strip[3].patches: lacks low, which the first strip has
strip[3].patches: lacks middle, which the first strip has
strip[4].high: 0 is not above base_fog and low; high is the patch that got the most light
strip[4].patches: lacks low, which the first strip has
strip[4].patches: lacks middle, which the first strip has
limits.low: 0.001 is outside 0.005 to 2
limits.difference: -0.02 is outside 0.005 to 2
limits.patches.middle: 3 is outside 0.005 to 2
limits.patches.x: is a patch that the strips do not have`, err.Error())
	_, err = NewLog(LogSpec{})
	assert.EqualError(t, err, "strip: is missing: a control log needs at least one strip")
}

func TestStripAs(t *testing.T) {
	strip := Strip{Date: "2026-03-05", Note: "second tank", Patches: Patches{BaseFog: 0.11, Low: 0.4, High: 1.2, Others: map[string]sensito.Density{"middle": 0.7}}}
	first := strip
	first.Note, first.Baseline = "", true
	log, err := NewLog(LogSpec{Strips: []Strip{first, strip}})
	require.NoError(t, err)
	assert.Equal(t, 2, log.StripAs(strip))
	unmarked := first
	unmarked.Baseline = false
	assert.Equal(t, 1, log.StripAs(unmarked))
	for name, change := range map[string]func(s *Strip){
		"date":     func(s *Strip) { s.Date = "2026-03-06" },
		"base fog": func(s *Strip) { s.BaseFog = 0.12 },
		"low":      func(s *Strip) { s.Low = 0.41 },
		"high":     func(s *Strip) { s.High = 1.21 },
		"patch":    func(s *Strip) { s.Others = map[string]sensito.Density{"middle": 0.71} },
		"patches":  func(s *Strip) { s.Others = nil },
		"fresh":    func(s *Strip) { s.Fresh = true },
		"note":     func(s *Strip) { s.Note = "third tank" },
	} {
		other := strip
		change(&other)
		assert.Zero(t, log.StripAs(other), name)
	}
}

func TestParsePatch(t *testing.T) {
	for text, want := range map[string]sensito.Density{"middle=0.71": 0.71, " middle = 0,5 ": 0.5, "middle=.5": 0.5} {
		name, density, err := ParsePatch(text)
		require.NoError(t, err, text)
		assert.Equal(t, "middle", name)
		assert.Equal(t, want, density)
	}
	for _, text := range []string{"middle", "=0.7", "middle=", "middle=dense", "middle=0.7=0.8", "middle=1,234"} {
		_, _, err := ParsePatch(text)
		assert.EqualError(t, err, fmt.Sprintf("%q is not a patch like middle=0.71", text))
	}
}

// A log stays as it was checked, whatever becomes of what it was made from or of what
// it returns.
func TestLogCannotBeChanged(t *testing.T) {
	others := map[string]sensito.Density{"middle": 0.70}
	patches := Patches{BaseFog: 0.10, Low: 0.40, High: 1.20, Others: others}
	aim := patches
	spec := LogSpec{Aim: &aim, Tolerances: Tolerances{BaseFog: 0.03, Others: map[string]sensito.Density{"middle": 0.05}},
		Strips: []Strip{{Date: "2026-03-05", Patches: patches}}}
	log, err := NewLog(spec)
	require.NoError(t, err)
	unchanged := func(name string) {
		is, _ := log.Aim()
		assert.Equal(t, sensito.Density(0.40), is.Low, name)
		assert.Equal(t, sensito.Density(0.70), is.Others["middle"], name)
		assert.Equal(t, sensito.Density(0.40), log.Strips()[0].Low, name)
		assert.Equal(t, sensito.Density(0.70), log.Strips()[0].Others["middle"], name)
		assert.Equal(t, sensito.Density(0.05), log.Tolerances().Others["middle"], name)
	}
	aim.Low, spec.Strips[0].Low, others["middle"], spec.Tolerances.Others["middle"] = 9, 9, 9, 9
	unchanged("made from")
	is, _ := log.Aim()
	is.Low, is.Others["middle"] = 9, 9
	strips := log.Strips()
	strips[0].Low, strips[0].Others["middle"], log.Tolerances().Others["middle"] = 9, 9, 9
	unchanged("returned")
}
