package page_test

import (
	"bytes"
	"encoding/json"
	"html"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/notebooktest"
	"sensito/sensito/notebook/sessions"
	"sensito/sensito/session"
)

// noon is what the clock on the wall shows as a session begins.
var noon = time.Date(2026, 6, 4, 14, 2, 0, 0, time.UTC)

// sink is a notebook that answers by a clock which a test sets.
type sink struct {
	*page.Server
	t   *testing.T
	dir string
	at  time.Duration // since noon
}

const procedure = `kind = "procedure"
title = "Three baths"
[[step]]
name = "Pre-soak"
bath = "water"
minutes = "1:00"
dark = true
drain_seconds = 10
[[step]]
name = "Develop"
minutes = "from plan"
agitation = "continuous"
dark = true
drain_seconds = 10
[[step]]
name = "Fix"
bath = "fixer"
dilution = "1+4"
minutes = "from clearing"
agitation = "30 s, then 5 s each minute"
dark = true
drain_seconds = 10
[[step]]
name = "Wash"
bath = "water"
minutes = "10:00"
dark = false
`

func atSink(t *testing.T) *sink {
	k := &sink{t: t, dir: t.TempDir()}
	for name, text := range map[string]string{"larkfield.toml": notebooktest.Good, "three.toml": procedure} {
		require.NoError(t, os.WriteFile(filepath.Join(k.dir, name), []byte(text), 0o666))
	}
	k.restart()
	return k
}

// restart is a server killed and started again.
func (k *sink) restart() {
	k.Server = served(k.t, k.dir)
	k.SetNow(func() time.Time { return noon.Add(k.at) })
}

// sent returns the answer to a form.
func (k *sink) sent(address string, pairs ...string) (status int, location, body string) {
	k.t.Helper()
	form := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest(http.MethodPost, address, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	k.ServeHTTP(w, r)
	return w.Code, w.Header().Get("Location"), w.Body.String()
}

func (k *sink) shows(address string) string {
	k.t.Helper()
	status, body := got(k.t, k.Server, address)
	require.Equal(k.t, http.StatusOK, status, body)
	return body
}

const (
	asking = "/session?trial=larkfield&minutes=6:00&at=22.5&procedure=three"
	first  = "/session/2026-06-04-1"
)

// start begins a session.
func (k *sink) start() {
	k.t.Helper()
	status, to, body := k.sent(asking, "newest", "")
	require.Equal(k.t, http.StatusSeeOther, status, text(body))
	require.Equal(k.t, first, to)
}

var afterField = regexp.MustCompile(`name="after" value="(\d+)"`)

// does sends a form of the page as it is now.
func (k *sink) does(path string, pairs ...string) {
	k.t.Helper()
	after := afterField.FindStringSubmatch(k.shows(first))
	require.NotNil(k.t, after)
	status, to, body := k.sent(first+path, append(pairs, "after", after[1])...)
	require.Equal(k.t, http.StatusSeeOther, status, text(body))
	require.Equal(k.t, first, to)
}

// A session from what is laid out to the log: the clock, a correction, the clearing time,
// an end that was taken back, and the log as sheet --done writes it.
func TestSession(t *testing.T) {
	k := atSink(t)
	body := k.shows(asking)
	says := text(body)
	for _, part := range []string{"Develop 6:00 at 22.5 °C", "fixer 1+4", "Pour in: start", "22.5 °C is planned", "No screen is safe for film. Red is for a darkroom with paper out.", "light is safe"} {
		assert.Contains(t, says, part)
	}
	assert.NotContains(t, says, "Not ended yet")
	assert.Contains(t, says, "How much to mix is not told, since the vessel is not.")
	assert.NotContains(t, says, "--vessel", "a flag is of the terminal")
	assert.Empty(t, faults(t, body))
	assert.NoDirExists(t, filepath.Join(k.dir, sessions.Folder), "reading writes nothing")

	k.start()
	k.at = 20 * time.Second
	body = k.shows(first)
	says = text(body)
	for _, part := range []string{"Pre-soak, water Dark The film must not see light.", "Pour out with 0:10 left, then develop.",
		"since 14:02:00", "from 14:03:00", "from 14:09:00", "The developer is now at", "No screen is safe for film. Red is for a darkroom with paper out."} {
		assert.Contains(t, says, part)
	}
	assert.Regexp(t, `id="left" role="timer">0:40</span>`, body)
	assert.Regexp(t, `id="gone" x="0" y="0" width="333"`, body)
	assert.NotContains(t, body, "<nav", "no navigation while it runs")
	assert.Contains(t, body, `<noscript><meta http-equiv="refresh" content="5"></noscript>`)
	assert.NotContains(t, k.shows(first+"?still=yes"), `http-equiv="refresh"`)
	assert.Empty(t, faults(t, body))

	k.at = 72 * time.Second
	assert.Regexp(t, `id="left" role="timer">0:12</span><span class="cue" id="over">over</span>`, k.shows(first), "only a hand goes on")
	k.does("/event", "do", "next")
	k.at += 150 * time.Second
	k.does("/temperature", "do", "temperature", "step", "2", "celsius", "19.1")
	assert.Contains(t, text(k.shows(first)), "19.1 °C is more than 3 °C from the 22.5 °C of before.")
	k.does("/temperature", "do", "temperature", "step", "2", "celsius", "21,9")
	body = k.shows(first)
	assert.Contains(t, text(body), "From 22.5 °C at pouring in to 21.9 °C at 2:30: 13 seconds more (6 to 21), for the same contrast.")
	assert.Contains(t, text(body), "6:13 Develop, Brinewater 1+19")

	k.at = (72 + 374) * time.Second
	k.does("/event", "do", "next")
	assert.Contains(t, text(k.shows(first)), "The film cleared after")
	k.does("/event", "do", "clearing", "clearing", "0:50")
	assert.NotContains(t, text(k.shows(first)), "The film cleared after")
	assert.Regexp(t, `id="left" role="timer">1:40</span>`, k.shows(first))
	k.at += 102 * time.Second
	k.does("/event", "do", "next")
	assert.Contains(t, text(k.shows(first)), "Light Light is safe.")
	k.does("/event", "do", "undo")
	assert.Contains(t, k.shows(first), `<h1 id="step">Fixer 1&#43;4</h1>`)
	k.does("/event", "do", "next")
	k.at += 600 * time.Second
	k.does("/event", "do", "next")
	body = k.shows(first)
	says = text(body)
	for _, part := range []string{"Done at 14:21", "Develop 6:00 6:14 22.5 to 21.9", "Fix, cleared at 0:50 1:40 1:42 –", "The development was worth 7:16 at 20 °C, as planned.", "Keep in the log Do not keep"} {
		assert.Contains(t, says, part)
	}
	assert.Empty(t, faults(t, body))
	before, err := os.ReadFile(filepath.Join(k.dir, "larkfield.toml"))
	require.NoError(t, err)
	k.does("/log", "do", "keep", "developed", "6:14", "from", "22.5", "to", "21.9", "note", "a warm room")
	assert.Contains(t, text(k.shows(first)), "Kept in the log of larkfield.toml.")
	is, err := os.ReadFile(filepath.Join(k.dir, "larkfield.toml"))
	require.NoError(t, err)
	want, err := notebook.AppendDone(before, sensito.Done{Date: "2026-06-04", Minutes: 374. / 60, Planned: 6, PlannedC: 22.5, TemperatureC: 22.5, EndedC: 21.9, Baths: []string{"fixer"}, Note: "a warm room"})
	require.NoError(t, err)
	assert.Equal(t, string(want), string(is), "as sheet --done writes it")
	status, _, _ := k.sent(first+"/log", "do", "keep", "after", "11")
	assert.Equal(t, http.StatusUnprocessableEntity, status, "it is closed")
}

// What was typed over the figures of the clock goes into the log, and an end is not kept
// with what cannot be.
func TestKeepOtherwise(t *testing.T) {
	k := atSink(t)
	k.start()
	k.at = 60 * time.Second
	k.does("/event", "do", "next")
	k.at = 420 * time.Second
	k.does("/event", "do", "next")
	k.does("/event", "do", "end")
	after := afterField.FindStringSubmatch(k.shows(first))[1]
	for _, bad := range [][]string{{"developed", "soon"}, {"from", "900"}, {"to", "<b>"}, {"note", strings.Repeat("n", 301)}, {"note", "\x1b[31m"}} {
		status, _, body := k.sent(first+"/log", append(bad, "do", "keep", "after", after)...)
		assert.Equal(t, http.StatusUnprocessableEntity, status, bad)
		assert.Empty(t, faults(t, body), bad)
		assert.Contains(t, body, `role="alert"`, bad)
	}
	trial, err := notebook.ReadFile(filepath.Join(k.dir, "larkfield.toml"))
	require.NoError(t, err)
	require.Empty(t, trial.Done())
	k.does("/log", "do", "keep", "developed", "5:50", "from", "72F", "to", "")
	trial, err = notebook.ReadFile(filepath.Join(k.dir, "larkfield.toml"))
	require.NoError(t, err)
	require.Len(t, trial.Done(), 1)
	assert.InDelta(t, 350./60, float64(trial.Done()[0].Minutes), 1e-9)
	assert.InDelta(t, 22.2, trial.Done()[0].TemperatureC, 0.05)
	assert.Zero(t, trial.Done()[0].EndedC)
}

// wired is what the script of a page goes by.
type wired struct {
	Number  int   `json:"number"`
	Elapsed int64 `json:"elapsed"`
	Steps   []struct {
		Label string   `json:"step"`
		Dark  bool     `json:"dark"`
		Lasts int64    `json:"lasts"`
		Cues  [][2]any `json:"cues"`
		Says  [][3]any `json:"says"`

		Sounds [][3]float64 `json:"sounds"`
	} `json:"steps"`
}

var stateField = regexp.MustCompile(`data-state="([^"]*)"`)

func (k *sink) wired() (w wired) {
	k.t.Helper()
	found := stateField.FindStringSubmatch(k.shows(first))
	require.NotNil(k.t, found)
	require.NoError(k.t, json.Unmarshal([]byte(html.UnescapeString(found[1])), &w))
	return w
}

// The corrected time is that for which the integral of the rate is the one of the plan, to
// a second, by sums over tenths of a second.
func TestSessionCorrection(t *testing.T) {
	for _, readings := range [][]float64{{150, 21.9}, {0, 23.4, 90, 22.8, 200, 22}, {30, 20.1, 240, 21}} {
		k := atSink(t)
		k.start()
		k.at = time.Minute
		k.does("/event", "do", "next")
		at, celsius := []float64{0}, []float64{22.5}
		for i := 0; i < len(readings); i += 2 {
			k.at = time.Minute + time.Duration(readings[i]*float64(time.Second))
			k.does("/temperature", "do", "temperature", "step", "2", "celsius", strconv.FormatFloat(readings[i+1], 'f', 1, 64))
			if readings[i] == 0 {
				celsius[0] = readings[i+1]
				continue
			}
			at, celsius = append(at, readings[i]), append(celsius, readings[i+1])
		}
		s, err := sessions.Read(k.dir, "2026-06-04-1")
		require.NoError(t, err)
		rate := s.Plan().Rate
		// The rate goes by the inverse of the absolute temperature.
		inverse := func(c float64) float64 { return 1 / (c + 273.15) }
		r := func(c float64) float64 {
			return math.Pow(rate.Q10, (inverse(20)-inverse(c))/(inverse(20)-inverse(30)))
		}
		const tenth = 0.1
		want, done, total := 360*r(22.5), 0.0, 0.0
		for ; done < want; total += tenth {
			done += tenth * r(interpolated(at, celsius, total+tenth/2))
		}
		assert.InDelta(t, total, float64(k.wired().Steps[0].Lasts)/1000, 1, "%v", readings)
	}
}

func interpolated(x, y []float64, at float64) float64 {
	i := sort.SearchFloat64s(x, at)
	switch {
	case i == 0:
		return y[0]
	case i == len(x):
		return y[i-1]
	}
	return y[i-1] + (y[i]-y[i-1])*(at-x[i-1])/(x[i]-x[i-1])
}

// Each second a script says what the page would say, and has the sounds that are ahead,
// in the step that runs and in those to come.
func TestWire(t *testing.T) {
	k := atSink(t)
	k.start()
	k.at = 61 * time.Second
	k.does("/event", "do", "next")
	ahead := k.wired()
	require.Len(t, ahead.Steps, 3)
	assert.Equal(t, []any{"Fixer 1+4", true, int64(0)}, []any{ahead.Steps[1].Label, ahead.Steps[1].Dark, ahead.Steps[1].Lasts})
	assert.Equal(t, [][2]any{{350000.0, "pour out"}, {360000.0, "next bath"}}, ahead.Steps[0].Cues)
	k.at = 7 * time.Minute
	k.does("/event", "do", "next")
	k.at += 3 * time.Second
	k.does("/event", "do", "clearing", "clearing", "1.17")
	w := k.wired()
	assert.Equal(t, [][2]any{{60000.0, "agitate"}, {120000.0, "agitate"}, {130400.0, "pour out"}, {140400.0, "next bath"}, {142400.0, "light"}}, w.Steps[0].Cues)
	var sounds [][3]float64
	for _, c := range w.Steps[0].Cues {
		for _, tone := range session.Kind(c[1].(string)).Tones() {
			sounds = append(sounds, [3]float64{c[0].(float64)/1000 + tone.At.Seconds(), tone.Length.Seconds(), tone.Hz})
		}
	}
	require.Len(t, w.Steps[0].Sounds, len(sounds))
	for i, sound := range sounds {
		assert.InDeltaSlice(t, sound[:], w.Steps[0].Sounds[i][:], 1e-9, "sound %d", i)
	}
	began := k.at - 3*time.Second
	s, err := sessions.Read(k.dir, "2026-06-04-1")
	require.NoError(t, err)
	differ := 0
	for e := 3; e < 150; e++ {
		st := s.At(noon.Add(began + time.Duration(e)*time.Second))
		var now [3]any
		for _, say := range w.Steps[0].Says {
			if say[0].(float64) <= float64(e)*1000 {
				now = say
			}
		}
		says := strings.Replace(now[1].(string), "{}", session.ClockText(time.Duration(now[2].(float64)-float64(e)*1000)*time.Millisecond), 1)
		assert.Equal(t, st.Says(), says, "at %d s", e)
		if strings.Contains(now[1].(string), "{}") {
			differ++
		}
	}
	assert.Greater(t, differ, 60)
}

// The file of the sounds is one file however it is fetched, and has a tone where a sound
// is due.
func TestSoundFile(t *testing.T) {
	k := atSink(t)
	k.start()
	k.at = 20 * time.Second
	fetch := func(address, part string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodGet, address, nil)
		if part != "" {
			r.Header.Set("Range", part)
		}
		w := httptest.NewRecorder()
		k.ServeHTTP(w, r)
		return w
	}
	to := fetch(first+"/sound.wav", "")
	require.Equal(t, http.StatusSeeOther, to.Code)
	address := to.Header().Get("Location")
	whole := fetch(address, "")
	require.Equal(t, http.StatusOK, whole.Code)
	assert.Equal(t, "audio/wav", whole.Header().Get("Content-Type"))
	data := whole.Body.Bytes()
	require.Equal(t, "RIFF", string(data[:4]))
	k.at = 40 * time.Second
	k.does("/event", "do", "next")
	part := fetch(address, "bytes=240000-480000")
	require.Equal(t, http.StatusPartialContent, part.Code)
	assert.True(t, bytes.Equal(data[240000:480001], part.Body.Bytes()), "as it was when the player began")
	const rate = 8000
	loud := func(second float64) bool {
		at := 44 + int(second*rate)
		return slices.Max(data[at:at+800]) > 200
	}
	assert.True(t, loud(30.02), "pour out of the pre-soak, at 0:50")
	assert.False(t, loud(29))
	for _, bad := range []string{"?from=x&number=1", "?from=0&number=9", "?from=99999999999999&number=1", "?from=0&number=0"} {
		assert.Equal(t, http.StatusNotFound, fetch(first+"/sound.wav"+bad, "").Code, bad)
	}
}

// A folder of sessions that is a link out of the notebook is told of, and neither read nor
// written.
func TestSessionsElsewhere(t *testing.T) {
	k := atSink(t)
	k.start()
	inside, outside := filepath.Join(k.dir, sessions.Folder), filepath.Join(t.TempDir(), "elsewhere")
	require.NoError(t, os.Rename(inside, outside))
	require.NoError(t, os.Symlink(outside, inside))
	const told = "sessions is a link that leads out of the notebook, and is not followed."
	for _, path := range []string{"", "/state", "/sound.wav"} {
		status, body := got(t, k.Server, first+path)
		assert.Equal(t, http.StatusNotFound, status, path)
		assert.Contains(t, text(body), told, path)
		assert.NotContains(t, body, outside, path)
	}
	status, _, body := k.sent(first+"/event", "do", "next", "after", "1")
	assert.Equal(t, http.StatusNotFound, status)
	assert.Contains(t, text(body), told)
	status, body = got(t, k.Server, asking)
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, text(body), "Sessions that cannot be read "+told)
	assert.Contains(t, k.shows("/"), "One strip, 5:30.")
	status, _, body = k.sent(asking, "newest", "")
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, text(body), "Not begun: "+told)
	found, err := os.ReadDir(outside)
	require.NoError(t, err)
	assert.Len(t, found, 1)
}

// The fixer is counted by all logs of the notebook that used it since it was mixed, before
// the session and after, and the log of the session names it.
func TestFixerByAllLogs(t *testing.T) {
	k := atSink(t)
	mixed := strings.Replace(procedure, "dilution = \"1+4\"\n", "dilution = \"1+4\"\ncapacity = \"20 films/l\"\nmixed = 2026-06-01\n", 1)
	require.NotEqual(t, procedure, mixed)
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(k.dir, name), []byte(text), 0o666))
	}
	write("three.toml", mixed)
	write("other.toml", notebooktest.Good+"[[done]]\ndate = 2026-06-02\nminutes = 6\nfilms = \"2x 120\"\nbaths = [\"fixer\"]\n[[done]]\ndate = 2026-06-02\nminutes = 6\nfilms = \"9x 120\"\nbaths = [\"the old fixer\"]\n")
	write("third.toml", notebooktest.Good+"[[done]]\ndate = 2026-06-03\nminutes = 6\nfilms = \"120\"\n")
	write("torn.toml", "title = \"")
	const asked = asking + "&films=120&vessel=tank%201l"
	const told = "fixer, mixed 2026-06-01: used 2 times by the 3 logs of this notebook for 240 sq in (1 that do not name their baths), with today 320, of 1600"
	assert.Contains(t, text(k.shows(asked)), told)
	assert.Contains(t, text(k.shows(strings.Replace(asked, "/session", "/sheet", 1))), strings.TrimPrefix(told, "fixer"))
	status, _, body := k.sent(asked, "newest", "")
	require.Equal(t, http.StatusSeeOther, status, text(body))
	k.at = 60 * time.Second
	k.does("/event", "do", "next")
	k.at += 6 * time.Minute
	k.does("/event", "do", "next")
	k.does("/event", "do", "end")
	assert.Contains(t, text(k.shows(first)), "The fixer, mixed 2026-06-01, has had 4 of 20 films by the 3 logs of this notebook.")
	k.does("/log", "do", "keep")
	trial, err := notebook.ReadFile(filepath.Join(k.dir, "larkfield.toml"))
	require.NoError(t, err)
	assert.Equal(t, []string{"fixer"}, trial.Done()[0].Baths)
	assert.Contains(t, text(k.shows(asked)), "used 3 times by the 3 logs of this notebook for 320 sq in (1 that do not name their baths), with today 400, of 1600")
}
