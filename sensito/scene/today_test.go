package scene

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
)

// tried returns an answer that takes so many minutes in a trial of the process.
func tried(t *testing.T, process sensito.Process, minutes float64) *Answer {
	t.Helper()
	f := &development.Family{Trial: simulated.TrialOf(t, process)}
	p := &Answer{Family: f, Base: TimeBase{Minutes: minutes, Total: 0.01, SD: 0.01, dof: math.Inf(1),
		limits: func(float64) (float64, float64, bool) { return 0, 0, false }}}
	p.Minutes = p.Base.Estimate(minutes, 0.01, 0, math.Inf(1))
	return p
}

func changed(t *testing.T, p *Answer, c development.Conditions) (*development.Change, *Answer) {
	ch, err := p.Family.Under(c)
	require.NoError(t, err)
	out, err := (&Adjustment{Change: ch}).Adjust(p)
	require.NoError(t, err)
	return ch, out
}

func codesOf(all sensito.Warnings) []string {
	var out []string
	for _, w := range all {
		out = append(out, w.Code)
	}
	return out
}

// Agitation: 10.0 min with 0.85 are 8.50 and with 0.80 8.00; 5.5 min with 0.85
// are 4.675 and short (exact arithmetic; the factor is common practice, no
// source).
func TestUsualAgitation(t *testing.T) {
	intermittent, continuous := sensito.Process{Agitation: sensito.AgitationIntermittent, TemperatureC: 20}, sensito.Process{Agitation: sensito.AgitationContinuous}
	for _, c := range []struct {
		name     string
		of       sensito.Process
		minutes  float64
		to       sensito.Agitation
		want     float64
		warnings []string
	}{
		{"intermittent to continuous", intermittent, 10, sensito.AgitationContinuous, 8.5, []string{"agitation_guessed"}},
		{"to continuous, which is then short", intermittent, 5.5, sensito.AgitationContinuous, 4.675, []string{"short_time", "longer_time", "agitation_guessed"}},
		{"continuous to intermittent", continuous, 8.5, sensito.AgitationIntermittent, 10, []string{"agitation_guessed"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			ch, p := changed(t, tried(t, c.of, c.minutes), development.Conditions{Agitation: c.to})
			assert.InDelta(t, c.want, float64(p.Minutes.Value), 1e-12, "%g min become", c.minutes)
			assert.Equal(t, c.warnings, codesOf(p.Warnings), "warnings of the new time")
			require.NotNil(t, ch.Agitation, "the change says what agitation does")
			assert.False(t, ch.Agitation.Measured, "no strip measured it")
			low, high := ch.Agitation.Factor.Interval(0.95)
			if c.to == sensito.AgitationIntermittent {
				low, high = 1/high, 1/low
			}
			assert.InDelta(t, 0.80, low, 0.005, "least factor of continuous agitation, at 95 %%")
			assert.InDelta(t, 0.90, high, 0.005, "largest factor")
			for _, w := range p.Warnings {
				if w.Code == "longer_time" {
					assert.Equal(t, "at 19 °C it would take about 5:05", w.Message())
				}
			}
		})
	}

	// A time is short as it is told, to 5 seconds: 4:58 is told as 5:00.
	assert.Empty(t, ShortTime(4.97))
	assert.Equal(t, []string{"short_time"}, codesOf(ShortTime(4.95)))

	_, err := tried(t, intermittent, 10).Family.Under(development.Conditions{Agitation: sensito.AgitationNone})
	u := &sensito.Unanswerable{}
	require.ErrorAs(t, err, &u, "to no agitation")
	assert.Equal(t, `develop a strip with no agitation, its time among those of the others, and add it to the trial with agitation = "none"`, u.Hint, "to no agitation")
	_, err = tried(t, sensito.Process{}, 10).Family.Under(development.Conditions{Agitation: sensito.AgitationContinuous})
	assert.ErrorContains(t, err, "does not say how its strips were agitated", "of a trial that does not say")
}

func TestDilutionFactor(t *testing.T) {
	ch, p := changed(t, tried(t, sensito.Process{Dilution: "1+19"}, 10), development.Conditions{Dilution: "1+31"})
	assert.InDelta(t, 10*math.Pow(1.6, 0.75), float64(p.Minutes.Value), 1e-12)
	assert.InDelta(t, 0.3*math.Log(1.6), ch.Dilution.Factor.StdErr/ch.Dilution.Factor.Value, 1e-12)
	assert.Equal(t, []string{"dilution_guessed"}, codesOf(p.Warnings))
	for _, c := range [][2]string{{"1+19", "stock"}, {"stock", "1+1"}, {"1+19", "1+99"}, {"1+19", "1+4"}} {
		_, err := tried(t, sensito.Process{Dilution: c[0]}, 10).Family.Under(development.Conditions{Dilution: c[1]})
		assert.ErrorContains(t, err, "nothing is known of the time at "+c[1], c)
	}
	_, err := tried(t, sensito.Process{}, 10).Family.Under(development.Conditions{Dilution: "1+31"})
	assert.ErrorContains(t, err, "does not say how its developer was diluted")
	_, err = tried(t, sensito.Process{Dilution: "1+19"}, 10).Family.Under(development.Conditions{Dilution: "1:31"})
	assert.ErrorContains(t, err, "not of the form 1+19")
}

// A steady temperature, by exact arithmetic (the table of equivalent times is
// checked in package fit), and a drift against a sum of short steps.
func TestTemperatureTimes(t *testing.T) {
	at20 := sensito.Process{TemperatureC: 20}
	_, p := changed(t, tried(t, at20, 10), development.Conditions{TemperatureC: new(24.0), Q10: new(2.0), Q10SD: new(0.1)})
	assert.InDelta(t, 7.536274, float64(p.Minutes.Value), 1e-5, "development notes, q10 2 at 24 degrees")
	assert.InDelta(t, math.Hypot(0.01, 0.1/2*math.Log(10/7.536274)/math.Ln2), float64(p.Minutes.StdErr/p.Minutes.Value), 1e-6, "that of the coefficient, for 4 of 10 degrees")
	_, p = changed(t, tried(t, at20, 10), development.Conditions{TemperatureC: new(20.0)})
	assert.InDelta(t, 10, float64(p.Minutes.Value), 1e-12)
	assert.Empty(t, p.Warnings)

	for _, c := range []development.Conditions{{TemperatureC: new(20.0), EndC: new(24.0), Q10: new(2.8)}, {TemperatureC: new(24.0), EndC: new(17.0), Q10: new(1.6)}, {TemperatureC: new(13.0), EndC: new(30.0), Q10: new(2.1)}} {
		ch, p := changed(t, tried(t, at20, 10), c)
		minutes, done := float64(p.Minutes.Value), 0.0
		const n = 20000
		for i := range n {
			celsius := *c.TemperatureC + (*c.EndC-*c.TemperatureC)*(float64(i)+0.5)/n
			rate := math.Exp(math.Log(*c.Q10) * (1/293.15 - 1/(celsius+273.15)) / (1/293.15 - 1/303.15))
			done += rate * minutes / n
		}
		assert.InDelta(t, 10, done, 1e-6, "the integrated rate, in minutes at 20 degrees")
		_, steady := changed(t, tried(t, at20, 10), development.Conditions{TemperatureC: new(ch.SteadyC), Q10: c.Q10, Forced: true})
		assert.InDelta(t, minutes, float64(steady.Minutes.Value), 1e-9)
	}

	_, p = changed(t, tried(t, at20, 10), development.Conditions{TemperatureC: new(17.5)})
	assert.Equal(t, []string{"temperature_unusual"}, codesOf(p.Warnings))
	_, p = changed(t, tried(t, at20, 10), development.Conditions{TemperatureC: new(24.0), EndC: new(18.0)})
	assert.Empty(t, p.Warnings)
	_, err := tried(t, sensito.Process{}, 10).Family.Under(development.Conditions{TemperatureC: new(22.0)})
	assert.ErrorContains(t, err, "does not say at which temperature")
}

// The process of today by a control log and the conditions of today go together.
func TestDriftUnderConditions(t *testing.T) {
	f, err := development.NewFamily(simulated.KineticTrial(t, sensito.Process{TemperatureC: 20}), curve.MeasureOptions{})
	require.NoError(t, err)
	p, err := For(f, Scene{Stops: 7})
	require.NoError(t, err)
	a := &Drift{TimePercent: &sensito.Estimate[float64]{Value: 10, StdErr: 2, DoF: 20}, SpeedStops: &sensito.Estimate[float64]{Value: -0.1, StdErr: 0.02, DoF: 20}, Fog: &sensito.Estimate[float64]{Value: 0.03, StdErr: 0.004, DoF: 20}}
	ch, today := changed(t, p, development.Conditions{TemperatureC: new(23.0)})
	both, err := (&Adjustment{Change: ch, Drift: a, Correct: true}).Adjust(p)
	require.NoError(t, err)
	assert.Same(t, p, both.Tested())
	assert.Equal(t, today.Minutes.Value, both.Uncorrected.Minutes.Value, "before the correction, under today's conditions")
	alone, err := (&Adjustment{Drift: a, Correct: true}).Adjust(p)
	require.NoError(t, err)
	assert.InEpsilon(t, 1.1*ch.Factor.Value*float64(p.Minutes.Value), float64(both.Minutes.Value), 1e-9)
	assert.InDelta(t, math.Hypot(float64(today.Minutes.StdErr/today.Minutes.Value), 2.0/110), float64(both.Minutes.StdErr/both.Minutes.Value), 1e-9)
	assert.Equal(t, alone.ExposureIndex.Value, both.ExposureIndex.Value)
	low, high := today.Minutes.Interval(0.95)
	wide, wider := both.Minutes.Interval(0.95)
	assert.Less(t, math.Log(float64(high/low)), math.Log(float64(wider/wide)))

	// A slower film has its speed point, and every tone, further to the right; what
	// is not known of the time is in the contrast index as it is in the densities.
	slower := 0.1 * float64(sensito.Stop)
	assert.InDelta(t, slower, float64(both.SpeedPoint.Value.Sub(p.SpeedPoint.Value)), 1e-12)
	assert.InDelta(t, math.Hypot(float64(p.SpeedPoint.StdErr), 0.02*float64(sensito.Stop)), float64(both.SpeedPoint.StdErr), 1e-12)
	for i := range p.Tones {
		assert.InDelta(t, slower, float64(both.Tones[i].Film.Sub(p.Tones[i].Film)), 1e-12)
		assert.Equal(t, p.Tones[i].Film, today.Tones[i].Film, "conditions alone leave it")
	}
	assert.InDelta(t, slower, float64(both.Ends[0].Film.Sub(p.Ends[0].Film)), 1e-12)
	assert.InDelta(t, 0.03, float64(both.BaseFog.Value-p.BaseFog.Value), 1e-12)
	more := func(sd, was float64) float64 { return math.Sqrt(sd*sd - was*was) }
	assert.InEpsilon(t, more(float64(both.Delivered.StdErr), float64(p.Delivered.StdErr))/float64(p.Delivered.Value),
		more(both.ContrastIndex.StdErr, p.ContrastIndex.StdErr)/p.ContrastIndex.Value, 1e-6)

	// Fog that the process has gained takes from what a scanner bears.
	scan, err := For(f, Scene{Stops: 7, ScanMax: 1.6})
	require.NoError(t, err)
	scanned, err := (&Adjustment{Drift: a, Correct: true}).Adjust(scan)
	require.NoError(t, err)
	assert.Contains(t, codesOf(scanned.Warnings), "scan_fog")
	assert.NotContains(t, codesOf(both.Warnings), "scan_fog")

	// Times of the trial are marked as such, once, also where only the process moved.
	far, err := For(f, Scene{Stops: 5})
	require.NoError(t, err)
	require.True(t, far.Extrapolated)
	for _, by := range []*Adjustment{{Drift: a, Correct: true}, {Change: ch, Drift: a, Correct: true}, {Change: ch}} {
		moved, err := by.Adjust(far)
		require.NoError(t, err)
		i := slices.IndexFunc(moved.Warnings, func(w sensito.Warning) bool { return w.Code == "extrapolated" })
		assert.Equal(t, 1, strings.Count(moved.Warnings[i].Message(), "in times of the trial: "))
	}

	// On a card, too; what would take longer is told for the longest scene alone.
	card, err := NewCard(f, Scene{})
	require.NoError(t, err)
	ch, err = f.Under(development.Conditions{TemperatureC: new(24.0)})
	require.NoError(t, err)
	warm, err := NewCard(f, Scene{Today: Today{Conditions: ch.Conditions}})
	require.NoError(t, err)
	told, first := 0, 0.0
	for i, row := range warm.Rows {
		if row.Answer == nil {
			assert.Nil(t, card.Rows[i].Answer)
			continue
		}
		if first == 0 {
			first = row.Stops
		}
		assert.InEpsilon(t, ch.Factor.Value*float64(card.Rows[i].Answer.Minutes.Value), float64(row.Answer.Minutes.Value), 1e-9)
	}
	for _, w := range warm.Warnings() {
		if w.Code == "longer_time" {
			told++
			assert.Regexp(t, fmt.Sprintf(`^for %g stops: `, first), w.Message())
		}
	}
	assert.Equal(t, 1, told)
}

// Warnings that name times of the trial say so of an answer of today, once,
// whether its bath or its process is another; the answer as tested stays as it was.
func TestWarningsOfTodaysTimes(t *testing.T) {
	f, err := development.NewFamily(simulated.KineticTrial(t, sensito.Process{TemperatureC: 20}), curve.MeasureOptions{})
	require.NoError(t, err)
	drift := &Drift{TimePercent: &sensito.Estimate[float64]{Value: 10, StdErr: 2, DoF: 20}}
	ch, err := f.Under(development.Conditions{TemperatureC: new(22.0)})
	require.NoError(t, err)
	named := func(all sensito.Warnings) (told []string) {
		for _, w := range all {
			if w.Code == "extrapolated" || w.Code == "other_paper" {
				told = append(told, w.Message())
			}
		}
		return told
	}
	short := Scene{Stops: 5}
	p, err := For(f, short)
	require.NoError(t, err)
	r, err := ForRoll(f, Scene{}, []Frame{{Name: "1", Stops: 5}})
	require.NoError(t, err)
	require.Len(t, named(p.Warnings), 2)
	require.Len(t, named(r.Warnings), 1)
	marked := func(was []string) (out []string) {
		for _, w := range was {
			out = append(out, "in times of the trial: "+w)
		}
		return out
	}
	tested, testedRoll := named(p.Warnings), named(r.Warnings)
	for name, a := range map[string]*Adjustment{
		"bath":    {Change: ch},
		"process": {Drift: drift, Correct: true},
		"both":    {Change: ch, Drift: drift, Correct: true},
	} {
		today, err := a.Adjust(p)
		require.NoError(t, err)
		assert.Equal(t, marked(tested), named(today.Warnings), name)
		assert.Equal(t, marked(testedRoll), named(a.roll(r).Warnings), name)
		assert.Equal(t, tested, named(today.Tested().Warnings), name)
		assert.Equal(t, testedRoll, named(a.roll(r).Tested().Warnings), name)
	}
}
