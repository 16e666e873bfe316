package page_test

import (
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/page"
	"sensito/cmd/sensito/internal/page/pagetest"
)

var svgText = regexp.MustCompile(`<text [^>]*>([^<]*)</text>`)

// drawnTexts returns the texts of the narrow figure of a page of keying in.
func drawnTexts(t *testing.T, p *pagetest.Page) []string {
	t.Helper()
	_, figure, ok := strings.Cut(p.Text, `<svg class="at-narrow"`)
	require.True(t, ok, "a figure on %s", p.Address)
	figure, _, _ = strings.Cut(figure, "</svg>")
	var out []string
	for _, m := range svgText.FindAllStringSubmatch(figure, -1) {
		out = append(out, m[1])
	}
	require.NotEmpty(t, out)
	return out
}

func expectedIn(texts []string) []string {
	var out []string
	for _, s := range texts {
		if strings.Contains(s, "expected") {
			out = append(out, s)
		}
	}
	return out
}

// The figure of keying in names what was expected of a reading once that is keyed in, the
// same as the words do, and of a step that is not read nothing.
func TestKeyingIsDrawn(t *testing.T) {
	d := serve(t, filmTrial)
	p := d.begin("minutes", "8:20", "base_fog", "0.11 0.12")
	texts := drawnTexts(t, p)
	assert.Contains(t, texts, "8:00", "the strip nearest in time")
	assert.NotContains(t, texts, "8:20", "nothing is read yet")
	assert.Empty(t, expectedIn(texts))
	said := regexp.MustCompile(`(\d\.\d\d) (?:was|is) expected`)
	for i, reading := range []string{"2.03", "1.88", "1.80", "1.64"} {
		p = d.key(p, "save", reading)
		require.Equal(t, fmt.Sprintf("%s/strips/6/%d?after=%d", d.at, i+2, i+1), p.Address)
		words := said.FindStringSubmatch(p.Words())
		require.NotNil(t, words)
		texts = drawnTexts(t, p)
		assert.Equal(t, []string{words[1] + " expected"}, expectedIn(texts))
		assert.Contains(t, texts, "8:20")
		path, _, _ := strings.Cut(p.Address, "?")
		p = d.get(path)
		assert.Empty(t, expectedIn(drawnTexts(t, p)), "loaded anew, with no reading just keyed in")
	}
	p = d.key(p, "save", "2.60")
	words := said.FindStringSubmatch(p.Words())
	require.NotNil(t, words)
	texts = drawnTexts(t, p)
	assert.Equal(t, []string{words[1] + " expected"}, expectedIn(texts), "the reading is keyed in, and questioned")
	assert.Contains(t, texts, "2.60")
}

// The first strip of a trial is drawn with nothing expected before four steps are read, and
// readings of a light meter are named in their own unit.
func TestKeyingIsDrawnInItsUnit(t *testing.T) {
	d := serve(t, "larkfield-meter")
	p := d.get(d.at + "/strips/1/5")
	assert.Contains(t, p.Words(), "Drawn in density; the readings are in EV.")
	p = d.get(d.at + "/strips/1/5?typed=2.0")
	assert.Contains(t, drawnTexts(t, p), "2\u00a0EV")
	d = serve(t, "foxglove")
	first := d.begin("minutes", "3:00", "grade", "9")
	p = d.key(first, "save", "2.05")
	assert.Empty(t, expectedIn(drawnTexts(t, p)), "a grade without another strip")
}

// A control strip is added by the form of its log, once however often it is sent, beside
// what another added meanwhile; what is not understood is said at its field, and all that
// was typed stays.
func TestControlStripIsAdded(t *testing.T) {
	dir := t.TempDir()
	text, err := os.ReadFile("../../demo/control.toml")
	require.NoError(t, err)
	path := filepath.Join(dir, "control.toml")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	h, err := page.New(dir, pagetest.Open{})
	require.NoError(t, err)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	c := &pagetest.Client{Base: server.URL}
	get := func() pagetest.Form {
		p, err := c.Get("/control/control")
		require.NoError(t, err)
		f, ok := p.Form("/control/control")
		require.True(t, ok)
		return f
	}
	submit := func(f pagetest.Form, fields ...string) *pagetest.Page {
		p, err := c.Submit(f, fields...)
		require.NoError(t, err)
		return p
	}
	strips := func() int {
		now, err := os.ReadFile(path)
		require.NoError(t, err)
		require.True(t, strings.HasPrefix(string(now), string(text)), "what was there stays")
		return strings.Count(string(now), "[[strip]]")
	}
	before := strips()
	p := submit(get(), "date", "2026-13-01", "base-fog", "0,12", "low", "x", "high", "", "note", `a "note" <b>`, "fresh", "true")
	assert.Equal(t, http.StatusUnprocessableEntity, p.Status)
	assert.Contains(t, p.Words(), `2 things to put right. Nothing was saved, and nothing is lost. low density: "x" is not a density like 0.71 high density: needed`)
	f, ok := p.Form("/control/control")
	require.True(t, ok)
	for name, want := range map[string]string{"date": "2026-13-01", "base-fog": "0,12", "low": "x", "high": "", "note": `a "note" <b>`, "fresh": "true"} {
		assert.Equal(t, want, f.Fields.Get(name), name)
	}
	p = submit(f, "low", "0.38", "high", "1.21")
	assert.Equal(t, http.StatusUnprocessableEntity, p.Status)
	assert.Regexp(t, `One thing to put right\. .*developed on: `, p.Words())
	assert.Equal(t, before, strips(), "nothing is written")

	f, ok = p.Form("/control/control")
	require.True(t, ok)
	other := get()
	p = submit(f, "date", "2026-08-06")
	assert.Equal(t, http.StatusOK, p.Status)
	assert.Equal(t, "/control/control", p.Address)
	require.Equal(t, before+1, strips())
	p = submit(f, "date", "2026-08-06")
	assert.Equal(t, http.StatusOK, p.Status)
	assert.Equal(t, before+1, strips(), "the same strip")
	p = submit(other, "date", "2026-08-07", "base-fog", "0.12", "low", "0.38", "high", "1.2")
	assert.Equal(t, http.StatusOK, p.Status, p.Words())
	assert.Equal(t, before+2, strips(), "from a page that did not show the other")
	assert.NotContains(t, p.Words(), "is yet to come")
	p = submit(get(), "date", "2926-08-08", "base-fog", "0.12", "low", "0.38", "high", "1.2")
	assert.Contains(t, p.Words(), "The date 2926-08-08 is yet to come: today is ")
	require.Equal(t, before+3, strips(), "kept, and told")
	now, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(now), `a \"note\" <b>`)
	p, err = c.Submit(pagetest.Form{Action: "/control/none", Fields: f.Fields})
	require.NoError(t, err)
	assert.Equal(t, http.StatusNotFound, p.Status)
}

// What was sent is gone once it is brought in, and when the server ends.
func TestSentFilesAreRemoved(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	h, err := page.New(t.TempDir(), pagetest.Open{})
	require.NoError(t, err)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	c := &pagetest.Client{Base: server.URL}
	left := func() int {
		all, err := os.ReadDir(os.Getenv("TMPDIR"))
		require.NoError(t, err)
		return len(all)
	}
	paste := func() (*http.Response, error) {
		var body strings.Builder
		m := multipart.NewWriter(&body)
		rows := "step,wedge,6:00,9:00\n"
		for i := range 21 {
			rows += fmt.Sprintf("%d,%.2f,%.2f,%.2f\n", i+1, 0.05+0.15*float64(i), 1.8-0.08*float64(i), 2.1-0.09*float64(i))
		}
		require.NoError(t, m.WriteField("pasted", rows))
		require.NoError(t, m.Close())
		r, err := http.Post(server.URL+"/import", m.FormDataContentType(), strings.NewReader(body.String()))
		require.NoError(t, err)
		return r, r.Body.Close()
	}
	var at []string
	for range 3 {
		r, err := paste()
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, r.StatusCode)
		at = append(at, r.Request.URL.Path)
	}
	require.Equal(t, 3, left())
	fields := url.Values{"film": {"Tern 400"}, "lux": {"2"}, "seconds": {"0.5"}, "developer": {"Ashlar 1+4"}}
	p, err := c.Submit(pagetest.Form{Action: at[0], Fields: fields})
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, p.Status, p.Words())
	require.Contains(t, p.Address, "/t/")
	assert.Equal(t, 2, left(), "one is brought in")
	p, err = c.Get(at[0])
	require.NoError(t, err)
	assert.Equal(t, http.StatusNotFound, p.Status)
	p, err = c.Get(at[1])
	require.NoError(t, err)
	assert.Equal(t, http.StatusOK, p.Status, "another stays")

	require.NoError(t, h.Close())
	assert.Zero(t, left())
	require.NoError(t, h.Close(), "once more")
	r, err := paste()
	require.NoError(t, err)
	assert.Equal(t, http.StatusUnprocessableEntity, r.StatusCode, "the server has ended")
	assert.Zero(t, left())
}

// BenchmarkDesk measures the page of a strip of which half is read.
func BenchmarkDesk(b *testing.B) {
	dir := b.TempDir()
	text, err := os.ReadFile("../../demo/" + filmTrial + ".toml")
	require.NoError(b, err)
	require.NoError(b, os.WriteFile(filepath.Join(dir, filmTrial+".toml"), text, 0o600))
	h, err := page.New(dir, pagetest.Open{})
	require.NoError(b, err)
	for b.Loop() {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/t/"+filmTrial+"/strips/4/9?after=8", nil))
		require.Equal(b, http.StatusOK, w.Code)
	}
}
