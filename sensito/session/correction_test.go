package session_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/development"
	"sensito/sensito/session"
)

// The bath falls from 22.5 to 21.9 °C at 2:30 of 6:00: about 13 s more, 6 to 21, by a
// coefficient of 2.1 known to 20 %.
func TestCorrectionOfTheExample(t *testing.T) {
	r := start(t, plan(t))
	r.do(60, next)
	assert.Nil(t, r.s.At(at(100)).Correction)
	r.do(60+150, read(21.9))
	st := r.s.At(at(60 + 150))
	c := st.Correction
	require.NotNil(t, c)
	assert.InDelta(t, 13.26, c.More.Seconds(), 0.05)
	assert.InDelta(t, 6.2, c.Low.Seconds(), 0.1)
	assert.InDelta(t, 20.55, c.High.Seconds(), 0.1)
	assert.True(t, c.Wide())
	assert.Equal(t, "From 22.5 °C at pouring in to 21.9 °C at 2:30: 13 seconds more (6 to 21), for the same contrast.", c.Text())
	assert.Equal(t, "3:43", st.RemainingText())
	assert.Equal(t, "Keep agitating. Pour out with 0:10 left, then stop.", st.Says())
	assert.Equal(t, at(60+360), st.Uncorrected())
	r.do(60+373, next)
	st = r.s.At(at(500))
	assert.Equal(t, "The development was worth 7:15 at 20 °C, as planned.", st.WorthText())
	assert.Equal(t, "22.5 to 21.9", st.Temperatures(2))
	d, err := st.Done("warm room")
	require.NoError(t, err)
	six, _ := sensito.ParseFilms("6x 4x5in")
	assert.Equal(t, sensito.Done{Date: "2026-06-04", Planned: 6, PlannedC: 22.5, Minutes: sensito.Minutes(373.0 / 60), TemperatureC: 22.5, EndedC: 21.9, Films: six, Baths: []string{"stop bath", "fixer"}, Note: "warm room"}, d)
}

// totalOf integrates the rate in small steps, by the law of Arrhenius as it is
// written, until the work of the plan is done: seconds.
func totalOf(q10, planned, planC float64, times, celsius []float64) float64 {
	energy := math.Log(q10) / (1/293.15 - 1/303.15)
	rate := func(c float64) float64 { return math.Exp(energy * (1/(planC+273.15) - 1/(c+273.15))) }
	const dt = 0.01
	work := 0.0
	for i := 0; ; i++ {
		at := (float64(i) + 0.5) * dt
		c := celsius[len(celsius)-1]
		for k := 1; k < len(times); k++ {
			if at < times[k] {
				c = celsius[k-1] + (celsius[k]-celsius[k-1])*(at-times[k-1])/(times[k]-times[k-1])
				break
			}
		}
		if work += rate(c) * dt; work >= planned {
			return (float64(i) + 1) * dt
		}
	}
}

func TestCorrectionAgainstTheFormula(t *testing.T) {
	for _, c := range []struct{ times, celsius []float64 }{
		{[]float64{150}, []float64{21.9}},
		{[]float64{60, 180, 300}, []float64{22.2, 21.7, 21.5}},
		{[]float64{30, 90}, []float64{23.5, 24.8}},
		{[]float64{240}, []float64{20}},
		{[]float64{5}, []float64{25.4}},
		{[]float64{100, 101}, []float64{22, 22}},
	} {
		r := start(t, plan(t))
		r.do(60, next)
		for i, s := range c.times {
			r.do(60+s, read(c.celsius[i]))
		}
		got := r.s.At(at(400)).Correction
		require.NotNil(t, got)
		want := totalOf(2.1, 360, 22.5, append([]float64{0}, c.times...), append([]float64{22.5}, c.celsius...))
		assert.InDelta(t, want, got.Total.Seconds(), 0.1, "%v", c)
		assert.InDelta(t, want-360, got.More.Seconds(), 0.1)
		assert.True(t, got.Low <= got.More && got.More <= got.High)
	}
}

// What is read ahead counts from pouring in; the thermometer widens the interval.
func TestCorrectionAhead(t *testing.T) {
	r := start(t, plan(t))
	r.do(20, session.Act{Do: session.DoTemperature, Celsius: 22.1, Step: 2})
	r.do(60, next)
	c := r.s.At(at(61)).Correction
	require.NotNil(t, c)
	assert.InDelta(t, totalOf(2.1, 360, 22.5, []float64{0}, []float64{22.1}), c.Total.Seconds(), 0.1)
	assert.Equal(t, "22.1 °C at pouring in: 11 seconds more (5 to 17), for the same contrast.", c.Text())
	d := sheetOf(t, sensito.Repeating{TemperatureSDC: 0.3}, nil)
	r = start(t, session.NewPlan(d, "a.toml"))
	r.do(20, session.Act{Do: session.DoTemperature, Celsius: 22.1, Step: 2})
	wide := r.s.At(at(61)).Correction
	assert.Equal(t, c.More, wide.More)
	// 0.3 °C at 2.27 % of 6 min each 0.3 °C, two standard deviations, and the coefficient.
	assert.InDelta(t, math.Hypot((c.High-c.More).Seconds(), 1.96*0.3*math.Log(2.1)*0.1017*371), (wide.High - wide.More).Seconds(), 0.3)
}

// Without a drift the planned time stands, whatever the plan; in a colder bath it is
// longer, in a warmer one shorter, and the work that is done at the end is the plan's.
func TestCorrectionKeepsTheWork(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at0 := rapid.Float64Range(16, 27).Draw(t, "plan")
		q10 := rapid.Float64Range(1.4, 3).Draw(t, "q10")
		sheet := sheetOf(t, sensito.Repeating{}, func(s *darkroom.SheetSpec) {
			*s.Under.TemperatureC = at0
			s.Under.Q10 = &q10
			s.Coefficient = development.UnmeasuredCoefficient(s.Trial, s.Under)
		})
		first, err := session.Begin(session.NewPlan(sheet, "a.toml"), noon)
		require.NoError(t, err)
		s, err := session.Replay([]session.Event{first})
		require.NoError(t, err)
		act := func(seconds float64, a session.Act) {
			a.After = s.Number()
			e, err := s.Act(a, at(seconds))
			require.NoError(t, err)
			s, err = s.With(e)
			require.NoError(t, err)
		}
		act(60, next)
		when := rapid.Float64Range(1, 250).Draw(t, "when")
		act(60+when, read(at0))
		still := s.At(at(61)).Correction
		require.InDelta(t, 360, still.Total.Seconds(), 1e-3)
		off := rapid.Float64Range(0.01, 1.5).Draw(t, "off") * rapid.SampledFrom([]float64{-1, 1}).Draw(t, "sign")
		act(60+when+30, read(at0+off))
		one := s.At(at(61)).Correction
		require.Equal(t, off < 0, one.More > 0, "colder is longer")
		act(60+when+40, read(at0+2*off))
		two := s.At(at(61)).Correction
		require.Equal(t, off < 0, two.More > one.More, "further off, further on")
		if two.Total > two.To.In {
			act(60+two.Total.Seconds(), next)
			w := s.At(at(1000)).Worth
			require.InDelta(t, float64(w.Planned), float64(w.Minutes), 1e-4)
		}
	})
}

// A plan of which the bath drifts has the mean of the rates for its work.
func TestPlannedDrift(t *testing.T) {
	end := 21.0
	r := start(t, session.NewPlan(sheetOf(t, sensito.Repeating{}, func(s *darkroom.SheetSpec) { s.Under.EndC = &end }), "a.toml"))
	r.do(60, next)
	st := r.s.At(at(70))
	assert.Equal(t, 360*time.Second, st.Now().Lasts)
	r.do(420, next)
	assert.True(t, r.s.At(at(421)).Worth.AsPlanned())
	early := start(t, r.s.Plan())
	early.do(60, next)
	early.do(360, next)
	rate := func(c float64) float64 { return math.Pow(2.1, (1/293.15-1/(c+273.15))/(1/293.15-1/303.15)) }
	w := early.s.At(at(400)).Worth
	assert.InDelta(t, 5*(rate(22.5)+4*rate(21.875)+rate(21.25))/6, float64(w.Minutes), 1e-4, "5:00 of the drift, at 20 °C")
	assert.Equal(t, "worth 5:46 at 20 °C, 1:05 less than planned", w.Text())
	r.do(421, back)
	r.do(421, read(21))
	c := r.s.At(at(422)).Correction
	require.NotNil(t, c)
	assert.InDelta(t, 0, c.More.Seconds(), 1.1, "it ended where it was to end, a second late")
}
