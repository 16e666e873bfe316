package page_test

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/sessions"
)

// Of two devices the second is refused what it asks of a step that has gone, and sees the
// step that runs; a temperature is taken while the step is the same.
func TestTwoDevices(t *testing.T) {
	k := atSink(t)
	k.start()
	k.at = 61 * time.Second
	k.does("/event", "do", "next")
	for _, form := range [][]string{{"/event", "do", "next"}, {"/event", "do", "undo"}, {"/event", "do", "end"}, {"/temperature", "do", "temperature", "step", "2", "celsius", "22"}} {
		status, _, body := k.sent(first+form[0], append(form[1:], "after", "1")...)
		assert.Equal(t, http.StatusConflict, status, form)
		assert.Contains(t, text(body), "Not done: something else was done at 14:03:01, and it is now Develop", form)
		assert.Contains(t, body, `<h1 id="step">Develop, Brinewater 1&#43;19</h1>`, form)
		assert.Contains(t, body, `name="after" value="2"`, form)
		assert.Empty(t, faults(t, body), form)
	}
	k.at = 90 * time.Second
	k.does("/temperature", "do", "temperature", "step", "2", "celsius", "22")
	status, _, _ := k.sent(first+"/temperature", "do", "temperature", "step", "2", "celsius", "22.1", "after", "2")
	assert.Equal(t, http.StatusSeeOther, status, "the step is the same")
	s, err := sessions.Read(k.dir, "2026-06-04-1")
	require.NoError(t, err)
	assert.Equal(t, 4, s.Number())
	for _, address := range []string{"/state", "/state?number=4"} {
		_, body := got(t, k.Server, first+address)
		assert.JSONEq(t, `{"number":4,"elapsed":29000,"over":false}`, body)
	}
	_, body := got(t, k.Server, first+"/state?number=3")
	assert.Contains(t, body, `<h1 id="step">Develop`, "led to what was done")
}

// An act whose answer was lost is known when it is sent again, with script and without, and is
// not taken for one of another device; another act of the same page is.
func TestActSentAgain(t *testing.T) {
	k := atSink(t)
	k.start()
	id := regexp.MustCompile(`name="id" value="([0-9A-Z]{26})"`).FindStringSubmatch(k.shows(first))[1]
	assert.NotContains(t, k.shows(first), id, "each page asks for itself")
	k.at = 61 * time.Second
	number := func() int {
		s, err := sessions.Read(k.dir, "2026-06-04-1")
		require.NoError(t, err)
		return s.Number()
	}
	for _, again := range []string{"", "2000", "9000.25"} {
		status, to, body := k.sent(first+"/event", "do", "next", "after", "1", "id", id, "ago", again)
		assert.Equal(t, http.StatusSeeOther, status, text(body))
		assert.Equal(t, first, to)
		assert.Equal(t, 2, number())
	}
	for _, other := range [][]string{{"do", "next"}, {"do", "next", "id", "another"}, {"do", "undo", "id", id}, {"do", "next", "id", id, "when", "1764356725123.25"}} {
		status, _, body := k.sent(first+"/event", append(other, "after", "1")...)
		assert.Equal(t, http.StatusConflict, status, other)
		assert.Contains(t, text(body), "Not done: something else was done", other)
	}

	// Two readings of a bath that wait on one page are two.
	k.at += 10 * time.Second
	for _, when := range []string{"1.5", "2.5", "1.5"} {
		status, _, body := k.sent(first+"/temperature", "do", "temperature", "step", "2", "celsius", "22", "after", "2", "id", id, "when", when)
		assert.Equal(t, http.StatusSeeOther, status, text(body))
	}
	assert.Equal(t, 4, number())
	k.restart()
	status, _, _ := k.sent(first+"/event", "do", "next", "after", "1", "id", id)
	assert.Equal(t, http.StatusSeeOther, status, "after a restart")
	assert.Equal(t, 4, number())
	status, _, _ = k.sent(first+"/event", "do", "next", "after", "4", "id", "<script>")
	assert.Equal(t, http.StatusBadRequest, status)
}

// An act that waited while nobody answered counts when it was done, unless that is out of
// reason, which is told, and never before what was done before it.
func TestActsThatWaited(t *testing.T) {
	for _, c := range []struct {
		ago  string
		want time.Duration
	}{{"20000", 60 * time.Second}, {"100000", 0}, {"-5000", 80 * time.Second}, {"", 80 * time.Second}} {
		k := atSink(t)
		k.start()
		k.at = 80 * time.Second
		k.does("/event", "do", "next", "ago", c.ago)
		s, err := sessions.Read(k.dir, "2026-06-04-1")
		require.NoError(t, err)
		assert.Equal(t, noon.Add(c.want), s.Events()[1].At.UTC(), c.ago)
	}
	k := atSink(t)
	k.start()
	k.at = 2 * time.Hour
	for _, ago := range []string{"3600001", "9223372036854775807"} {
		status, _, body := k.sent(first+"/event", "do", "next", "after", "1", "ago", ago)
		assert.Equal(t, http.StatusUnprocessableEntity, status)
		assert.Contains(t, text(body), "Not done: it waited for more than an hour until sensito was there", "what waited too long is told")
	}
	s, err := sessions.Read(k.dir, "2026-06-04-1")
	require.NoError(t, err)
	assert.Equal(t, 1, s.Number())
}

// A server that was killed in mid-step shows the session again, on the first page and
// where one begins, and its clock has run on.
func TestSessionAfterRestart(t *testing.T) {
	k := atSink(t)
	assert.NotContains(t, k.shows("/"), "A session is not ended yet")
	k.start()
	k.at = 60 * time.Second
	k.does("/event", "do", "next")
	k.at = 100 * time.Second
	k.does("/temperature", "do", "temperature", "step", "2", "celsius", "22")
	was := k.wired()
	k.restart()
	k.at = 200 * time.Second
	is := k.wired()
	assert.Equal(t, was.Elapsed+100_000, is.Elapsed)
	assert.Equal(t, was.Steps[0].Lasts, is.Steps[0].Lasts)
	assert.Contains(t, text(k.shows("/")), "A session is not ended yet T : Develop, Brinewater 1+19, since 2026-06-04 14:03. The clock runs on.")
	body := k.shows(asking)
	assert.Contains(t, body, `<a href="`+first+`">T</a>`)
	assert.Less(t, strings.Index(body, first), strings.Index(body, "Pour in: start"), "first what is not ended")
	assert.Empty(t, faults(t, body))
}

// A form that is sent twice begins one session; one of another question is asked again.
func TestBegunTwice(t *testing.T) {
	k := atSink(t)
	k.start()
	status, to, _ := k.sent(asking, "newest", "")
	assert.Equal(t, []any{http.StatusSeeOther, first}, []any{status, to})
	status, _, body := k.sent(strings.Replace(asking, "6:00", "7:00", 1), "newest", "")
	assert.Equal(t, http.StatusConflict, status)
	assert.Contains(t, text(body), "Not begun: another session was begun after this page was opened.")
	status, to, _ = k.sent(asking, "newest", "2026-06-04-1", "celsius", "22,9")
	assert.Equal(t, []any{http.StatusSeeOther, "/session/2026-06-04-2"}, []any{status, to})
	assert.Contains(t, text(k.shows("/session/2026-06-04-2")), "22.9 °C at pouring in:")
	status, _, body = k.sent(asking, "newest", "2026-06-04-2", "celsius", "hot")
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, body, `value="hot"`)
	all, err := sessions.List(k.dir)
	require.NoError(t, err)
	assert.Len(t, all, 2)
}

// Whatever is sent, nothing is done that no page asks for, and what is shown of it is text.
func TestSessionHostile(t *testing.T) {
	k := atSink(t)
	outside := filepath.Join(t.TempDir(), "x.jsonl")
	k.start()
	text, err := os.ReadFile(filepath.Join(k.dir, sessions.Folder, "2026-06-04-1.jsonl"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(outside, text, 0o600))
	require.NoError(t, os.Symlink(outside, filepath.Join(k.dir, sessions.Folder, "2026-06-04-7.jsonl")))
	for _, id := range []string{"2026-06-04-2", "2026-06-04-7", "..%2f2026-06-04-1", "x", "2026-06-04-1.jsonl", "%00"} {
		for _, path := range []string{"", "/state", "/sound.wav"} {
			status, _ := got(t, k.Server, "/session/"+id+path)
			assert.Equal(t, http.StatusNotFound, status, id+path)
		}
		status, _, _ := k.sent("/session/"+id+"/event", "do", "next", "after", "1")
		assert.Equal(t, http.StatusNotFound, status, id)
	}
	for _, form := range [][]string{{"do", "close"}, {"do", "start"}, {"do", ""}, {"do", "<script>"}, {"do", "next", "after", "x"}, {"do", "next", "ago", "1e3"}, {"do", "temperature", "celsius", "20", "step", "x"}} {
		status, _, body := k.sent(first+"/event", append([]string{"after", "1"}, form...)...)
		assert.Equal(t, http.StatusBadRequest, status, form)
		assert.Empty(t, faults(t, body), form)
	}
	for _, form := range [][]string{{"do", "temperature", "celsius", "<script>", "step", "2"}, {"do", "temperature", "celsius", "NaN", "step", "2"}, {"do", "temperature", "celsius", "20", "step", "4"},
		{"do", "clearing", "clearing", "\x1b[2J"}, {"do", "clearing", "clearing", "0:50"}, {"do", "next", "after", "7"}} {
		status, _, body := k.sent(first+"/temperature", append([]string{"after", "1"}, form...)...)
		assert.Equal(t, http.StatusUnprocessableEntity, status, form)
		assert.Empty(t, faults(t, body), form)
		assert.NotContains(t, body, "<script>", form)
	}
	for _, query := range []string{"films=%3Cscript%3E", "vessel=%1b%5b2J", "at=900", "procedure=..%2flarkfield", "nosuch=1", "minutes=x", "paper=none"} {
		status, body := got(t, k.Server, "/session?trial=larkfield&"+query)
		assert.GreaterOrEqual(t, status, 400, query)
		assert.Empty(t, faults(t, body), query)
		assert.NotContains(t, body, "Pour in: start", query)
	}
	is, err := os.ReadFile(filepath.Join(k.dir, sessions.Folder, "2026-06-04-1.jsonl"))
	require.NoError(t, err)
	assert.Equal(t, text, is, "nothing was done")
}
