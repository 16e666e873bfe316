package page_test

import (
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/paper"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// asJSON returns a report as --json writes it.
func asJSON(t testing.TB, r json.Marshaler) map[string]any {
	t.Helper()
	data, err := r.MarshalJSON()
	require.NoError(t, err)
	var out map[string]any
	require.NoError(t, json.Unmarshal(data, &out))
	return out
}

// number follows keys to a number.
func number(t testing.TB, v any, keys ...string) float64 {
	t.Helper()
	for _, k := range keys {
		m, is := v.(map[string]any)
		require.True(t, is, "%v of %v", keys, v)
		v = m[k]
	}
	f, is := v.(float64)
	require.True(t, is, "%v is %v", keys, v)
	return f
}

// text returns what a page says, without its elements and their line ends.
func text(body string) string {
	body = regexp.MustCompile(`(?s)<svg.*?</svg>`).ReplaceAllString(body, " ")
	body = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(body, " ")
	return strings.Join(strings.Fields(strings.ReplaceAll(html.UnescapeString(body), "\u00a0", " ")), " ")
}

func clock(minutes float64) string { return sensito.Minutes(minutes).Clock(5) }

// The numbers of a trial's page are those of scene --json and curve --json.
func TestTrialAsJSON(t *testing.T) {
	for _, name := range []string{"larkfield-brinewater", "larkfield-camera", "tern-ashlar", "larkfield-meter"} {
		trial, err := notebook.ReadFile(filepath.Join(demo, name+".toml"))
		require.NoError(t, err)
		family, err := development.NewFamily(trial, curve.MeasureOptions{})
		require.NoError(t, err)
		answer, err := scene.For(family, scene.Scene{Stops: 7})
		require.NoError(t, err)
		of, err := report.NewScene(answer, nil, report.DefaultConfidence)
		require.NoError(t, err)
		j := asJSON(t, of)
		_, body := got(t, served(t, demoNotebook(t, nil)), "/t/"+name)
		page := text(body)
		assert.Contains(t, page, fmt.Sprintf("develop %s %s to %s set the meter to", clock(number(t, j, "minutes", "value")), clock(number(t, j, "minutes", "low")), clock(number(t, j, "minutes", "high"))))
		assert.Contains(t, page, fmt.Sprintf("exactly %.0f, %.0f to %.0f For a scene of seven stops", number(t, j, "exposure_index", "value"), number(t, j, "exposure_index", "low"), number(t, j, "exposure_index", "high")))

		tied, _ := development.Tie(trial, curve.MeasureOptions{})
		ms, err := curve.MeasureTrial(tied, curve.MeasureOptions{})
		require.NoError(t, err)
		for _, s := range asJSON(t, report.NewCurve(tied, ms, report.DefaultConfidence))["strips"].([]any) {
			assert.Contains(t, page, fmt.Sprintf("%s %.3f ±%.3f %.0f ±%.0f %.3f ±%.3f %.2f", sensito.Minutes(number(t, s, "minutes")).Clock(1),
				number(t, s, "base_fog", "value"), number(t, s, "base_fog", "sd"), number(t, s, "speed", "value"), number(t, s, "speed", "sd"),
				number(t, s, "contrast_index", "value"), number(t, s, "contrast_index", "sd"), number(t, s, "gamma", "value")), name)
		}
	}
}

// The numbers of a paper's page are those of paper --json.
func TestPaperAsJSON(t *testing.T) {
	trial, err := notebook.ReadFile(filepath.Join(demo, "slate.toml"))
	require.NoError(t, err)
	paper, err := paper.Measure(trial, curve.FitOptions{})
	require.NoError(t, err)
	_, body := got(t, served(t, demoNotebook(t, nil)), "/p/slate")
	page := text(body)
	for _, s := range asJSON(t, report.NewPaper(paper, 1, report.DefaultConfidence))["strips"].([]any) {
		grade, _ := s.(map[string]any)["grade"].(string)
		assert.Contains(t, page, fmt.Sprintf("%s R %.0f %.2f ±%.2f", grade, number(t, s, "iso_range_rounded"), number(t, s, "density_range", "value"), number(t, s, "density_range", "sd")))
		assert.Contains(t, page, fmt.Sprintf("%.2f under %s", number(t, s, "density_range", "value"), grade))
	}
}

// The page of a paper that was read in pictures has its ranges, calls none ISO, and says why.
func TestPaperPictured(t *testing.T) {
	trial, err := notebook.ReadFile(filepath.Join(demo, "slate.toml"))
	require.NoError(t, err)
	spec := trial.Spec()
	spec.Calibrations = []sensito.Calibration{{Name: "grey scale", Repeatability: 0.01}}
	for i := range spec.Strips {
		spec.Strips[i].Calibration = "grey scale"
	}
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	_, body := got(t, served(t, demoNotebook(t, map[string]string{"slate.toml": string(notebook.Format(trial))})), "/p/slate")
	page := text(body)
	assert.Contains(t, page, " log H ")
	assert.NotContains(t, page, "ISO range")
	assert.NotRegexp(t, `\bR \d`, page)
	assert.Contains(t, page, "Read in pictures (00, 0, 1, 2, 3, 4, 5): scanner and camera do not see a paper at 45° and 0°")
}

// The first page tells what each file comes to, newest first, and leads to what is to be
// done.
func TestNotebook(t *testing.T) {
	dir := demoNotebook(t, map[string]string{"torn.toml": "title = \"torn\n", "notes.txt": "x"})
	s := served(t, dir)
	_, body := got(t, s, "/")
	assert.Contains(t, body, `<a href="/t/larkfield-brinewater/strips/4/9">read step 9 again</a>`)
	assert.Contains(t, body, `<a href="/control/control">develop 23 % longer, or mix afresh.</a>`)
	assert.Contains(t, body, `<a href="/t/torn">torn.toml cannot be read</a>: line 1: `)
	assert.Contains(t, body, `<p>Seven stops: <b>5:55</b> at <b>80</b>. ISO 125/22° at 7:00. Five strips, 4:00 to 10:00; one reading questioned, one step not read.</p>`)
	assert.Contains(t, body, "Two films in three developments, two papers, one control log, one roll, three procedures and one file that cannot be read. Last changed on ")
	assert.Contains(t, body, `<a class="button first" href="/strips/new">Key in a strip</a>`)
	dates := regexp.MustCompile(`datetime="([^"]*)"`).FindAllStringSubmatch(body, -1)
	require.Len(t, dates, 8)
	for i := range dates[1:] {
		assert.GreaterOrEqual(t, dates[i][1], dates[i+1][1])
	}
	assert.Greater(t, strings.Index(body, ">harbour.csv<"), strings.LastIndex(body, "datetime="), "undated files come last")

	// What is done is gone from the list at the next request.
	file := filepath.Join(dir, "larkfield-brinewater.toml")
	old, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, []byte(strings.Replace(string(old), "1.18", "1.08", 1)), 0o666))
	_, body = got(t, s, "/")
	assert.NotContains(t, body, "read step 9 again")
	assert.NotContains(t, body, "questioned")
	require.NoError(t, os.Remove(file))
	_, body = got(t, s, "/")
	assert.NotContains(t, body, "/t/larkfield-brinewater")
}

// At most five tasks are told, and how many there are beyond.
func TestMoreTasks(t *testing.T) {
	torn := map[string]string{}
	for i := range 7 {
		torn[fmt.Sprintf("torn%d.toml", i)] = "title = \"torn\n"
	}
	_, body := got(t, served(t, demoNotebook(t, torn)), "/")
	list := regexp.MustCompile(`(?s)<ol class="todo">.*?</ol>`).FindString(body)
	assert.Equal(t, 5, strings.Count(list, "<li>"))
	assert.Contains(t, body, "and 5 more")
}

// Films that were developed by a trial are no strips: its page does not date these by them.
func TestTrialDates(t *testing.T) {
	old, err := os.ReadFile(filepath.Join(demo, "larkfield-brinewater.toml"))
	require.NoError(t, err)
	done := "\n[[done]]\ndate = 2026-05-02\nminutes = 6\n"
	undated := regexp.MustCompile(`(?m)^developed .*\n`).ReplaceAllString(string(old), "")
	s := served(t, demoNotebook(t, map[string]string{"dated.toml": string(old) + done, "undated.toml": undated + done}))
	_, body := got(t, s, "/t/dated")
	assert.Contains(t, text(body), "developed from 2 to 3 March 2026: five strips")
	_, body = got(t, s, "/t/undated")
	assert.Contains(t, text(body), "continuous agitation: five strips")
}

// A notebook without files asks what there is; one with a single trial leads straight to
// its next strip.
func TestFirstRun(t *testing.T) {
	dir := t.TempDir()
	s := served(t, dir)
	status, body := got(t, s, "/")
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, body, "What you have")
	assert.Contains(t, body, `<a href="/new">Key in readings</a>`)
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/strips/new", nil))
	assert.Equal(t, "/new", w.Header().Get("Location"))

	one, err := os.ReadFile(filepath.Join(demo, "larkfield-camera.toml"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "one more.toml"), one, 0o666))
	_, body = got(t, s, "/")
	assert.Contains(t, body, `<a class="button first" href="/t/one%20more/strips/new">Key in a strip</a>`)
	_, body = got(t, s, "/strips/new")
	assert.Contains(t, body, `href="/t/one%20more/strips/new">Larkfield 125 in Brinewater 1&#43;19, in camera</a>`)
}

// strips returns a file of the demonstration with its first strips alone.
func strips(t testing.TB, name string, n int) string {
	data, err := os.ReadFile(filepath.Join(demo, name))
	require.NoError(t, err)
	return strings.Join(strings.Split(string(data), "[[strip]]")[:n+1], "[[strip]]")
}

// A trial of a single time gives curves and speed, and says what is wanted for a time.
func TestTooFewStrips(t *testing.T) {
	const file = "larkfield-brinewater.toml"
	s := served(t, demoNotebook(t, map[string]string{"one.toml": strips(t, file, 1), "two.toml": strips(t, file, 2), "none.toml": strips(t, file, 0)}))
	status, body := got(t, s, "/t/one")
	page := text(body)
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, page, "speed at 4:00 107 ")
	assert.Contains(t, page, "Two more strips, each for another time, make its times sure.")
	assert.NotContains(t, page, "set the meter to")
	assert.Contains(t, body, `class="at-wide"`)
	assert.Contains(t, page, "4:00 0.096 ±0.005 107 ±8 0.421 ±0.006 0.46 1.24")

	_, body = got(t, s, "/t/two")
	assert.Contains(t, text(body), "develop 6:05 ")
	assert.Contains(t, text(body), "One more strip, for another time, checks its times.")

	status, body = got(t, s, "/t/none")
	assert.Equal(t, http.StatusUnprocessableEntity, status) // a trial has a strip
	assert.Contains(t, body, "none.toml cannot be read")
}

// Readings stand as they were read: questioned ones lead to their step, left-out ones are
// in brackets, and a light meter's stay EV.
func TestReadings(t *testing.T) {
	out := strings.Replace(strips(t, "larkfield-brinewater.toml", 5), "[[strip]]", "[[strip]]\nignore = [2]", 1)
	s := served(t, demoNotebook(t, map[string]string{"out.toml": out}))
	_, body := got(t, s, "/t/out")
	assert.Contains(t, body, `<a href="/t/out/strips/4/9">1.18?</a>`)
	assert.Contains(t, body, `<span class="vh">left out, </span>(1.17)`)
	assert.Contains(t, body, `<td class="soft"><span class="vh">not read</span>–</td>`)
	assert.Contains(t, body, `<th scope="row" class="nb"><a href="/t/out/strips/1">4:00</a></th>`)
	_, body = got(t, s, "/t/larkfield-meter")
	trial, err := notebook.ReadFile(filepath.Join(demo, "larkfield-meter.toml"))
	require.NoError(t, err)
	spec := trial.Spec()
	row := "4 −0.50"
	for _, strip := range spec.Strips {
		row += " " + strconv.FormatFloat(float64(strip.Density[3]), 'f', 1, 64)
	}
	assert.Contains(t, text(body), row+" 5 ")
	assert.Contains(t, text(body), "Read by a light meter in EV.")
}

// The page of a file that cannot be read names its faults and shows the lines.
func TestBrokenFile(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(demo, "larkfield-camera.toml"))
	require.NoError(t, err)
	text := regexp.MustCompile(`temperature_c *= 20.0`).ReplaceAllString(string(data), "temperature_c = 200 # <hot>\x07")
	line := 1 + strings.Count(text[:strings.Index(text, "= 200")], "\n")
	s := served(t, demoNotebook(t, map[string]string{"hot.toml": strings.ReplaceAll(text, "\x07", ""), "bell.toml": text}))
	status, body := got(t, s, "/t/hot")
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, body, "<h1>hot.toml cannot be read</h1>")
	assert.Contains(t, body, fmt.Sprintf("Line %d: process.temperature_c: 200 degrees C is outside", line))
	assert.Contains(t, body, fmt.Sprintf("<em>%4d  temperature_c = 200 # &lt;hot&gt;</em>", line))
	status, body = got(t, s, "/t/bell")
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, body, `&lt;hot&gt;\a`)
}

// The log has every development of the log's report, and leads to its trial.
func TestLog(t *testing.T) {
	s := served(t, demoNotebook(t, map[string]string{"torn.toml": "title = \"torn\n[film]"}))
	_, body := got(t, s, "/log")
	page := text(body)
	assert.Contains(t, page, "24 March 2026 Tern 400 in Ashlar 1+31 2 test strips, 9:00 to 12:00 at 20 °C.")
	assert.Contains(t, body, `<a href="/t/tern-ashlar">24 March 2026</a>`)
	assert.Contains(t, page, "2 March 2026 5:00 20 °C strip 2 of larkfield-brinewater.toml; pinhole in step 13, not read")
	assert.Contains(t, page, "control.toml : 28 strips, 2026-03-02 to 2026-06-04")
	assert.Contains(t, page, "Left out torn.toml: Cannot be read: line 1")
	assert.Contains(t, body, `class="at-narrow"`)
	assert.Equal(t, 3, strings.Count(body, `aria-label="Developments of `))
	_, body = got(t, served(t, t.TempDir()), "/log")
	assert.Contains(t, body, "No development is recorded.")
}

// Topics are set in HTML, and each term of the glossary has its place.
func TestHelp(t *testing.T) {
	s := served(t, t.TempDir())
	_, body := got(t, s, "/help/words")
	for _, id := range []string{"base-plus-fog", "contrast-index", "toe", "shoulder", "N+1", "log-H", "EI"} {
		assert.Contains(t, body, `<strong id="`+strings.ToLower(id)+`">`)
	}
	_, body = got(t, s, "/help/files")
	assert.Contains(t, body, `<pre tabindex="0" role="region" aria-label="Example 1"><code>`)
	assert.Contains(t, body, "<table>")
	status, _ := got(t, s, "/help/unheard-of")
	assert.Equal(t, http.StatusNotFound, status)
}

// The page of a trial and that of its film over time say that it was read in pictures, and call nothing an ISO speed.
func TestPicturedScreens(t *testing.T) {
	trial, err := notebook.ReadFile(filepath.Join(demo, "larkfield-brinewater.toml"))
	require.NoError(t, err)
	spec := trial.Spec()
	spec.Calibrations = []sensito.Calibration{{Name: "bed", Repeatability: 0.006, Covariance: [3][3]float64{{1e-4, 0, 0}, {0, 1e-4, 0}, {0, 0, 1e-6}}}}
	for i := range spec.Strips {
		spec.Strips[i].Calibration = "bed"
	}
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	s := served(t, demoNotebook(t, map[string]string{"pictured.toml": string(notebook.Format(trial))}))
	const why = "eadings are from pictures, so these are not ISO 5 densities, no speed here is an ISO speed, and the contrast condition of ISO 6 is not judged"
	_, body := got(t, s, "/t/pictured")
	page := text(body)
	assert.Contains(t, page, "Read in pictures.")
	assert.Contains(t, page, why)
	assert.NotContains(t, page, "contrast is met at")
	_, body = got(t, s, "/t/larkfield-brinewater")
	assert.Contains(t, text(body), "contrast is met at")
	assert.NotContains(t, text(body), "pictures")

	status, body, _ := followed(t, muxOf(s), "/family?trial=pictured")
	require.Equal(t, 200, status)
	assert.Contains(t, text(body), "R"+why)
	assert.NotContains(t, text(body), "contrast of ISO 6 at")
	assert.NotContains(t, text(body), "The contrast of ISO 6 is not met")
}
