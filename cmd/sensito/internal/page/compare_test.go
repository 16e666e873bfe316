package page_test

import (
	"fmt"
	"math"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/compare"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// signed is a number as a page tells it, with its sign.
func signed(v float64, places int) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	digits := strings.TrimPrefix(text, "-")
	switch {
	case !strings.ContainsAny(digits, "123456789"):
		return digits
	case v < 0:
		return "−" + digits
	}
	return "+" + digits
}

func familyOf(t testing.TB, name string) *development.Family {
	t.Helper()
	trial, err := notebook.ReadFile(filepath.Join(demo, name+".toml"))
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// part returns what a page says from one heading to the next.
func part(t testing.TB, body, heading string) string {
	t.Helper()
	_, after, found := strings.Cut(body, ">"+heading+"</h")
	require.True(t, found, heading)
	before, _, _ := strings.Cut(after, "</section>")
	return text(before)
}

// The differences of a page are those of compare --json, each under the heading that says
// whether it is proven.
func TestCompareAsJSON(t *testing.T) {
	names := []string{"larkfield-brinewater", "larkfield-ashlar", "tern-ashlar"}
	var families []*development.Family
	for _, n := range names {
		families = append(families, familyOf(t, n))
	}
	c, err := compare.Compare(families, compare.Options{Scene: scene.Scene{Stops: 6}})
	require.NoError(t, err)
	j := asJSON(t, report.NewCompare(c))
	status, body := got(t, served(t, demoNotebook(t, nil)), "/compare?trial=larkfield-brinewater&trial=larkfield-ashlar&trial=tern-ashlar&range=6")
	require.Equal(t, http.StatusOK, status)
	of := map[bool]string{true: part(t, body, "They differ"), false: part(t, body, "No difference shown")}
	places := map[string]int{"speed_stops": 2, "base_fog": 3, "minutes": 2, "toe_log_range": 2, "shadow_gradient": 3, "straightness": 3, "shoulder_log_range": 2,
		"usable_log_range": 2, "max_net_density": 2, "net_density": 3}
	seen := map[bool]int{}
	for _, d := range j["differences"].([]any) {
		d := d.(map[string]any)
		if d["difference"] == nil {
			continue
		}
		quantity := d["quantity"].(string)
		if at, is := d["stops_from_meter"].(float64); is && at != 0 && math.Abs(at) != 3 {
			continue
		}
		q := d["difference"].(map[string]any)
		if number(t, q, "sd") < 1e-6 {
			continue
		}
		real := d["significant"].(bool)
		seen[real]++
		ends := signed(number(t, q, "low"), places[quantity]) + " to " + signed(number(t, q, "high"), places[quantity])
		assert.Contains(t, of[real], ends, "%v", d)
		assert.Contains(t, of[real], signed(number(t, q, "value"), places[quantity])+" ", "%v", d)
	}
	assert.Greater(t, seen[true], 10)
	assert.Greater(t, seen[false], 5)
	assert.Contains(t, text(body), fmt.Sprintf("average gradient of %.3f", number(t, j, "gradient")))
	for i, trial := range j["trials"].([]any) {
		assert.Contains(t, text(body), clock(number(t, trial, "minutes", "value")), names[i])
	}
	assert.NotContains(t, strings.ToLower(text(body)), "the same ")
	assert.Contains(t, body, `value="larkfield-ashlar" checked`)
	assert.NotContains(t, body, `value="larkfield-camera" checked`)
	assert.Contains(t, body, `value="6"`)
}

// An interval lies about the line as its numbers do: on one side of it, or across.
func TestSpans(t *testing.T) {
	_, body := got(t, served(t, demoNotebook(t, nil)), "/compare")
	rows := regexp.MustCompile(`(?s)<td class="nb">(\S+) to (\S+)</td><td><svg viewBox="0 0 160 22".*?d="M(\S+) 11H(\S+)"`).FindAllStringSubmatch(body, -1)
	require.Len(t, rows, 9)
	for _, r := range rows {
		for i := 1; i <= 2; i++ {
			place, err := strconv.ParseFloat(r[i+2], 64)
			require.NoError(t, err)
			assert.Equal(t, strings.HasPrefix(r[i], "−"), place < 80, "%v", r[1:])
			assert.True(t, place >= 8 && place <= 152, "%v", r[1:])
		}
	}
	speed := rows[0]
	low, _ := strconv.ParseFloat(speed[3], 64)
	assert.Equal(t, 8.0, low, "the farther end is at the edge")
}

// Without trials a notebook compares one film in its developers, the older first; with too
// few, or a question that cannot be asked, the page says so and keeps the form.
func TestCompareAsks(t *testing.T) {
	s := served(t, demoNotebook(t, nil))
	_, body := got(t, s, "/compare")
	assert.Contains(t, body, "<h1>Larkfield 125: Brinewater 1&#43;19 or Ashlar 1&#43;9</h1>")
	for address, want := range map[string]struct {
		status int
		says   string
	}{
		"/compare?trial=tern-ashlar":                                     {http.StatusOK, "Choose two trials or more."},
		"/compare?trial=nothing":                                         {http.StatusNotFound, "There is no file"},
		"/compare?trial=slate&trial=tern-ashlar":                         {http.StatusNotFound, "There is no file"},
		"/compare?range=90":                                              {http.StatusBadRequest, "90"},
		"/compare?unheard-of=1":                                          {http.StatusBadRequest, "Unknown flag: --unheard-of"},
		"/compare?trial=tern-ashlar&trial=stand&range=7":                 {http.StatusNotFound, "There is no file"},
		"/compare?trial=larkfield-ashlar&trial=tern-ashlar&gradient=1.7": {http.StatusUnprocessableEntity, "They cannot be compared."},
	} {
		status, body := got(t, s, address)
		assert.Equal(t, want.status, status, address)
		assert.Contains(t, text(body), want.says, address)
		if status != http.StatusNotFound {
			assert.Contains(t, body, `<form class="choose"`, address)
		}
	}
	_, body = got(t, served(t, t.TempDir()), "/compare")
	assert.Contains(t, body, "A comparison takes two trials of film or more.")
}

// The numbers of a control log's page are those of control --json with the trial that tells
// them.
func TestControlAsJSON(t *testing.T) {
	log, err := notebook.ReadControlFile(filepath.Join(demo, "control.toml"))
	require.NoError(t, err)
	e, err := log.Evaluate(control.Options{Family: familyOf(t, "larkfield-brinewater")})
	require.NoError(t, err)
	j := asJSON(t, marshals{report.NewControl(e, report.DefaultConfidence)})
	s := served(t, demoNotebook(t, nil))
	_, body := got(t, s, "/control")
	page := text(body)
	change := j["change"].(map[string]any)
	assert.Contains(t, page, fmt.Sprintf("develop longer by %.0f %%", number(t, change, "time_percent", "value")))
	assert.Contains(t, page, fmt.Sprintf("%.0f %% to %.0f %%", number(t, change, "time_percent", "low"), number(t, change, "time_percent", "high")))
	assert.Contains(t, page, signed(number(t, change, "speed_stops", "value"), 2)+" "+signed(number(t, change, "speed_stops", "low"), 2)+" to "+signed(number(t, change, "speed_stops", "high"), 2))
	table := part(t, body, "Where it stands")
	for _, l := range change["levels"].([]any) {
		assert.Contains(t, table, fmt.Sprintf("%s ±%.3f", signed(number(t, l, "change", "value"), 3), number(t, l, "change", "sd")))
		if week := l.(map[string]any)["change_per_week"]; week != nil {
			assert.Contains(t, table, signed(number(t, week, "value"), 3))
		}
	}
	assert.Contains(t, page, "Out of control since 16 April (first signal 30 April): contrast began to fall.")
	assert.Contains(t, page, fmt.Sprintf("in %.0f of 100 logs", 100*number(t, j, "false_signal_share")))
	assert.Contains(t, page, "11 May: topped up with working solution.")
	assert.Contains(t, body, `<form method="post" action="/control/control" class="stack" novalidate><input type="hidden" name="token" value="token"><input type="hidden" name="hash" value="`)
	for _, field := range []string{"date", "base-fog", "low", "high", "note", "fresh"} {
		assert.Contains(t, body, `name="`+field+`"`)
	}
	_, body = got(t, s, "/control/control?rules=nelson&trial=larkfield-camera")
	assert.Contains(t, text(body), "--rules nelson --trial")
	status, _ := got(t, s, "/control/slate")
	assert.Equal(t, http.StatusNotFound, status)
	_, body = got(t, served(t, t.TempDir()), "/control")
	assert.Contains(t, body, `href="/help/control-strips"`)
}

// A log whose process is where it was says so, and tells no time and no missing trial.
func TestControlInControl(t *testing.T) {
	log, err := notebook.ReadControlFile(filepath.Join(demo, "control.toml"))
	require.NoError(t, err)
	data := readDemo(t, "control.toml")
	parts := strings.Split(data, "[[strip]]")
	require.Len(t, parts, 1+len(log.Strips()))
	s := served(t, demoNotebook(t, map[string]string{"early.toml": strings.Join(parts[:13], "[[strip]]")}))
	_, body := got(t, s, "/control/early")
	page := text(body)
	assert.Contains(t, body, "<b>In control</b>: no chart signals in 12 strips.")
	assert.NotContains(t, page, "develop longer by")
	assert.NotContains(t, page, "No trial of this film")
}

// What a plan proposes is what plan --json does, and a first test is asked for by questions.
func TestPlanAsJSON(t *testing.T) {
	p, err := testplan.Propose(familyOf(t, "larkfield-brinewater"), scene.Scene{Stops: 5}, testplan.Options{Within: 0.02})
	require.NoError(t, err)
	r := asJSON(t, report.NewPlan(p, report.Solution{}))
	s := served(t, demoNotebook(t, nil))
	_, body := got(t, s, "/plan?trial=larkfield-brinewater&range=5&within=2%25")
	page := text(body)
	assert.Contains(t, page, "now "+clock(number(t, r, "before", "value"))+" "+clock(number(t, r, "before", "low"))+" to "+clock(number(t, r, "before", "high")))
	steps := r["proposal"].(map[string]any)["steps"].([]any)
	require.Greater(t, len(steps), 1)
	for _, c := range steps {
		assert.Contains(t, page, fmt.Sprintf("%s %s to %s %.1f %%", c.(map[string]any)["text"], clock(number(t, c, "after", "low")), clock(number(t, c, "after", "high")), number(t, c, "within_percent")))
	}
	for _, line := range r["bench"].(map[string]any)["expose"].([]any) {
		assert.Contains(t, page, line)
	}
	assert.Contains(t, body, `name="within" value="2%"`)

	_, body = got(t, s, "/plan")
	assert.Contains(t, body, `href="/plan?trial=larkfield-ashlar"`)
	first, err := testplan.FirstTest(testplan.FirstTestSpec{Film: filmOf("Tern 400", 400), Minutes: 9})
	require.NoError(t, err)
	of := report.NewFirstTest(first, report.Solution{})
	_, body = got(t, s, "/plan?film=Tern+400&speed=400&minutes=9&developer=&way=contact")
	for _, line := range of.Bench.Expose {
		assert.Contains(t, text(body), line)
	}
	assert.Contains(t, text(body), "Expose 5 strips alike and develop them for 5:45, 7:00, 9:00, 11:30 and 14:30.")

	status, body := got(t, s, "/plan?film="+url.QueryEscape(hostile[0])+"&speed=many&minutes=9")
	assert.Equal(t, http.StatusBadRequest, status)
	assert.Contains(t, text(body), "--speed \"many\" is not a number")
	assert.Contains(t, body, `name="film" value="&lt;script&gt;alert(1)&lt;/script&gt;"`, "what was typed is kept")
	assert.Contains(t, body, `name="speed" value="many"`)
}

// The form that asks for another comparison sends its boxes in their order, so that the
// trial that others are held against stands first in it, whatever its name.
func TestComparedFirst(t *testing.T) {
	_, body := got(t, served(t, demoNotebook(t, nil)), "/compare?trial=larkfield-ashlar&trial=tern-ashlar")
	boxes := regexp.MustCompile(`name="trial" value="([^"]+)"( checked)?`).FindAllStringSubmatch(body, -1)
	require.Greater(t, len(boxes), 2)
	assert.Equal(t, []string{"larkfield-ashlar", " checked"}, boxes[0][1:])
	assert.Equal(t, []string{"tern-ashlar", " checked"}, boxes[1][1:])
	for _, b := range boxes[2:] {
		assert.Empty(t, b[2], b[1])
	}
}
