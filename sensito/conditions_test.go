package sensito

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseTemperature(t *testing.T) {
	for text, want := range map[string]float64{"22.5": 22.5, "22,5": 22.5, "22.5 C": 22.5, "22.5 °C": 22.5, " 20c ": 20, "68F": 20, "72.5 F": 22.5, "77 °f": 25} {
		got, err := ParseTemperature(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want, got, 1e-12, text)
	}
	for _, text := range []string{"", "warm", "20 K", "20.", "2e1", "20 C F", "NaN"} {
		_, err := ParseTemperature(text)
		assert.ErrorContains(t, err, "is not a temperature like 22.5 or 72F", text)
	}
	_, err := ParseTemperature("72")
	assert.ErrorContains(t, err, "write 72F for Fahrenheit")
	for text, want := range map[string]string{"32F": "temperature 0 °C", "0": "temperature 0 °C", "-4 F": "temperature -20 °C", "1000 F": "temperature 537.8 °C"} {
		_, err := ParseTemperature(text)
		assert.EqualError(t, err, `"`+text+`": `+want+" is outside 1 to 60 °C")
	}
}

// reference reads a table of published numbers as text.
func reference(t *testing.T, name string) []map[string]string {
	f, err := os.Open("../testdata/reference/" + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	all, err := r.ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for j, key := range all[0] {
			m[key] = row[j]
		}
		out = append(out, m)
	}
	return out
}

func figure(t *testing.T, text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

func meanAndSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

// The usual coefficient is the geometric mean of the developers with published
// times at several temperatures, one value each.
func TestUsualCoefficient(t *testing.T) {
	var pairs []float64
	for _, row := range reference(t, "push_and_temperature_pairs_datasheet.csv") {
		if row["t_23.9C_min"] != "" {
			pairs = append(pairs, math.Log(figure(t, row["t_20C_min"])/figure(t, row["t_23.9C_min"]))/0.38889)
		}
	}
	require.Len(t, pairs, 32)
	onePair, _ := meanAndSD(pairs)
	developers := []float64{onePair,
		math.Log(1.916),     // US Air Force T.O. 33B-1-1, table 6-16; see the test of the law of Arrhenius
		math.Log(1.40) / .7, // Ives 1920, a factor of 1.40 for 7 degrees
		math.Log(2.0) / .7,  // Ives 1920
	}
	rotary := map[string][]float64{}
	for _, row := range reference(t, "time_temperature_rotary_datasheet.csv") {
		rotary[row["developer"]] = append(rotary[row["developer"]], -10*figure(t, row["slope_ln_per_C"]))
	}
	for _, lns := range rotary {
		mean, _ := meanAndSD(lns)
		developers = append(developers, mean)
	}
	require.Len(t, developers, 9)
	mean, sd := meanAndSD(developers)
	assert.InDelta(t, DefaultQ10, math.Exp(mean), 0.05)
	assert.InDelta(t, defaultQ10SD, sd, 0.02)
	low, high := (&Family{Trial: &Trial{}}).Coefficient().Q10.Interval(0.95)
	assert.InDelta(t, 1.42, low, 0.01)
	assert.InDelta(t, 3.11, high, 0.01)
}

// The usual power of dilution covers what the data sheet shows from one dilution
// to the next, and is the slope over all of its developer T.
func TestUsualDilution(t *testing.T) {
	type series struct{ lnVolume, lnTime []float64 }
	all := map[string]*series{}
	for _, row := range reference(t, "dilution_rotary_datasheet.csv") {
		n := figure(t, row["water_parts_per_part"])
		if n == 0 { // undiluted working solution, no concentrate
			continue
		}
		key := row["developer"] + row["film"]
		if all[key] == nil {
			all[key] = &series{}
		}
		all[key].lnVolume = append(all[key].lnVolume, math.Log(1+n))
		all[key].lnTime = append(all[key].lnTime, math.Log(figure(t, row["time_min_75F"])))
	}
	require.Len(t, all, 4)
	var slopes []float64
	inside, steps := 0, 0
	for key, s := range all {
		mx, _ := meanAndSD(s.lnVolume)
		my, _ := meanAndSD(s.lnTime)
		var xy, xx float64
		for i := range s.lnVolume {
			xy += (s.lnVolume[i] - mx) * (s.lnTime[i] - my)
			xx += (s.lnVolume[i] - mx) * (s.lnVolume[i] - mx)
			if i > 0 {
				steps++
				power := (s.lnTime[i] - s.lnTime[i-1]) / (s.lnVolume[i] - s.lnVolume[i-1])
				if math.Abs(power-dilutionPower) < 1.96*dilutionPowerSD {
					inside++
				}
			}
		}
		if key[0] == 'T' {
			slopes = append(slopes, xy/xx)
		}
	}
	mean, _ := meanAndSD(slopes)
	assert.InDelta(t, dilutionPower, mean, 0.03)
	assert.Equal(t, steps, inside, "dilutions next to each other within the interval")
}

// tried returns a plan that takes so many minutes in a trial of the process.
func tried(process Process, minutes float64) *Plan {
	f := &Family{Trial: &Trial{process: process}}
	p := &Plan{Family: f, base: timeBase{minutes: minutes, total: 0.01, sd: 0.01, dof: math.Inf(1),
		limits: func(float64) (float64, float64, bool) { return 0, 0, false }}}
	p.Minutes = p.base.estimate(minutes, 0.01, 0, math.Inf(1))
	return p
}

func changed(t *testing.T, p *Plan, c Conditions) (*Change, *Plan) {
	ch, err := p.Family.Under(c)
	require.NoError(t, err)
	out, err := ch.Plan(p)
	require.NoError(t, err)
	return ch, out
}

func codesOf(all []Warning) []string {
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
	intermittent, continuous := Process{Agitation: AgitationIntermittent, TemperatureC: 20}, Process{Agitation: AgitationContinuous}
	for _, c := range []struct {
		name     string
		of       Process
		minutes  float64
		to       Agitation
		want     float64
		warnings []string
	}{
		{"intermittent to continuous", intermittent, 10, AgitationContinuous, 8.5, []string{"agitation_guessed"}},
		{"to continuous, which is then short", intermittent, 5.5, AgitationContinuous, 4.675, []string{"short_time", "longer_time", "agitation_guessed"}},
		{"continuous to intermittent", continuous, 8.5, AgitationIntermittent, 10, []string{"agitation_guessed"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			ch, p := changed(t, tried(c.of, c.minutes), Conditions{Agitation: c.to})
			assert.InDelta(t, c.want, float64(p.Minutes.Value), 1e-12, "%g min become", c.minutes)
			assert.Equal(t, c.warnings, codesOf(p.Warnings), "warnings of the new time")
			require.NotNil(t, ch.Agitation, "the change says what agitation does")
			assert.False(t, ch.Agitation.Measured, "no strip measured it")
			low, high := ch.Agitation.Factor.Interval(0.95)
			if c.to == AgitationIntermittent {
				low, high = 1/high, 1/low
			}
			assert.InDelta(t, 0.80, low, 0.005, "least factor of continuous agitation, at 95 %%")
			assert.InDelta(t, 0.90, high, 0.005, "largest factor")
			for _, w := range p.Warnings {
				if w.Code == "longer_time" {
					assert.Equal(t, "at 19 °C it would take about 5:05", w.Message)
				}
			}
		})
	}

	_, err := tried(intermittent, 10).Family.Under(Conditions{Agitation: AgitationNone})
	u := &Unanswerable{}
	require.ErrorAs(t, err, &u, "to no agitation")
	assert.Equal(t, `develop a strip with no agitation, its time among those of the others, and add it to the trial with agitation = "none"`, u.Hint, "to no agitation")
	_, err = tried(Process{}, 10).Family.Under(Conditions{Agitation: AgitationContinuous})
	assert.ErrorContains(t, err, "does not say how its strips were agitated", "of a trial that does not say")
}

func TestDilutionFactor(t *testing.T) {
	ch, p := changed(t, tried(Process{Dilution: "1+19"}, 10), Conditions{Dilution: "1+31"})
	assert.InDelta(t, 10*math.Pow(1.6, 0.75), float64(p.Minutes.Value), 1e-12)
	assert.InDelta(t, 0.3*math.Log(1.6), ch.Dilution.Factor.StdErr/ch.Dilution.Factor.Value, 1e-12)
	assert.Equal(t, []string{"dilution_guessed"}, codesOf(p.Warnings))
	for _, c := range [][2]string{{"1+19", "stock"}, {"stock", "1+1"}, {"1+19", "1+99"}, {"1+19", "1+4"}} {
		_, err := tried(Process{Dilution: c[0]}, 10).Family.Under(Conditions{Dilution: c[1]})
		assert.ErrorContains(t, err, "nothing is known of the time at "+c[1], c)
	}
	_, err := tried(Process{}, 10).Family.Under(Conditions{Dilution: "1+31"})
	assert.ErrorContains(t, err, "does not say how its developer was diluted")
	_, err = tried(Process{Dilution: "1+19"}, 10).Family.Under(Conditions{Dilution: "1:31"})
	assert.ErrorContains(t, err, "not of the form 1+19")
}

// A steady temperature, by exact arithmetic (the table of equivalent times is
// checked in package fit), and a drift against a sum of short steps.
func TestTemperatureTimes(t *testing.T) {
	at20 := Process{TemperatureC: 20}
	_, p := changed(t, tried(at20, 10), Conditions{TemperatureC: new(24.0), Q10: new(2.0), Q10SD: new(0.1)})
	assert.InDelta(t, 7.536274, float64(p.Minutes.Value), 1e-5, "development notes, q10 2 at 24 degrees")
	assert.InDelta(t, math.Hypot(0.01, 0.1/2*math.Log(10/7.536274)/math.Ln2), float64(p.Minutes.StdErr/p.Minutes.Value), 1e-6, "that of the coefficient, for 4 of 10 degrees")
	_, p = changed(t, tried(at20, 10), Conditions{TemperatureC: new(20.0)})
	assert.InDelta(t, 10, float64(p.Minutes.Value), 1e-12)
	assert.Empty(t, p.Warnings)

	for _, c := range []Conditions{{TemperatureC: new(20.0), EndC: new(24.0), Q10: new(2.8)}, {TemperatureC: new(24.0), EndC: new(17.0), Q10: new(1.6)}, {TemperatureC: new(13.0), EndC: new(30.0), Q10: new(2.1)}} {
		ch, p := changed(t, tried(at20, 10), c)
		minutes, done := float64(p.Minutes.Value), 0.0
		const n = 20000
		for i := range n {
			celsius := *c.TemperatureC + (*c.EndC-*c.TemperatureC)*(float64(i)+0.5)/n
			rate := math.Exp(math.Log(*c.Q10) * (1/293.15 - 1/(celsius+273.15)) / (1/293.15 - 1/303.15))
			done += rate * minutes / n
		}
		assert.InDelta(t, 10, done, 1e-6, "the integrated rate, in minutes at 20 degrees")
		_, steady := changed(t, tried(at20, 10), Conditions{TemperatureC: new(ch.SteadyC), Q10: c.Q10, Forced: true})
		assert.InDelta(t, minutes, float64(steady.Minutes.Value), 1e-9)
	}

	_, p = changed(t, tried(at20, 10), Conditions{TemperatureC: new(17.5)})
	assert.Equal(t, []string{"temperature_unusual"}, codesOf(p.Warnings))
	_, p = changed(t, tried(at20, 10), Conditions{TemperatureC: new(24.0), EndC: new(18.0)})
	assert.Empty(t, p.Warnings)
	_, err := tried(Process{}, 10).Family.Under(Conditions{TemperatureC: new(22.0)})
	assert.ErrorContains(t, err, "does not say at which temperature")
}

// Below 13 and above 30 degrees no time is told unless forced.
func TestTemperatureLimits(t *testing.T) {
	f := tried(Process{TemperatureC: 20}, 10).Family
	for c, reason := range map[Conditions]string{
		{TemperatureC: new(12.9)}:                                 "12.9 °C is below 13 °C",
		{TemperatureC: new(30.1)}:                                 "30.1 °C is above 30 °C",
		{TemperatureC: new(22.0), EndC: new(31.0)}:                "31 °C is above 30 °C",
		{TemperatureC: new(12.0), EndC: new(22.0)}:                "12 °C is below 13 °C",
		{TemperatureC: new(20.0), Q10: new(9.0)}:                  "q10: 9 is outside 1.1 to 6",
		{TemperatureC: new(20.0), Q10SD: new(1.0)}:                "q10_sd: goes with q10",
		{TemperatureC: new(0.0)}:                                  "temperature 0 °C is outside 1 to 60 °C",
		{TemperatureC: new(20.0), EndC: new(0.0)}:                 "temperature 0 °C is outside 1 to 60 °C",
		{TemperatureC: new(20.0), Q10: new(0.0)}:                  "q10: 0 is outside 1.1 to 6",
		{TemperatureC: new(20.0), Q10: new(2.0), Q10SD: new(0.0)}: "q10_sd: 0 is not above 0 and at most half of q10, 1",
		{EndC: new(22.0)}:                                         "goes with one at the start",
		{TemperatureC: new(70.0)}:                                 "outside 1 to 60 °C",
		{Agitation: "wild"}:                                       "not continuous, intermittent or none",
		{TemperatureC: new(math.NaN())}:                           "outside 1 to 60",
		{TemperatureC: new(0.5)}:                                  "outside 1 to 60",
		{TemperatureC: new(20.0), Q10: new(-2.0)}:                 "outside 1.1 to 6",
		{TemperatureC: new(20.0), Dilution: "x"}:                  "not of the form",
	} {
		_, err := f.Under(c)
		assert.ErrorContains(t, err, reason)
	}
	u := &Unanswerable{}
	_, err := f.Under(Conditions{TemperatureC: new(12.0)})
	require.ErrorAs(t, err, &u)
	assert.Equal(t, "warm the bath to between 18 and 24 °C; --force-temperature tells a time all the same", u.Hint)
	for _, c := range []Conditions{{TemperatureC: new(13.0)}, {TemperatureC: new(30.0)}, {TemperatureC: new(12.0), Forced: true}, {TemperatureC: new(35.0), Forced: true}} {
		ch, err := f.Under(c)
		require.NoError(t, err)
		assert.Equal(t, []string{"temperature_unusual"}, codesOf(ch.Warnings))
	}
}

// The process of today by a control log and the conditions of today go together.
func TestAgeingUnderConditions(t *testing.T) {
	f := kineticFamily(t)
	f.Trial.process.TemperatureC = 20
	p, err := f.For(Scene{Stops: 7})
	require.NoError(t, err)
	a := &Ageing{TimePercent: &Estimate[float64]{Value: 10, StdErr: 2, DoF: 20}, SpeedStops: &Estimate[float64]{Value: -0.1, StdErr: 0.02, DoF: 20}}
	ch, today := changed(t, p, Conditions{TemperatureC: new(23.0)})
	both := a.Plan(today)
	assert.InEpsilon(t, 1.1*ch.Factor.Value*float64(p.Minutes.Value), float64(both.Minutes.Value), 1e-9)
	assert.InDelta(t, math.Hypot(float64(today.Minutes.StdErr/today.Minutes.Value), 2.0/110), float64(both.Minutes.StdErr/both.Minutes.Value), 1e-9)
	assert.Equal(t, a.Plan(p).ExposureIndex.Value, both.ExposureIndex.Value)
	low, high := today.Minutes.Interval(0.95)
	wide, wider := both.Minutes.Interval(0.95)
	assert.Less(t, math.Log(float64(high/low)), math.Log(float64(wider/wide)))

	// On a card, too; what would take longer is told for the longest scene alone.
	card, err := f.Card(Scene{})
	require.NoError(t, err)
	ch, err = f.Under(Conditions{TemperatureC: new(24.0)})
	require.NoError(t, err)
	warm, err := ch.Card(card)
	require.NoError(t, err)
	assert.Same(t, ch, warm.Under)
	told, first := 0, 0.0
	for i, row := range a.Card(warm).Rows {
		if row.Plan == nil {
			assert.Nil(t, card.Rows[i].Plan)
			continue
		}
		if first == 0 {
			first = row.Stops
		}
		assert.InEpsilon(t, 1.1*ch.Factor.Value*float64(card.Rows[i].Plan.Minutes.Value), float64(row.Plan.Minutes.Value), 1e-9)
	}
	for _, w := range warm.Warnings() {
		if w.Code == "longer_time" {
			told++
			assert.Regexp(t, fmt.Sprintf(`^for %g stops: `, first), w.Message)
		}
	}
	assert.Equal(t, 1, told)
}

// FuzzTemperature: a temperature read is finite and reads the same when it is
// written again; anything else is refused by name.
func FuzzTemperature(f *testing.F) {
	for _, seed := range []string{"22.5", "72F", "72.5 °F", "-4 f", "20,0 C", "72", "", "99999999999999999999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseTemperature(text)
		if err != nil {
			assert.Zero(t, c)
			return
		}
		require.False(t, math.IsInf(c, 0) || math.IsNaN(c), text)
		again, err := ParseTemperature(strconv.FormatFloat(c, 'f', -1, 64) + " C")
		require.NoError(t, err)
		assert.Equal(t, c, again)
	})
}
