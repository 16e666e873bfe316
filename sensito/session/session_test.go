package session_test

import (
	"encoding/json"
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

// noon is when the sessions of the tests begin.
var noon = time.Date(2026, 6, 4, 14, 2, 0, 0, time.UTC)

// usual are the steps of a session, in which the development is the second.
func usual() []darkroom.ProcessStep {
	return []darkroom.ProcessStep{
		{Name: "Pre-soak", Bath: darkroom.Bath{Name: "water"}, Minutes: 1, Dark: true, Agitation: "continuous", DrainSeconds: 10},
		{Name: "Develop", From: darkroom.TimeFromPlan, Dark: true, DrainSeconds: 10},
		{Name: "Stop", Bath: darkroom.Bath{Name: "stop bath", Dilution: "1+19"}, Minutes: 0.5, Dark: true, Agitation: "continuous", DrainSeconds: 5},
		{Name: "Fix", Bath: darkroom.Bath{Name: "fixer", Dilution: "1+4", Capacity: "20 films/l", Mixed: "2026-06-01"}, From: darkroom.TimeFromClearing, Dark: true, Agitation: "30 s, then 5 s each minute", DrainSeconds: 10},
		{Name: "Rinse", Bath: darkroom.Bath{Name: "water"}, Minutes: 0.5},
		{Name: "Wash", Bath: darkroom.Bath{Name: "running water"}, Minutes: 10},
		{Name: "Dry", Note: "hang it free of dust"},
	}
}

// sheetOf returns a sheet of 6:00 at 22.5 °C, for a film tested at 20 °C.
func sheetOf(t require.TestingT, repeating sensito.Repeating, change func(*darkroom.SheetSpec), steps ...darkroom.ProcessStep) *darkroom.Sheet {
	e, err := sensito.NewContact(2, 0.5, sensito.EvenWedge(0, 1, 4))
	require.NoError(t, err)
	films, err := sensito.ParseFilms("6x 4x5in")
	require.NoError(t, err)
	trial, err := sensito.NewTrial(sensito.TrialSpec{
		Title: "Larkfield 125 in Brinewater 1+19", Film: sensito.Film{Name: "Larkfield 125", RatedSpeed: 125}, Repeating: repeating,
		Process:   sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20, Agitation: sensito.AgitationContinuous},
		Exposures: e, Strips: []sensito.StripSpec{{Minutes: 5, Density: []sensito.Density{1.5, 1, 0.5, 0.1}}},
		Done: []sensito.Done{{Date: "2026-06-02", Minutes: 6, Films: films}},
	})
	require.NoError(t, err)
	if steps == nil {
		steps = usual()
	}
	p, err := darkroom.NewProcedure(darkroom.ProcedureSpec{Steps: steps})
	require.NoError(t, err)
	at := 22.5
	vessel, err := darkroom.ParseVessel("tray 1000ml")
	require.NoError(t, err)
	spec := darkroom.SheetSpec{Procedure: p, Date: "2026-06-04", Films: films, Vessel: vessel, Under: development.Conditions{TemperatureC: &at}}.Chosen(trial, 6)
	if change != nil {
		change(&spec)
	}
	s, err := darkroom.NewSheet(spec)
	require.NoError(t, err)
	return s
}

// run is a session to which things happen.
type run struct {
	t *testing.T
	s *session.Session
}

func start(t *testing.T, plan session.Plan) *run {
	t.Helper()
	e, err := session.Begin(plan, noon)
	require.NoError(t, err)
	s, err := session.Replay([]session.Event{e})
	require.NoError(t, err)
	return &run{t, s}
}

// do acts so many seconds after noon.
func (r *run) do(after float64, a session.Act) {
	r.t.Helper()
	if a.After == 0 {
		a.After = r.s.Number()
	}
	e, err := r.s.Act(a, at(after))
	require.NoError(r.t, err)
	r.s, err = r.s.With(e)
	require.NoError(r.t, err)
}

func (r *run) fails(after float64, a session.Act) string {
	r.t.Helper()
	if a.After == 0 {
		a.After = r.s.Number()
	}
	_, err := r.s.Act(a, at(after))
	require.Error(r.t, err)
	return err.Error()
}

func at(seconds float64) time.Time {
	return noon.Add(time.Duration(seconds * float64(time.Second)))
}

func plan(t require.TestingT) session.Plan {
	return session.NewPlan(sheetOf(t, sensito.Repeating{}, nil), "larkfield-brinewater.toml")
}

var (
	next = session.Act{Do: session.DoNext}
	back = session.Act{Do: session.DoUndo}
)

func read(celsius float64) session.Act {
	return session.Act{Do: session.DoTemperature, Celsius: celsius}
}

// A reading that the film cannot well have is asked for again, and counts when it is
// the same; another one in its place is judged for itself.
func TestQuestioned(t *testing.T) {
	r := start(t, plan(t))
	r.do(60, next)
	r.do(120, read(19.4))
	st := r.s.At(at(121))
	require.NotNil(t, st.Question)
	assert.Equal(t, session.Question{Celsius: 19.4, Last: 22.5, Far: true}, *st.Question)
	assert.Equal(t, "19.4 °C is more than 3 °C from the 22.5 °C of before. Read the thermometer again and key in what you find; the same again counts.", st.Question.Text())
	assert.Nil(t, st.Correction)
	r.do(130, read(22.4))
	st = r.s.At(at(131))
	assert.Nil(t, st.Question)
	assert.Len(t, st.Steps[1].Readings, 1)
	r.do(140, read(30.5))
	r.do(150, read(30.5))
	st = r.s.At(at(151))
	assert.Nil(t, st.Question)
	require.NotNil(t, st.Correction)
	assert.Equal(t, session.Reading{In: 90 * time.Second, Celsius: 30.5}, st.Correction.To, "from when it was read again")
	r.do(152, back)
	st = r.s.At(at(153))
	require.NotNil(t, st.Question)
	assert.Equal(t, 30.5, st.Question.Celsius)
	r.do(154, next)
	assert.Nil(t, r.s.At(at(155)).Question)
	assert.Contains(t, r.fails(156, read(68)), "temperature 68 °C is outside 1 to 60 °C")
	assert.Contains(t, r.fails(156, session.Act{Do: session.DoTemperature, Celsius: 20, Step: 2}), "step 2 is neither the one that runs nor the development to come")
}

func TestQuestionedOutsideTheUsual(t *testing.T) {
	r := start(t, session.NewPlan(sheetOf(t, sensito.Repeating{}, func(s *darkroom.SheetSpec) { *s.Under.TemperatureC = 29 }), "a.toml"))
	r.do(60, next)
	r.do(90, read(30.2))
	st := r.s.At(at(91))
	require.NotNil(t, st.Question)
	assert.False(t, st.Question.Far)
	assert.Contains(t, st.Question.Text(), "30.2 °C is outside the 13 to 30 °C of hand processing.")
}

// Under 15 s left there is nothing to correct any more.
func TestPourOutNow(t *testing.T) {
	r := start(t, plan(t))
	r.do(60, next)
	r.do(60+338, read(23.4))
	st := r.s.At(at(60 + 338))
	require.NotNil(t, st.Correction)
	assert.True(t, st.Correction.Late)
	assert.Equal(t, "Pour out now, then stop.", st.Says())
	cues := session.Schedule(st)
	require.NotEmpty(t, cues)
	assert.Equal(t, session.PourOut, cues[0].Kind)
	assert.Less(t, cues[0].In, 5*time.Second)

	r = start(t, plan(t))
	r.do(60, next)
	r.do(60+200, read(23.4))
	c := r.s.At(at(60 + 200)).Correction
	assert.False(t, c.Late)
	assert.Equal(t, "Pour out now, then stop.", r.s.At(at(60+c.Total.Seconds()-9)).Says(), "the drain")
	assert.Contains(t, r.s.At(at(60+c.Total.Seconds()-11)).Says(), "Pour out with 0:10 left")
}

// The time of a step goes on past its end until a hand goes on.
func TestOver(t *testing.T) {
	r := start(t, plan(t))
	st := r.s.At(at(72))
	assert.Equal(t, "0:12 over", st.RemainingText())
	assert.Equal(t, "The time is up: develop, Brinewater 1+19. Go on when it is in.", st.Says())
	assert.True(t, st.Dark())
	assert.Equal(t, "Dark", st.LightWord())
	assert.Equal(t, 1, st.Running)
	r.do(75, next)
	assert.Equal(t, 2, r.s.At(at(76)).Running)
	assert.Equal(t, 75*time.Second, r.s.At(at(76)).Steps[0].Elapsed)
}

// Film is fixed for twice the clearing time, which is keyed in; a fixer that takes
// twice as long as it did when it was fresh is spent (NAVEDTRA 14209, 10-7).
func TestClearing(t *testing.T) {
	steps := usual()
	steps[3].Clearing = 0.75
	for _, c := range []struct {
		fresh   bool
		cleared sensito.Minutes
		lasts   time.Duration
		says    string
	}{
		{true, sensito.Minutes(50. / 60), 100 * time.Second, "The fixer, mixed 2026-06-01, has had 3 of 20 films. Fresh it cleared film in 0:45: discard it when it takes 1:30."},
		{true, 1.5, 180 * time.Second, "The fixer, mixed 2026-06-01, has had 3 of 20 films. Film cleared in 1:30, fresh it was 0:45: discard the fixer, and fix this film again in fresh."},
		{false, 1.5, 180 * time.Second, "The fixer, mixed 2026-06-01, has had 3 of 20 films."},
	} {
		p := plan(t)
		if c.fresh {
			p = session.NewPlan(sheetOf(t, sensito.Repeating{}, nil, steps...), "a.toml")
		}
		r := start(t, p)
		assert.Contains(t, r.fails(1, session.Act{Do: session.DoClearing, Clearing: 1}), "no film clears in this step, Pre-soak")
		for _, s := range []float64{60, 420, 450} {
			r.do(s, next)
		}
		st := r.s.At(at(455))
		assert.True(t, st.AsksClearing())
		if left, known := st.Remaining(); c.fresh {
			assert.Equal(t, 85*time.Second, left)
		} else {
			assert.False(t, known)
			assert.Equal(t, "0:05 so far", st.RemainingText())
			assert.Equal(t, "Agitate. Key in after how long the film is clear; it stays for twice that, then rinse.", st.Says())
		}
		assert.Contains(t, r.fails(460, session.Act{Do: session.DoClearing, Clearing: 500}), "outside 0:03 to 2 hours")
		r.do(540, session.Act{Do: session.DoClearing, Clearing: c.cleared})
		st = r.s.At(at(541))
		assert.Equal(t, c.lasts, st.Steps[3].Lasts)
		assert.False(t, st.AsksClearing())
		assert.Equal(t, c.says, st.FixerText())
		r.do(545, back)
		assert.True(t, r.s.At(at(546)).AsksClearing())
	}
}

// A double tap does not skip a step; a temperature of the same step is still taken.
func TestStale(t *testing.T) {
	r := start(t, plan(t))
	r.do(60, session.Act{Do: session.DoNext, After: 1})
	assert.Equal(t, "not done: something else was done at 14:03:00, and it is now Develop; look, and do it again if it is still meant",
		r.fails(60.2, session.Act{Do: session.DoNext, After: 1}))
	r.do(70, read(22.4))
	r.do(80, session.Act{Do: session.DoTemperature, Celsius: 22.3, After: 2})
	assert.Equal(t, []session.Reading{{In: 10 * time.Second, Celsius: 22.4}, {In: 20 * time.Second, Celsius: 22.3}}, r.s.At(at(81)).Steps[1].Readings)
	assert.Contains(t, r.fails(81, session.Act{Do: session.DoTemperature, Celsius: 22.3, After: 1}), "it is now Develop")
	assert.Contains(t, r.fails(81, session.Act{Do: session.DoUndo, After: 3}), "it is now Develop")
	assert.Contains(t, r.fails(81, session.Act{Do: session.DoNext, After: 9}), "event 9 is none of this session, which has 4")
	assert.Contains(t, r.fails(81, session.Act{Do: "dance"}), "is unknown")
}

// An act is known again by its ID, where it does the same, also once it was taken back.
func TestHas(t *testing.T) {
	r := start(t, plan(t))
	r.do(60, session.Act{Do: session.DoNext, ID: "A1"})
	r.do(70, session.Act{Do: session.DoTemperature, Celsius: 22.4, ID: "A2"})
	again := []session.Act{{Do: session.DoNext, After: 1, ID: "A1"}, {Do: session.DoTemperature, Celsius: 22.4, ID: "A2"}, {Do: session.DoTemperature, Step: 2, Celsius: 22.4, ID: "A2"}}
	for _, a := range again {
		assert.True(t, r.s.Has(a), a)
	}
	for _, a := range []session.Act{{Do: session.DoNext, After: 1}, {Do: session.DoNext, ID: "A2"}, {Do: session.DoNext, ID: "A3"}, {Do: session.DoStart},
		{Do: session.DoTemperature, Celsius: 22.3, ID: "A2"}, {Do: session.DoTemperature, Step: 1, Celsius: 22.4, ID: "A2"}} {
		assert.False(t, r.s.Has(a), a)
	}
	r.do(80, back)
	assert.True(t, r.s.Has(again[1]))
	assert.Contains(t, r.fails(90, session.Act{Do: session.DoNext, ID: "no ID"}), `event 5 has the ID "no ID"`)
}

// Every act can be taken back, down to the start.
func TestUndo(t *testing.T) {
	r := start(t, plan(t))
	assert.Equal(t, "nothing has been done yet that could be taken back", r.fails(1, back))
	r.do(60, next)
	r.do(70, read(22))
	r.do(80, next)
	r.do(81, back)
	st := r.s.At(at(90))
	assert.Equal(t, 2, st.Running)
	assert.Equal(t, 30*time.Second, st.Now().Elapsed, "its time ran on")
	assert.NotNil(t, st.Correction)
	r.do(91, back)
	assert.Nil(t, r.s.At(at(92)).Correction)
	r.do(93, back)
	assert.Equal(t, 1, r.s.At(at(94)).Running)
	assert.Contains(t, r.fails(95, back), "nothing")
	r.do(96, session.Act{Do: session.DoEnd})
	assert.True(t, r.s.Over())
	assert.Contains(t, r.fails(97, next), "the session is over")
	r.do(98, back)
	assert.False(t, r.s.Over())
	r.do(99, session.Act{Do: session.DoEnd})
	_, err := r.s.At(at(100)).Done("")
	assert.EqualError(t, err, "the development has not ended, so there is nothing to log yet")
	r.do(101, session.Act{Do: session.DoClose})
	assert.True(t, r.s.Closed())
	assert.Contains(t, r.fails(102, back), "nothing")
}

// acts draws what may happen, sensible or not.
func acts(t *rapid.T) session.Act {
	return session.Act{
		Do:       rapid.SampledFrom([]session.Do{session.DoNext, session.DoNext, session.DoTemperature, session.DoTemperature, session.DoUndo, session.DoClearing, session.DoEnd, session.DoClose}).Draw(t, "do"),
		Celsius:  rapid.Float64Range(10, 32).Draw(t, "celsius"),
		Step:     rapid.SampledFrom([]int{0, 0, 0, 2}).Draw(t, "step"),
		Clearing: sensito.Minutes(rapid.Float64Range(0, 3).Draw(t, "clearing")),
	}
}

// Whatever is done, the events as they are kept give the same states again; times
// and numbers rise, what was refused left nothing behind, and Schedule and the
// sentences always have something to say.
func TestReplay(t *testing.T) {
	p := plan(t)
	rapid.Check(t, func(t *rapid.T) {
		first, err := session.Begin(p, noon)
		require.NoError(t, err)
		s, err := session.Replay([]session.Event{first})
		require.NoError(t, err)
		now := 0.0
		for range rapid.IntRange(0, 25).Draw(t, "acts") {
			now += rapid.Float64Range(-5, 300).Draw(t, "later")
			a := acts(t)
			a.After = s.Number() - rapid.SampledFrom([]int{0, 0, 0, 1}).Draw(t, "behind")
			e, err := s.Act(a, at(now))
			if err != nil {
				continue
			}
			before := s.At(at(1e5))
			after, err := s.With(e)
			require.NoError(t, err)
			require.Equal(t, before, s.At(at(1e5)), "a session is not changed")
			s = after
		}
		events := s.Events()
		text, err := json.Marshal(events)
		require.NoError(t, err)
		var kept []session.Event
		require.NoError(t, json.Unmarshal(text, &kept))
		again, err := session.Replay(kept)
		require.NoError(t, err)
		for _, seconds := range []float64{0, now, now + 100} {
			want, got := s.At(at(seconds)), again.At(at(seconds))
			wantText, err := json.Marshal(want)
			require.NoError(t, err)
			gotText, err := json.Marshal(got)
			require.NoError(t, err)
			require.Equal(t, string(wantText), string(gotText))
			require.NotEmpty(t, got.Says())
			last := time.Duration(0)
			for _, c := range session.Schedule(got) {
				require.GreaterOrEqual(t, c.In, last)
				last = c.In
			}
		}
		for i, e := range events {
			require.Equal(t, i+1, e.Number)
			require.False(t, i > 0 && e.At.Before(events[i-1].At))
		}
	})
}

func TestPlanChecked(t *testing.T) {
	_, err := session.Begin(session.Plan{Date: "2026-06-04"}, noon)
	assert.ErrorContains(t, err, "steps: 0 are outside 1 to 24")
	p := plan(t)
	p.Steps[1].Minutes = sensito.Minutes(math.NaN())
	p.Developer = 9
	_, err = session.Begin(p, noon)
	assert.ErrorContains(t, err, "developer: 9 is outside 1 to 7")
	assert.ErrorContains(t, err, "steps[2].minutes: NaN min is outside")
	e, err := session.Begin(plan(t), noon)
	require.NoError(t, err)
	e.Schema = "sensito/session/2"
	_, err = session.Replay([]session.Event{e})
	assert.EqualError(t, err, `schema "sensito/session/2" is not "sensito/session/1": the session was written by another version of sensito`)
}
