package page_test

import (
	"fmt"
	"html"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/ask"
	"sensito/sensito/notebook/notebooktest"
)

// withSD is a quantity of --json as a cell of a page, with its standard deviation.
func withSD(t testing.TB, v any, places int) string {
	if v == nil {
		return `<span class="vh">[^<]*</span>–`
	}
	sd := fixedText(number(t, v, "sd"), places)
	if !strings.ContainsAny(sd, "123456789") && places > 0 {
		sd = sd[:len(sd)-1] + "1"
	}
	return regexp.QuoteMeta(fixedText(number(t, v, "value"), places)) + ` <span class="pm">±` + sd + `</span>`
}

// rowOf is a row of a table, as a pattern.
func rowOf(head string, cells ...string) string {
	text := regexp.QuoteMeta(head) + "</th>"
	for _, c := range cells {
		text += `<td[^>]*>` + c + `</td>`
	}
	return text
}

// The numbers of the way to the print are those of tone --json.
func TestToneAsJSON(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := muxOf(served(t, dir))
	slate, control := filepath.Join(dir, "slate.toml"), filepath.Join(dir, "control.toml")
	for _, c := range []struct {
		trial string
		flags []string
	}{
		{"larkfield-brinewater", []string{"range", "7", "paper", slate, "grade", "2"}},
		{"larkfield-brinewater", []string{"range", "8.5", "paper", slate, "grade", "1", "enlarger", "condenser", "callier", "1.4"}},
		{"larkfield-brinewater", []string{"range", "7", "paper", slate, "grade", "2", "flare", "none", "at", "22.5"}},
		{"larkfield-brinewater", []string{"range", "7", "paper", slate, "grade", "3", "control", control, "correct", "true", "confidence", "0.8"}},
	} {
		j := asked(t, &ask.Tone{}, filepath.Join(dir, c.trial+".toml"), c.flags...)
		status, body, _ := followed(t, s, "/tone?trial="+c.trial+"&"+inQuery(c.flags))
		page, about := text(body), fmt.Sprint(c)
		require.Equal(t, http.StatusOK, status, page)
		assert.Contains(t, page, "develop "+timeText(t, j["minutes"]), about)
		assert.Contains(t, page, "is "+fixedText(number(t, j, "mid_gradient"), 2)+"; 1 would be that of the scene", about)
		if lift := number(t, j, "flare_lift_log_h"); lift > 0 {
			assert.Contains(t, page, "Flare lifts the darkest tone by "+fixedText(lift, 2), about)
		}
		tones := j["tones"].([]any)
		require.Greater(t, len(tones), 5)
		for _, tone := range tones {
			m := tone.(map[string]any)
			gradient := `<span class="vh">[^<]*</span>–`
			if m["print_density"] != nil {
				gradient = fixedText(number(t, m, "gradient"), 2)
			}
			stops := number(t, m, "stops_from_meter")
			head := strings.TrimSuffix(strings.TrimSuffix(fixedText(stops, 1), "0"), ".")
			if stops > 0 {
				head = "+" + head
			}
			assert.Regexp(t, rowOf(head, fixedText(number(t, m, "film_log_h_lxs"), 2), withSD(t, m["net_density"], 2), fixedText(number(t, m, "paper_log_h_lxs"), 2), withSD(t, m["print_density"], 2), gradient), html.UnescapeString(body), about)
		}
		for _, w := range j["warnings"].([]any) {
			message := w.(map[string]any)["message"].(string)
			assert.Contains(t, strings.ToLower(page), strings.ToLower(strings.Join(strings.Fields(message), " ")), about)
		}
		assert.Empty(t, faults(t, body), about)
		assert.Equal(t, 2, strings.Count(body, "<svg "), "a figure at both widths")
	}
}

// The numbers of a film over time are those of family --json.
func TestFamilyAsJSON(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := muxOf(served(t, dir))
	slate, control := filepath.Join(dir, "slate.toml"), filepath.Join(dir, "control.toml")
	for _, c := range []struct {
		trial string
		flags []string
	}{
		{"larkfield-brinewater", nil},
		{"larkfield-brinewater", []string{"range", "7"}},
		{"larkfield-brinewater", []string{"range", "7", "paper", slate, "grade", "2", "at", "22.5"}},
		{"larkfield-brinewater", []string{"control", control, "correct", "true", "confidence", "0.8"}},
		{"larkfield-camera", []string{"range", "6"}},
		{"tern-ashlar", nil},
	} {
		j := asked(t, &ask.Family{}, filepath.Join(dir, c.trial+".toml"), c.flags...)
		status, body, _ := followed(t, s, "/family?trial="+c.trial+"&"+inQuery(c.flags))
		page, about := text(body), fmt.Sprint(c)
		require.Equal(t, http.StatusOK, status, page)
		iso := j["iso"].(map[string]any)
		if iso["minutes"] != nil {
			assert.Contains(t, page, "contrast of ISO 6 at "+timeText(t, iso["minutes"]), about)
			e := iso["speed"]
			assert.Contains(t, page, fmt.Sprintf("exactly %.0f, %.0f to %.0f", number(t, e, "value"), number(t, e, "low"), number(t, e, "high")), about)
		} else {
			assert.Contains(t, page, "The contrast of ISO 6 is not met", about)
		}
		if was := iso["minutes_as_tested"]; was != nil {
			assert.Contains(t, page, "As tested, the contrast of ISO 6 is met at "+clock(number(t, was, "value")), about)
		}
		if m := j["marked"]; m != nil {
			assert.Contains(t, page, "develop "+timeText(t, m.(map[string]any)["minutes"]), about)
		} else {
			assert.NotContains(t, page, " develop ", about)
		}
		law := j["contrast"].(map[string]any)
		assert.Contains(t, page, fmt.Sprintf("Its limit is %s ±%s, its rate %s ±%s a minute", fixedText(number(t, law, "limit", "value"), 3), fixedText(number(t, law, "limit", "sd"), 3),
			fixedText(number(t, law, "rate_per_min", "value"), 3), fixedText(number(t, law, "rate_per_min", "sd"), 3)), about)
		points := j["points"].([]any)
		require.NotEmpty(t, points)
		for _, p := range points {
			m := p.(map[string]any)
			minutes := number(t, m, "minutes")
			assert.Regexp(t, rowOf(fmt.Sprintf("%d:%02.0f", int(minutes), 60*(minutes-float64(int(minutes)))), withSD(t, m["base_fog"], 3), withSD(t, m["speed"], 0), withSD(t, m["contrast_index"], 3),
				withSD(t, m["average_gradient"], 3), `[\d.]+ <span class="pm">±[\d.]+</span>`), body, about)
		}
		for _, w := range j["warnings"].([]any) {
			message := w.(map[string]any)["message"].(string)
			assert.Contains(t, strings.ToLower(page), strings.ToLower(strings.Join(strings.Fields(message), " ")), about)
		}
		assert.Empty(t, faults(t, body), about)
		assert.Equal(t, 2, strings.Count(body, "<svg "), "a figure at both widths")
	}
}

// A page of the way to the print takes a paper of the notebook where none is said; what
// cannot be asked is told, with the form.
func TestToneAsks(t *testing.T) {
	s := muxOf(served(t, demoNotebook(t, nil)))
	for query, want := range map[string]string{
		"":            "/tone?paper=foxglove&range=7&trial=tern-ashlar",
		"paper=slate": "/tone?grade=2&paper=slate&range=7&trial=tern-ashlar",
		"range=6&aim=paper%3Dslate%26grade%3D1&trial=larkfield-brinewater": "/tone?grade=1&paper=slate&range=6&trial=larkfield-brinewater",
	} {
		status, body, at := followed(t, s, "/tone?"+query)
		assert.Contains(t, []int{http.StatusOK, http.StatusUnprocessableEntity}, status, text(body))
		assert.Equal(t, want, at)
	}
	for address, want := range map[string]string{
		"/tone?trial=larkfield-brinewater&range=7&paper=none&grade=2":  "There is no file",
		"/tone?trial=larkfield-brinewater&range=x&paper=slate&grade=2": "is not a number",
		"/family?trial=larkfield-brinewater&paper=slate&grade=2":       "--range",
		"/family?trial=larkfield-brinewater&colour=red":                "Unknown flag: --colour.",
	} {
		status, body, _ := followed(t, s, address)
		assert.Equal(t, http.StatusBadRequest, status, address)
		assert.Contains(t, text(body), want, address)
		assert.Contains(t, body, `<form method="get"`, address)
	}
	s = muxOf(served(t, t.TempDir()))
	for _, address := range []string{"/tone", "/family"} {
		status, _, _ := followed(t, s, address)
		assert.Equal(t, http.StatusNotFound, status, address)
	}
	dir := demoNotebook(t, map[string]string{"one.toml": notebooktest.Good})
	status, body, _ := followed(t, muxOf(served(t, dir)), "/family?trial=one")
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, text(body), "The strips cannot tell.")
}
