package browsertest

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/sessions"
	"sensito/sensito/session"
)

// toBegin asks for a session of which a temperature corrects the time.
const toBegin = "/session?trial=larkfield-brinewater&minutes=6:00&at=22.5"

// begun pours in, and returns the ID of the session.
func (w *wound) begun(b *tab) string {
	w.t.Helper()
	b.open(w.base + toBegin)
	b.click(`main button.first`)
	b.await(`document.querySelector('#now') && !document.querySelector('#dark').hidden`)
	_, id, ok := strings.Cut(b.address(), "/session/")
	require.True(w.t, ok, b.address())
	return id
}

// kept returns the session as the file has it.
func (s *server) kept(id string) *session.Session {
	s.t.Helper()
	one, err := sessions.Read(s.dir, id)
	require.NoError(s.t, err)
	return one
}

// number waits until the file of a session has so many events.
func (s *server) number(id string, n int) {
	s.t.Helper()
	for end := time.Now().Add(patience / 2); s.kept(id).Number() != n; time.Sleep(10 * time.Millisecond) {
		require.True(s.t, time.Now().Before(end), "%v", s.kept(id).Events())
	}
}

// left returns the seconds that a tab shows as left.
func (b *tab) left() int {
	b.t.Helper()
	minutes, seconds, ok := strings.Cut(b.text("#left"), ":")
	require.True(b.t, ok)
	m, err := strconv.Atoi(minutes)
	require.NoError(b.t, err)
	s, err := strconv.Atoi(seconds)
	require.NoError(b.t, err)
	return 60*m + s
}

// shows checks that the page goes by the server: what is left to a second, and each sound
// ahead within 0.1 s of its time, with no other.
func (w *wound) shows(b *tab, id, when string) {
	w.t.Helper()
	time.Sleep(300 * time.Millisecond) // the page draws five times a second
	st := w.kept(id).At(w.now())
	left, known := st.Remaining()
	require.True(w.t, known, when)
	assert.InDelta(w.t, left.Seconds(), float64(b.left()), 1, "%s: what is left", when)
	st = w.kept(id).At(w.now())
	var want [][2]float64
	for _, c := range session.Schedule(st) {
		if c.Assumed {
			continue
		}
		for _, tone := range c.Kind.Tones() {
			want = append(want, [2]float64{float64(st.At.Add(c.In + tone.At).UnixMilli()), tone.Hz})
		}
	}
	is := value[[][2]float64](b, `faked.ahead()`)
	// One that is due within a moment may have begun.
	soon := float64(w.now().Add(time.Second).UnixMilli())
	later := func(of [][2]float64) [][2]float64 {
		of = slices.DeleteFunc(of, func(s [2]float64) bool { return s[0] < soon })
		slices.SortFunc(of, func(a, b [2]float64) int { return int(a[0] - b[0]) })
		return of
	}
	want, is = later(want), later(is)
	require.NotEmpty(w.t, want, when)
	require.Len(w.t, is, len(want), "%s: sounds", when)
	for i := range want {
		assert.InDelta(w.t, want[i][0], is[i][0], 100, "%s: sound %d", when, i)
		assert.InDelta(w.t, want[i][1], is[i][1], 1, "%s: sound %d", when, i)
	}
}

// to sets the clocks to a time within the step that runs.
func (w *wound) to(id string, elapsed time.Duration, tabs ...*tab) {
	w.t.Helper()
	w.pass(elapsed-w.kept(id).At(w.now()).Now().Elapsed, tabs...)
}

// A session in a browser whose clocks are set: the page goes by the server after a hidden
// tab, a sleep and a reload, the correction is that of the formula to a second, and sounds are
// set within 0.1 s of their time.
func TestSessionByTheClock(t *testing.T) {
	atLength(t)
	w := wind(t)
	b := w.enter()
	id := w.begun(b)
	b.await(`document.querySelector('#sound').textContent === 'Sound on'`)
	w.shows(b, id, "begun")
	w.to(id, 40*time.Second, b)
	w.shows(b, id, "near the end of the pre-soak")
	w.to(id, 72*time.Second, b)
	b.await(`document.querySelector('#over').textContent === 'over'`)
	assert.Equal(t, "Pre-soak, water", b.text("#step"), "only a hand goes on")
	b.click(`button[value=next]`)
	w.number(id, 2)
	b.await(`document.querySelector('#step').textContent.startsWith('Develop')`)
	w.shows(b, id, "developing")

	// The bath falls to 21.9 °C within two minutes and a half. The sum of what is done in
	// tenths of a second is that of the plan at the end.
	began := w.kept(id).At(w.now()).Now().Began
	w.to(id, 150*time.Second, b)
	b.click(`#celsius, [name=celsius]`)
	b.keys("21.9\r")
	w.number(id, 3)
	b.await(`document.querySelector('#told').textContent.includes('21.9')`)
	st := w.kept(id).At(w.now())
	read := st.Now().Readings[0].In.Seconds()
	inverse := func(c float64) float64 { return 1 / (c + 273.15) }
	rate := func(c float64) float64 {
		return math.Pow(st.Plan.Rate.Q10, (inverse(20)-inverse(c))/(inverse(20)-inverse(30)))
	}
	total := 0.0
	for done := 0.0; done < 360*rate(22.5); total += 0.1 {
		done += 0.1 * rate(22.5+(21.9-22.5)*min(1, (total+0.05)/read))
	}
	require.Greater(t, total, 365.0)
	time.Sleep(300 * time.Millisecond)
	assert.InDelta(t, total-w.now().Sub(began).Seconds(), float64(b.left()), 1, "what is left, by the formula")
	w.shows(b, id, "corrected")

	value[bool](b, `faked.show(false)`)
	w.pass(70*time.Second, b)
	ahead := value[[][2]float64](b, `faked.ahead()`)
	require.NotEmpty(t, ahead, "a hidden page has set its sounds before")
	value[bool](b, `faked.show(true)`)
	w.shows(b, id, "shown again")
	again := value[[][2]float64](b, `faked.ahead()`)
	require.Len(t, again, len(ahead))
	for i := range ahead {
		assert.InDelta(t, ahead[i][0], again[i][0], 100, "set before it was hidden: %d", i)
	}

	w.sleep(45*time.Second, b)
	w.shows(b, id, "after a sleep")

	value[bool](b, `faked.away = true`)
	w.sleep(20*time.Second, b)
	w.shows(b, id, "after a sleep, and nobody answers")

	run(b, chromedp.Reload())
	b.await(`document.querySelector('#now') && !document.querySelector('#dark').hidden`)
	assert.Equal(t, "Sound off", b.text("#sound"), "a browser is silent until the page is touched")
	b.click("h1")
	b.await(`document.querySelector('#sound').textContent === 'Sound on'`)
	w.shows(b, id, "loaded anew")
	assert.Empty(t, b.reported())
}

// The screen is kept on where that can be had, again after the page was hidden, and words say
// where it cannot; the one sound file for a locked phone is one that plays.
func TestScreenKeptOn(t *testing.T) {
	w := wind(t)
	b := w.enter()
	w.begun(b)
	locks := func() int { return value[int](b, `faked.locks`) }
	b.await(`faked.locks === 1`)
	const told = `!document.querySelector('#awake').hidden`
	assert.False(t, value[bool](b, told))
	value[bool](b, `faked.show(false)`)
	value[bool](b, `faked.show(true)`)
	b.await(`faked.locks === 2`)
	assert.Equal(t, 2, locks(), "not asked for while it is hidden")
	assert.False(t, value[bool](b, told))
	assert.Greater(t, value[float64](b, `new Promise((done, no) => { const a = document.querySelector('audio'); a.onloadedmetadata = () => done(a.duration); a.onerror = no; a.load(); a.preload = 'metadata'; })`), 60.0)

	value[bool](b, `(sessionStorage.unlocked = 'yes', true)`)
	run(b, chromedp.Reload())
	b.await(told)
	assert.Equal(t, "This page cannot keep the screen on. Switch off the device’s own sleep, or play the sounds as one file, which go on in a locked phone.", b.text("#awake"))
	assert.Empty(t, b.reported())
}

// An act on one device shows on the other within half a second.
func TestSessionOnTwoDevices(t *testing.T) {
	atLength(t)
	w := wind(t)
	b := w.enter()
	id := w.begun(b)
	other := b.beside()
	other.faked()
	other.open(b.address())
	other.await(`!document.querySelector('#dark').hidden`)
	var took []time.Duration
	for n := 2; n <= 7; n++ {
		time.Sleep(1100 * time.Millisecond) // else it is taken for one that was hit twice
		act, step := "next", "Develop"
		if n%2 == 1 {
			act, step = "undo", "Pre-soak"
		}
		b.click(fmt.Sprintf(`button[value=%s]`, act))
		w.number(id, n)
		done := w.kept(id).Events()[n-1].At
		other.await(fmt.Sprintf(`document.querySelector('#step').textContent.startsWith(%q)`, step))
		took = append(took, time.Since(done))
	}
	slices.Sort(took)
	t.Logf("shown on the other after %v", took)
	assert.Less(t, took[len(took)/2], 500*time.Millisecond)

	// Without events the other learns of it by asking.
	value[bool](other, `(sessionStorage.alone = 'yes', true)`)
	run(other, chromedp.Reload())
	other.await(`document.querySelector('#step')?.textContent.startsWith('Pre-soak') && !document.querySelector('#dark').hidden`)
	b.click(`button[value=next]`)
	w.number(id, 8)
	other.await(`document.querySelector('#step').textContent.startsWith('Develop')`)
	assert.Less(t, time.Since(w.kept(id).Events()[7].At), 4*time.Second)
	assert.Empty(t, append(b.reported(), other.reported()...))
}

// Acts whose answers are lost on the way were done: sent again they are known, and what waits
// behind them is done after them.
func TestSessionAnswersLost(t *testing.T) {
	atLength(t)
	w := wind(t)
	b := w.enter()
	id := w.begun(b)
	w.pass(30*time.Second, b)
	value[bool](b, `faked.lost = true`)
	b.await(`!document.querySelector('#lost').hidden`)
	b.click(`button[value=next]`)
	b.await(`faked.posts`)
	assert.Equal(t, 2, w.kept(id).Number(), "it was done")
	b.click(`[name=celsius]`)
	b.keys("22.1\r")
	w.pass(30*time.Second, b)
	value[bool](b, `(faked.lost = false, true)`)
	w.number(id, 3)
	b.await(`document.querySelector('#lost').hidden && document.querySelector('#told').textContent.includes('22.1')`)
	events := w.kept(id).Events()
	assert.Equal(t, []session.Do{session.DoNext, session.DoTemperature}, []session.Do{events[1].Do, events[2].Do})
	assert.WithinDuration(t, w.now().Add(-30*time.Second), events[2].At, 10*time.Second, "when it was read")
	assert.Empty(t, b.text("#refused"))
	assert.NotContains(t, b.text("#told"), "something else was done")
	assert.Equal(t, "Develop, Brinewater 1+19", b.text("#step"))
	assert.Equal(t, "[]", value[string](b, `sessionStorage[document.body.dataset.place]`))
	w.shows(b, id, "known again")
	assert.Empty(t, b.reported())
}

// Acts that wait for the server outlast the page, are sent in their order with the time at
// which they were done, and what has gone stale meanwhile is told.
func TestSessionActsWait(t *testing.T) {
	atLength(t)
	w := wind(t)
	b := w.enter()
	id := w.begun(b)
	away := func() { value[bool](b, `faked.away = true`) }
	again := func() { run(b, chromedp.Reload()) }

	w.pass(60*time.Second, b)
	away()
	b.click(`button[value=next]`)
	b.await(`!document.querySelector('#lost').hidden`)
	assert.Equal(t, "sensito does not answer. The clock runs on here, and what you do waits, also if this page is loaded anew.", b.text("#lost"))
	assert.Equal(t, "Develop, Brinewater 1+19", b.text("#step"), "the page goes on")
	poured := w.now()
	w.pass(90*time.Second, b)
	b.click(`[name=celsius]`)
	b.keys("22.1\r")
	read := w.now()
	w.pass(30*time.Second, b)
	assert.Equal(t, 1, w.kept(id).Number())
	again()
	w.number(id, 3)
	events := w.kept(id).Events()
	assert.Equal(t, []session.Do{session.DoNext, session.DoTemperature}, []session.Do{events[1].Do, events[2].Do})
	assert.WithinDuration(t, poured, events[1].At, time.Second)
	assert.WithinDuration(t, read, events[2].At, time.Second)
	b.await(`document.querySelector('#told')?.textContent.includes('22.1')`)
	assert.Empty(t, b.text("#refused"))
	b.click("h1") // for sounds
	b.await(`document.querySelector('#sound').textContent === 'Sound on'`)
	w.shows(b, id, "sent")

	// Somebody else goes on meanwhile: what waits is not done, and told, as is what follows.
	away()
	b.click(`[name=celsius]`)
	b.keys("22\r")
	b.click(`button[value=next]`)
	b.await(`document.querySelector('#step').textContent.startsWith('Stop')`)
	_, err := sessions.Act(w.dir, id, session.Act{Do: session.DoNext, After: 3}, w.now())
	require.NoError(t, err)
	again()
	b.await(`document.querySelector('#refused')?.textContent`)
	assert.Equal(t, "Not done: Correct 22, Next step.", b.text("#refused"))
	assert.Contains(t, b.text("#told"), "something else was done at")
	assert.Equal(t, 4, w.kept(id).Number())

	// The session is ended elsewhere: its page tells what was not done.
	time.Sleep(1100 * time.Millisecond)
	away()
	b.click(`button[value=next]`)
	_, err = sessions.Act(w.dir, id, session.Act{Do: session.DoEnd, After: 4}, w.now())
	require.NoError(t, err)
	again()
	b.await(`document.querySelector('h1').textContent.startsWith('Done at')`)
	assert.Equal(t, "Not done: Next step.", b.text("#refused"))
	again()
	b.await(`document.querySelector('h1').textContent.startsWith('Done at')`)
	assert.Empty(t, b.text("#refused"), "told once")
	assert.Equal(t, 5, w.kept(id).Number())
	assert.Empty(t, b.reported())
}
