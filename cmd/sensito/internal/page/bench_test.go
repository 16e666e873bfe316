package page_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/ask"
	"sensito/sensito"
)

// The numbers of a card's page are those of card --json, and over temperature those of
// card --temperatures --json.
func TestCardAsJSON(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := muxOf(served(t, dir))
	for _, flags := range [][]string{{}, {"paper", filepath.Join(dir, "slate.toml"), "grade", "4"}, {"at", "24"}, {"control", filepath.Join(dir, "control.toml"), "correct", "true"}} {
		j := asked(t, &ask.Card{}, filepath.Join(dir, "larkfield-brinewater.toml"), flags...)
		status, body, _ := followed(t, s, "/card?trial=larkfield-brinewater&"+inQuery(flags))
		require.Equal(t, http.StatusOK, status)
		page := text(body)
		rows := j["rows"].([]any)
		require.Len(t, rows, 9)
		for _, r := range rows {
			m := r.(map[string]any)
			name := "N"
			if n := number(t, r, "n"); n != 0 {
				name += strings.TrimSuffix(strings.Replace(fmt.Sprintf("%+.1f", n), "-", "−", 1), ".0")
			}
			row := fmt.Sprintf("%s %s ", name, fixedText(number(t, r, "scene_range_stops"), places(number(t, r, "scene_range_stops"))))
			if m["minutes"] == nil {
				assert.Contains(t, page, row+"cannot be reached –")
				continue
			}
			star := ""
			if m["extrapolated"] == true {
				star = "*"
			}
			set, _ := sensito.Speed(number(t, r, "exposure_index", "value")).Standard()
			assert.Contains(t, page, row+fmt.Sprintf("%s%s %g %.2f", clock(number(t, r, "minutes", "value")), star, set, number(t, r, "contrast_index", "value")))
		}
		assert.Contains(t, page, "A starting point: verify.")
	}

	j := asked(t, &ask.Card{}, filepath.Join(dir, "larkfield-brinewater.toml"), "temperatures", "true")
	_, body, _ := followed(t, s, "/card?trial=larkfield-brinewater&temperatures=true")
	page := text(body)
	for _, r := range j["rows"].([]any) {
		row := fixedText(number(t, r, "temperature_c"), 0)
		if row == "20" {
			row += " as tested"
		}
		for _, at := range r.(map[string]any)["times"].([]any) {
			row += " " + clock(number(t, at, "minutes", "value"))
		}
		assert.Contains(t, page, row)
	}
}

// What a process sheet's page tells is what sheet --json tells.
func TestSheetAsJSON(t *testing.T) {
	dir := demoNotebook(t, nil)
	s := muxOf(served(t, dir))
	for _, flags := range [][]string{
		{"range", "7", "vessel", "tank 1000ml", "films", "6x 4x5in"},
		{"range", "7", "at", "22.5", "vessel", "drum 300ml, 50 turns a minute"},
		{"minutes", "6:30", "vessel", "tray 1l", "films", "6x 4x5in", "note", "the third <of> five"},
	} {
		j := asked(t, &ask.Sheet{}, filepath.Join(dir, "larkfield-brinewater.toml"), flags...)
		status, body, _ := followed(t, s, "/sheet?trial=larkfield-brinewater&"+inQuery(flags))
		require.Equal(t, http.StatusOK, status, text(body))
		page := text(body)
		assert.Contains(t, page, "develop "+sensito.Minutes(number(t, j, "develop_minutes")).Clock(1))
		for _, b := range j["baths"].([]any) {
			if m := b.(map[string]any); m["measure"] != nil {
				assert.Contains(t, page, m["measure"])
			}
		}
		steps := j["steps"].([]any)
		require.NotEmpty(t, steps)
		assert.Equal(t, len(steps), strings.Count(body, `<td class="l"><b class="indark">Dark</b></td>`)+strings.Count(body, `<td class="l">Light</td>`))
		for _, of := range steps {
			m := of.(map[string]any)
			name := m["name"].(string)
			assert.Contains(t, page, strings.ToUpper(name[:1])+name[1:])
			if m["start_min"] != nil && m["minutes"] != nil {
				assert.Contains(t, page, sensito.Minutes(number(t, of, "start_min")).Clock(1)+" "+sensito.Minutes(number(t, of, "minutes")).Clock(1)+" "+strings.ToUpper(name[:1])+name[1:])
			}
		}
		for _, c := range j["cautions"].([]any) {
			assert.Contains(t, page, c)
		}
		if note := j["note"].(string); note != "" {
			assert.Contains(t, page, strings.ToUpper(note[:1])+note[1:])
		}
		assert.Empty(t, faults(t, body))
	}
}

// A card and a sheet are files to keep, of the page that was asked for, and refused as their
// pages are.
func TestPDF(t *testing.T) {
	s := served(t, demoNotebook(t, nil))
	for address, want := range map[string]string{
		"/card.pdf?trial=larkfield-brinewater&page=a6":              "/MediaBox",
		"/card.pdf?trial=larkfield-brinewater&page=index":           "/MediaBox",
		"/card.pdf?trial=larkfield-brinewater&temperatures=true":    "/MediaBox",
		"/sheet.pdf?trial=larkfield-brinewater&range=7&page=letter": "/MediaBox",
	} {
		w := httptest.NewRecorder()
		s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
		require.Equal(t, http.StatusOK, w.Code, address)
		assert.Equal(t, "application/pdf", w.Header().Get("Content-Type"), address)
		command, _, _ := strings.Cut(address[1:], ".")
		assert.Equal(t, "attachment; filename=larkfield-brinewater-"+command+".pdf", w.Header().Get("Content-Disposition"))
		assert.True(t, strings.HasPrefix(w.Body.String(), "%PDF-"), address)
		assert.Contains(t, w.Body.String(), want, address)
	}
	for address, want := range map[string]int{
		"/card.pdf?trial=larkfield-brinewater&page=a7":  http.StatusBadRequest,
		"/card.pdf?trial=larkfield-brinewater&colour=1": http.StatusBadRequest,
		"/sheet.pdf?trial=larkfield-brinewater&range=3": http.StatusUnprocessableEntity,
		"/sheet.pdf?trial=larkfield-brinewater":         http.StatusBadRequest,
		"/sheet.pdf?trial=nothing&range=7":              http.StatusNotFound,
	} {
		status, body := got(t, s, address)
		assert.Equal(t, want, status, address)
		assert.Contains(t, body, "</html>", address)
	}
}
