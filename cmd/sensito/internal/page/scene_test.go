package page_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/report"
)

// asked returns what a command answers, as --json writes it; flags are name and value in
// turn, and files paths.
func asked(t testing.TB, q interface{ Register(*pflag.FlagSet) }, path string, flags ...string) map[string]any {
	t.Helper()
	f := pflag.NewFlagSet("", pflag.ContinueOnError)
	q.Register(f)
	for i := 0; i < len(flags); i += 2 {
		require.NoError(t, ask.Set(f, flags[i], flags[i+1]))
	}
	from := console.New(strings.NewReader(""), io.Discard, io.Discard)
	var a ask.Answer
	var err error
	switch q := q.(type) {
	case *ask.Scene:
		a, err = q.Ask(from, path)
	case *ask.Card:
		a, err = q.Ask(from, path)
	case *ask.Sheet:
		a, err = q.Ask(from, path)
	case *ask.Tone:
		a, err = q.Ask(from, path)
	case *ask.Family:
		a, err = q.Ask(from, path)
	default:
		t.Fatalf("%T", q)
	}
	require.NoError(t, err)
	r, err := a.Report()
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, report.JSON(&b, r))
	var out map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &out))
	return out
}

// inQuery returns flags as an address has them, whose files are without ending.
func inQuery(flags []string) string {
	v := url.Values{}
	for i := 0; i < len(flags); i += 2 {
		v.Add(flags[i], strings.TrimSuffix(filepath.Base(flags[i+1]), ".toml"))
	}
	return v.Encode()
}

// followed returns what a GET comes to, with the address after redirects.
func followed(t testing.TB, s *http.ServeMux, address string) (status int, body, at string) {
	t.Helper()
	for range 4 {
		w := httptest.NewRecorder()
		s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
		if w.Code/100 != 3 {
			return w.Code, w.Body.String(), address
		}
		address = w.Header().Get("Location")
	}
	t.Fatalf("%s leads on and on", address)
	return 0, "", ""
}

func muxOf(h http.Handler) *http.ServeMux {
	m := http.NewServeMux()
	m.Handle("/", h)
	return m
}

// timeText is a quantity of --json as a page tells it.
func timeText(t testing.TB, v any) string {
	if m, is := v.(map[string]any); is && m["low"] != nil && m["high"] != nil {
		return fmt.Sprintf("%s %s to %s", clock(number(t, v, "value")), clock(number(t, v, "low")), clock(number(t, v, "high")))
	}
	return clock(number(t, v, "value"))
}

func fixedText(v float64, places int) string {
	return strings.Replace(strconv.FormatFloat(v, 'f', places, 64), "-", "−", 1)
}

// The numbers of a scene's page are those of scene --json.
func TestSceneAsJSON(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := muxOf(served(t, dir))
	slate, control := filepath.Join(dir, "slate.toml"), filepath.Join(dir, "control.toml")
	for _, c := range []struct {
		trial string
		flags []string
	}{
		{"larkfield-brinewater", []string{"range", "7"}},
		{"larkfield-brinewater", []string{"range", "6.5", "paper", slate, "grade", "2"}},
		{"larkfield-brinewater", []string{"range", "7", "paper", slate, "grade", "3", "enlarger", "condenser", "callier", "1.4"}},
		{"larkfield-brinewater", []string{"range", "9", "density-range", "1.25", "flare", "veil=0.01"}},
		{"larkfield-brinewater", []string{"range", "7", "scan", "1.5"}},
		{"larkfield-brinewater", []string{"range", "7", "grade", "2", "flare", "none"}},
		{"larkfield-brinewater", []string{"range", "7", "at", "22.5", "agitation", "intermittent"}},
		{"larkfield-brinewater", []string{"range", "7", "at", "70F", "ends-at", "75F", "q10", "2.5"}},
		{"larkfield-brinewater", []string{"range", "7", "control", control, "correct", "true"}},
		{"larkfield-brinewater", []string{"range", "7", "index", "160"}},
		{"larkfield-brinewater", []string{"range", "7", "exposed-at", "40", "keep", "range"}},
		{"larkfield-brinewater", []string{"range", "8", "index", "125", "keep", "metered", "paper", slate, "grade", "2"}},
		{"larkfield-brinewater", []string{"shadow", "8@III", "highlight", "13@VIII", "aperture", "16", "filter", "2x"}},
		{"larkfield-brinewater", []string{"range", "7", "confidence", "0.8", "keep-all", "true", "sd-from", "repeatability"}},
		{"larkfield-camera", []string{"range", "7", "shadow-stops", "3"}},
		{"tern-ashlar", []string{"range", "8"}},
	} {
		j := asked(t, &ask.Scene{}, filepath.Join(dir, c.trial+".toml"), c.flags...)
		status, body, _ := followed(t, s, "/scene?trial="+c.trial+"&"+inQuery(c.flags))
		page := text(body)
		about := fmt.Sprint(c)
		require.Equal(t, http.StatusOK, status, about)
		assert.Contains(t, page, "develop "+timeText(t, j["minutes"]), about)
		given, _ := j["at_index"].(map[string]any)
		e := j["exposure_index"]
		if given == nil {
			assert.Contains(t, page, fmt.Sprintf("exactly %.0f, %.0f to %.0f", number(t, e, "value"), number(t, e, "low"), number(t, e, "high")), about)
			d := j["delivered_density_range"]
			assert.Contains(t, page, fmt.Sprintf("a density range of %.2f (%.2f to %.2f)", number(t, d, "value"), number(t, d, "low"), number(t, d, "high")), about)
		} else {
			assert.Contains(t, page, fmt.Sprintf("normally %s at EI %.0f", clock(number(t, given, "normal", "minutes", "value")), number(t, given, "normal", "exposure_index", "value")), about)
			if lost := number(t, given, "scene_lost_stops"); lost >= 0.05 {
				assert.Contains(t, page, fmt.Sprintf("%.1f of the", number(t, given, "scene_left_stops")), about)
			}
		}
		if was := j["minutes_as_tested"]; was != nil {
			assert.Contains(t, page, "As tested, it would be "+clock(number(t, was, "value")), about)
		}
		if was, is := j["uncorrected"].(map[string]any); is {
			assert.Contains(t, page, "Without the correction it would be "+clock(number(t, was, "minutes", "value")), about)
		}
		if ev := j["ev"]; ev != nil {
			assert.Contains(t, page, fmt.Sprintf("Expose at EV %.1f", number(t, ev, "value")), about)
		}
		for _, tone := range j["tones"].([]any) {
			if tone.(map[string]any)["net_density"] == nil {
				continue
			}
			stops := number(t, tone, "stops_from_meter")
			row := fmt.Sprintf(`%s</th>(<td[^>]*>[a-z]*</td>)<td>%s</td><td>%s`, sign(stops), fixedText(number(t, tone, "film_log_h_lxs"), 2), fixedText(number(t, tone, "net_density", "value"), 2))
			if m := tone.(map[string]any); m["print_density"] != nil {
				row += `</td><td>` + fixedText(number(t, tone, "print_density", "value"), 2)
			}
			shown := regexp.MustCompile(row).MatchString(html.UnescapeString(body))
			placed := 4.0
			if c.trial == "larkfield-camera" {
				placed = 3
			}
			if n := number(t, j, "scene_range_stops"); stops >= -placed && stops <= n-placed && j["metering"] == nil {
				assert.True(t, shown, "%s: %s", about, row)
			}
		}
		for _, w := range j["warnings"].([]any) {
			message, _ := w.(map[string]any)["message"].(string)
			require.NotEmpty(t, message)
			assert.Contains(t, strings.ToLower(page), strings.ToLower(strings.Join(strings.Fields(message), " ")), about)
		}
		assert.Empty(t, faults(t, body), about)
	}
}

// sign returns stops as a page has them.
func sign(v float64) string {
	text := fixedText(v, 0)
	if v > 0 {
		text = "+" + text
	}
	return regexp.QuoteMeta(text)
}

// The numbers of a roll's page are those of scene --roll --json.
func TestRollAsJSON(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := muxOf(served(t, dir))
	for _, flags := range [][]string{{}, {"paper", filepath.Join(dir, "slate.toml"), "grade", "2"}, {"scan", "1.6"}} {
		j := asked(t, &ask.Scene{}, filepath.Join(dir, "larkfield-brinewater.toml"), append(flags, "roll", filepath.Join(dir, "harbour.csv"))...)
		status, body, _ := followed(t, s, "/scene?trial=larkfield-brinewater&roll=harbour.csv&"+inQuery(flags))
		require.Equal(t, http.StatusOK, status)
		page := text(body)
		assert.Contains(t, page, "A roll of six scenes")
		assert.Contains(t, page, "develop "+timeText(t, j["minutes"]))
		frames := j["frames"].([]any)
		require.Len(t, frames, 6)
		for _, f := range frames {
			m := f.(map[string]any)
			row := fmt.Sprintf("%s %s %.3f ±%.3f", m["name"], fixedText(math.Round(100*number(t, f, "scene_range_stops"))/100, places(number(t, f, "scene_range_stops"))),
				number(t, f, "delivered_density_range", "value"), number(t, f, "delivered_density_range", "sd"))
			if m["print"] != nil {
				row += " " + m["print"].(string)
			}
			assert.Contains(t, page, row)
		}
		assert.Contains(t, page, "In the terminal: sensito scene")
		assert.Contains(t, page, "/harbour.csv")
	}
	status, _, at := followed(t, s, "/roll/harbour.csv")
	assert.Equal(t, http.StatusOK, status)
	assert.Equal(t, "/scene?roll=harbour.csv&trial=tern-ashlar", at)
}

func places(v float64) int {
	switch {
	case v == math.Trunc(v):
		return 0
	case 2*v == math.Trunc(2*v):
		return 1
	}
	return 2
}

// The buttons beside the range send the field again, and the last one counts; what the form
// leaves empty is not asked; the address that comes of it can be kept.
func TestTidied(t *testing.T) {
	s := muxOf(served(t, demoNotebook(t, nil)))
	for sent, want := range map[string]string{
		"trial=larkfield-brinewater&range=7&range=6.5":                                            "range=6.5&trial=larkfield-brinewater",
		"trial=larkfield-brinewater&range=7&range=7.5&aim=&flare=0.40&at=&keep=&index=":           "range=7.5&trial=larkfield-brinewater",
		"trial=larkfield-brinewater&range=6,5":                                                    "range=6.5&trial=larkfield-brinewater",
		"trial=larkfield-brinewater&range=7&flare=0.3":                                            "flare=fixed%3D0.3&range=7&trial=larkfield-brinewater",
		"trial=larkfield-brinewater&range=7&flare=veil%3D0.01":                                    "",
		"trial=larkfield-brinewater&range=7&aim=paper%3Dslate%26grade%3D2":                        "grade=2&paper=slate&range=7&trial=larkfield-brinewater",
		"trial=larkfield-brinewater&range=7&paper=slate&grade=2&aim=grade%3D3":                    "grade=2&range=7&trial=larkfield-brinewater",
		"trial=larkfield-brinewater&range=7&density-range=1.2&aim=density-range%3D1.05":           "density-range=1.2&range=7&trial=larkfield-brinewater",
		"trial=larkfield-brinewater&range=7&density-range=1.2&aim=scan%3D2.00&enlarger=diffusion": "range=7&scan=2.00&trial=larkfield-brinewater",
		"trial=larkfield-brinewater":                                                              "range=7&trial=larkfield-brinewater",
		"":                                                                                        "range=7&trial=tern-ashlar",
		"trial=larkfield-brinewater&shadow=&highlight=":                                           "",
	} {
		_, body, at := followed(t, s, "/scene?"+sent)
		if want == "" {
			want = sent
		}
		assert.Equal(t, "/scene?"+want, at, sent)
		assert.Contains(t, body, "<h1 data-made>A scene", sent)
	}
	_, body, _ := followed(t, s, "/scene?trial=larkfield-brinewater&range=7")
	assert.Contains(t, body, `name="range" value="6.5" aria-label="half a stop less"`)
	assert.Contains(t, body, `name="range" value="7.5" aria-label="half a stop more"`)
	first := regexp.MustCompile(`<button[^>]*>`).FindString(body[strings.Index(body, `class="ask"`):])
	assert.NotContains(t, first, "name=", "Enter in a field presses the first button")
	_, body, _ = followed(t, s, "/scene?trial=larkfield-brinewater&shadow=&highlight=")
	assert.Contains(t, body, `name="shadow"`)
	assert.NotContains(t, body, `role="alert"`, "an empty form is no fault")
}

// A query is refused as the command would refuse it; what was typed stays in the fields.
func TestRefused(t *testing.T) {
	s := muxOf(served(t, demoNotebook(t, nil)))
	for query, want := range map[string]string{
		"range=7&colour=red":               "Unknown flag: --colour.",
		"range=seven":                      `--range "seven" is not a number.`,
		"range=-6+to+3":                    `--range "-6 to 3" is from one tone to another: write the stops between them, 9, and --shadow-stops 6 where`,
		"range=0":                          "0 is outside",
		"range=7&shadow=8%40III":           "exclude each other: give one of them.",
		"range=7&density-range=9":          "Density range 9 is outside",
		"range=7&grade=9":                  `--grade "9" is not a grade from 0 to 5`,
		"range=7&paper=larkfield-meter":    `There is no file "larkfield-meter" of this kind`,
		"range=7&paper=..%2F..%2Fetc":      "There is no file",
		"range=7&keep=range":               "--keep goes with --index or --exposed-at.",
		"range=7&correct=true":             "--correct needs --control LOG",
		"range=7&ends-at=21":               "--ends-at goes with --at",
		"shadow=8%40III&highlight=8%40III": "",
	} {
		status, body, at := followed(t, s, "/scene?trial=larkfield-brinewater&"+query)
		assert.Equal(t, http.StatusBadRequest, status, query)
		assert.Contains(t, text(body), want, query)
		assert.Contains(t, body, "<form method=\"get\"", query)
		assert.NotContains(t, body, `class="answer"`, query)
		v, err := url.ParseQuery(at[strings.Index(at, "?")+1:])
		require.NoError(t, err)
		if r := v.Get("range"); r != "" {
			assert.Contains(t, body, fmt.Sprintf(`name="range" value="%s"`, r), query)
		}
	}
	status, _, _ := followed(t, s, "/scene?trial=none&range=7")
	assert.Equal(t, http.StatusNotFound, status)
	status, _, _ = followed(t, s, "/scene?trial=slate&range=7")
	assert.Equal(t, http.StatusNotFound, status)
}

// Where no time serves, the page says why and leads to questions that have one, with the
// time that they come to.
func TestNoTime(t *testing.T) {
	s := muxOf(served(t, demoNotebook(t, nil)))
	for _, query := range []string{"trial=larkfield-brinewater&range=3", "trial=larkfield-brinewater&range=4&paper=slate&grade=00", "trial=larkfield-brinewater&range=7&at=35"} {
		status, body, _ := followed(t, s, "/scene?"+query)
		require.Equal(t, http.StatusUnprocessableEntity, status, query)
		assert.Contains(t, text(body), "No time serves.", query)
		links := regexp.MustCompile(`<a class="button" href="(/scene[^"]*)">([^<]*): ([0-9:]+)</a>`).FindAllStringSubmatch(body, -1)
		require.NotEmpty(t, links, query)
		for _, l := range links {
			status, there, _ := followed(t, s, html.UnescapeString(l[1]))
			assert.Equal(t, http.StatusOK, status, l[1])
			assert.Contains(t, there, `<dd class="big">`+l[3]+`</dd>`, l[1])
		}
	}
}

// No value of any field reaches a page as more than text, and none breaks the server.
func TestHostileQueries(t *testing.T) {
	s := muxOf(served(t, demoNotebook(t, nil)))
	values := append(hostile, "-1", "1e400", "NaN", "+Inf", "-", "\x00", "\xff\xfe", strings.Repeat("9", 4000), `"><img src=x onerror=alert(1)>`, "javascript:alert(1)", "'; rm -rf /")
	tried := map[string]bool{}
	for _, page := range []struct {
		path string
		q    interface{ Register(*pflag.FlagSet) }
	}{{"/scene", &ask.Scene{}}, {"/card", &ask.Card{}}, {"/sheet", &ask.Sheet{}}, {"/tone", &ask.Tone{}}, {"/family", &ask.Family{}}} {
		path, f := page.path, pflag.NewFlagSet("", pflag.ContinueOnError)
		page.q.Register(f)
		keys := []string{"trial", "aim", `<b>"key`}
		f.VisitAll(func(f *pflag.Flag) {
			if !tried[f.Name] { // the query is one piece of code
				keys = append(keys, f.Name)
			}
			tried[f.Name] = true
		})
		for _, key := range keys {
			for _, v := range values {
				query := url.Values{"trial": {"larkfield-brinewater"}, key: {v}}
				if path != "/card" && key != "range" && key != "shadow" && key != "highlight" && key != "roll" && key != "minutes" {
					query.Set("range", "7")
				}
				address := path + "?" + query.Encode()
				status, body, _ := followed(t, s, address)
				require.Less(t, status, 500, address)
				if status == http.StatusOK && key != "note" {
					assert.Contains(t, []string{"aim", "index", "range"}, key, "%s: %q is taken", path, v)
				}
				assert.Empty(t, faults(t, body), address)
				assert.NotContains(t, body, "<img", address)
				assert.NotContains(t, body, "<script>", address)
				assert.NotContains(t, body, `<b>"key`, address)
			}
		}
	}
}

// inTerminal returns the words of the command that a page ends with, as a shell parts them.
func inTerminal(t testing.TB, body string) []string {
	t.Helper()
	m := regexp.MustCompile(`In the terminal: <code>(.*?)</code>`).FindStringSubmatch(body)
	require.NotNil(t, m)
	var words []string
	var word strings.Builder
	quoted, escaped := false, false
	for _, r := range html.UnescapeString(m[1]) + " " {
		switch {
		case escaped:
			word.WriteRune(r)
			escaped = false
		case r == '\'':
			quoted = !quoted
		case r == '\\' && !quoted:
			escaped = true
		case r == ' ' && !quoted:
			words = append(words, word.String())
			word.Reset()
		default:
			word.WriteRune(r)
		}
	}
	return words
}

// The command that a page ends with asks the same: it is taken apart, and answers with the
// time of the page.
func TestTerminalAsksTheSame(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "it's here")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demo)))
	s := muxOf(served(t, dir))
	t.Chdir(parent)
	for _, query := range []string{"range=7&paper=slate&grade=2&at=22.5", "range=7&control=control&correct=true", "shadow=10+1%2F3%403&highlight=15%40VIII&aperture=16&filter=2x&filter=%2B1+stop", "range=7&index=160&keep=metered", "roll=harbour.csv"} {
		status, body, _ := followed(t, s, "/scene?trial=larkfield-brinewater&"+query)
		require.Equal(t, http.StatusOK, status, text(body))
		words := inTerminal(t, body)
		require.Equal(t, []string{"sensito", "scene"}, words[:2])
		q, f := &ask.Scene{}, pflag.NewFlagSet("", pflag.ContinueOnError)
		q.Register(f)
		require.NoError(t, f.Parse(words[3:]), words)
		a, err := q.Ask(console.New(strings.NewReader(""), io.Discard, io.Discard), words[2])
		require.NoError(t, err, words)
		minutes := sensito.Minutes(0)
		if a.Roll != nil {
			minutes = a.Roll.Minutes.Value
		} else {
			minutes = a.Answer.Minutes.Value
		}
		assert.Contains(t, body, `<dd class="big">`+minutes.Clock(5)+`</dd>`, words)
	}

	// Of the way to the print, and of a film over time, the number that the question changes.
	within := func(words []string, of interface{ Register(*pflag.FlagSet) }) console.Streams {
		f := pflag.NewFlagSet("", pflag.ContinueOnError)
		of.Register(f)
		require.NoError(t, f.Parse(words[3:]), words)
		return console.New(strings.NewReader(""), io.Discard, io.Discard)
	}
	said := map[string]string{} // by the whole of what is asked
	for _, query := range []string{"paper=slate&grade=2&range=7", "paper=slate&grade=3&range=7", "paper=slate&grade=2&range=8.5&at=22.5&flare=none", "aim=paper%3Dslate%26grade%3D1&range=6,5&enlarger=condenser&callier=1.4",
		"paper=slate&grade=2&range=7&control=control&correct=true&confidence=0.8", "paper=foxglove&range=7"} {
		status, body, _ := followed(t, s, "/tone?trial=larkfield-brinewater&"+query)
		require.Equal(t, http.StatusOK, status, text(body))
		words := inTerminal(t, body)
		require.Equal(t, []string{"sensito", "tone"}, words[:2])
		q := &ask.Tone{}
		a, err := q.Ask(within(words, q), words[2])
		require.NoError(t, err, words)
		says := fmt.Sprintf("is %.2f; 1 would be that of the scene", a.Reproduction.Mid.Gradient)
		assert.Contains(t, text(body), says, words)
		assert.Contains(t, body, `<dd class="big">`+a.Reproduction.Answer.Minutes.Value.Clock(5)+`</dd>`, words)
		said[says+a.Reproduction.Answer.Minutes.Value.Clock(5)] = query
	}
	assert.Len(t, said, 6, "each question has an answer of its own")
	clear(said)
	for _, query := range []string{"", "range=7", "range=7&paper=slate&grade=2&at=22.5", "range=7&scan=1.9", "control=control&correct=true&confidence=0.8", "range=6&gradient-span=1.2"} {
		status, body, _ := followed(t, s, "/family?trial=larkfield-brinewater&"+query)
		require.Equal(t, http.StatusOK, status, text(body))
		words := inTerminal(t, body)
		require.Equal(t, []string{"sensito", "family"}, words[:2])
		q := &ask.Family{}
		a, err := q.Ask(within(words, q), words[2])
		require.NoError(t, err, words)
		says := a.Today.Minutes(a.Family.ISOMinutes).Value.Clock(5)
		if a.Mark != nil {
			says += " " + a.Mark.Minutes.Value.Clock(5)
		}
		for _, minutes := range strings.Fields(says) {
			assert.Contains(t, body, `<dd class="big">`+minutes+`</dd>`, words)
		}
		said[says] = query
	}
	assert.GreaterOrEqual(t, len(said), 5, said)
}

// Under red nothing of the browser's own pops up: choices are lists in full, with the same
// values.
func TestNoPopUpUnderRed(t *testing.T) {
	s := served(t, demoNotebook(t, nil))
	for _, address := range []string{"/scene?trial=larkfield-brinewater&range=7&paper=slate&grade=2", "/card?trial=larkfield-brinewater", "/sheet?trial=larkfield-brinewater&range=7",
		"/tone?trial=larkfield-brinewater&range=7&paper=slate&grade=2", "/family?trial=larkfield-brinewater"} {
		_, plain := got(t, s, address)
		r := httptest.NewRequest(http.MethodGet, address, nil)
		r.AddCookie(&http.Cookie{Name: "look", Value: "red"})
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		red := w.Body.String()
		assert.Contains(t, plain, "<select", address)
		options := regexp.MustCompile(`<option value="([^"]*)"( selected)?>`).FindAllStringSubmatch(plain, -1)
		radios := regexp.MustCompile(`<input type="radio" name="[^"]*" value="([^"]*)"( checked)?>`).FindAllStringSubmatch(red, -1)
		require.Len(t, radios, len(options))
		for i, o := range options {
			assert.Equal(t, o[1], radios[i][1])
			assert.Equal(t, o[2] != "", radios[i][2] != "", "%s: %s", address, o[1])
		}
		for _, forbidden := range []string{"<select", "<datalist", "type=\"date\"", "type=\"number\"", " title=", " required"} {
			assert.NotContains(t, red, forbidden, address)
		}
		assert.Contains(t, red, "novalidate", address)
	}
}
