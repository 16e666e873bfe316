package report

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/control"
	"sensito/sensito/control/chart"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
	"sensito/sensito/report/internal/page"
)

func demoControl(t *testing.T, o control.Options) *Control {
	t.Helper()
	log, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	return controlOf(t, log, o)
}

func controlOf(t *testing.T, log *control.Log, o control.Options) *Control {
	t.Helper()
	c, err := log.Evaluate(o)
	require.NoError(t, err)
	return NewControl(c, DefaultConfidence)
}

// steadyLog is a log of strips that all read alike.
func steadyLog(t *testing.T, n int) *control.Log {
	t.Helper()
	log, err := notebook.ReadControl("c.toml", strings.NewReader(strings.Repeat("[[strip]]\ndate = 2026-03-02\nbase_fog = 0.1\nlow = 0.4\nhigh = 1.2\n", n)))
	require.NoError(t, err)
	return log
}

func demoFamily(t *testing.T) *development.Family {
	t.Helper()
	f, err := development.NewFamily(demoTrial(t, "larkfield-brinewater"), curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

func TestControlKeys(t *testing.T) {
	got := written(t, demoControl(t, control.Options{Family: demoFamily(t), Baseline: 8}))
	assert.Equal(t, "sensito/control/1", got["schema"])
	found := keys(t, "", got, map[string][]string{})
	assert.Equal(t, map[string][]string{
		"": {"advice", "baseline", "change", "charts", "dates", "false_signal_share", "first_signal", "log", "logged", "rules",
			"run_from_index", "schema", "warnings"},
		"advice[]":                          {"pattern", "usually"},
		"baseline":                          {"center", "from", "limits", "repeatability", "strips"},
		"change":                            {"fog", "levels", "speed_at_net_density", "speed_stops", "speed_unchanged_time_stops", "time_percent"},
		"change.levels[]":                   {"change", "change_per_week", "quantity", "shape", "since_date", "since_index"},
		"change.levels[].change":            quantityKeys,
		"change.levels[].change_per_week":   quantityKeys,
		"change.fog":                        quantityKeys,
		"change.speed_stops":                quantityKeys,
		"change.speed_unchanged_time_stops": quantityKeys,
		"change.time_percent":               quantityKeys,
		"charts[]":                          {"center", "falling_values", "kind", "lower", "quantity", "sigma", "signals", "upper", "values"},
		"charts[].signals[]":                {"index", "rule", "since_index"},
		"first_signal":                      {"date", "index", "kind", "quantity", "rule", "since_date", "since_index"},
		"warnings[]":                        warningKeys,
	}, found)
	assert.Equal(t, `"stop"`, raw(t, demoControl(t, control.Options{Family: demoFamily(t)}), "change", "speed_stops", "unit"))
	assert.Equal(t, "0.1", raw(t, demoControl(t, control.Options{Family: demoFamily(t)}), "change", "speed_at_net_density"))
}

func TestControlNulls(t *testing.T) {
	r := controlOf(t, steadyLog(t, 12), control.Options{})
	for _, path := range [][]any{{"first_signal"}, {"change", "speed_stops"}, {"change", "time_percent"}, {"change", "speed_unchanged_time_stops"}, {"change", "fog"}, {"baseline", "repeatability"}, {"change", "levels", 0, "since_index"},
		{"change", "levels", 0, "since_date"}, {"change", "levels", 0, "change_per_week"}, {"charts", 1, "values", 0}, {"charts", 0, "falling_values"}} {
		assert.Equal(t, "null", raw(t, r, path...), "%v", path)
	}
	assert.Equal(t, "[]", raw(t, r, "advice"))
	assert.Equal(t, "[]", raw(t, r, "charts", 0, "signals"))
	assert.Equal(t, `"first"`, raw(t, r, "baseline", "from"))
	assert.Equal(t, "null", raw(t, demoControl(t, control.Options{}), "baseline", "from"))
	assert.Equal(t, "[]", raw(t, demoControl(t, control.Options{}), "baseline", "strips"))
	assert.Equal(t, "[]", raw(t, demoControl(t, control.Options{Family: demoFamily(t)}), "warnings"))
	assert.Contains(t, text(t, r), "In control: no chart signals.")
	for _, r := range []Report{r, demoControl(t, control.Options{})} {
		assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull)
		assert.ErrorIs(t, JSON(full{}, r), errFull)
	}
}

// TestControlValues holds the JSON to the domain and to the log itself.
func TestControlValues(t *testing.T) {
	r := demoControl(t, control.Options{})
	out, err := json.Marshal(r)
	require.NoError(t, err)
	var got struct {
		Charts []struct {
			Quantity, Kind              string
			Center, Lower, Upper, Sigma float64
			Values                      []*float64
			Falling                     []float64 `json:"falling_values"`
		}
		Dates []string
	}
	require.NoError(t, json.Unmarshal(out, &got))
	require.Len(t, got.Charts, 12)
	require.Len(t, got.Dates, 28)
	strips := r.c.Log.Strips()
	for i, ch := range got.Charts {
		assert.Equal(t, string(chart.Kinds[i%4]), ch.Kind)
		require.Len(t, ch.Values, 28)
		assert.Less(t, ch.Lower, ch.Upper)
		if ch.Quantity != "low" {
			continue
		}
		assert.InDelta(t, 0.01, ch.Sigma, 1e-12, "a third of the limit")
		switch ch.Kind {
		case "individuals":
			assert.InDelta(t, 0.393, ch.Center, 1e-12)
			assert.InDelta(t, 0.423, ch.Upper, 1e-12)
			for k, v := range ch.Values {
				assert.InDelta(t, float64(strips[k].Low), *v, 1e-12)
			}
		case "moving_range":
			assert.Nil(t, ch.Values[0])
			assert.InDelta(t, math.Abs(float64(strips[1].Low-strips[0].Low)), *ch.Values[1], 1e-9)
			assert.InDelta(t, 3.267*1.128*0.01, ch.Upper, 2e-5, "D4 and d2 as handbooks print them")
		case "cusum":
			require.Len(t, ch.Falling, 28)
			assert.InDelta(t, 0.05, ch.Upper, 1e-12)
		}
	}
}

// A title that is longer than a line goes on in the next.
func TestControlLongTitle(t *testing.T) {
	log, err := control.NewLog(control.LogSpec{Title: strings.Repeat("A tank of Brinewater, ", 8) + "END", Strips: steadyLog(t, 12).Strips()})
	require.NoError(t, err)
	got := text(t, controlOf(t, log, control.Options{}))
	assert.Contains(t, got, " END\n")
	for line := range strings.Lines(got) {
		assert.LessOrEqual(t, page.Width(strings.TrimRight(line, "\n")), 80)
	}
}

func TestControlText(t *testing.T) {
	got := text(t, demoControl(t, control.Options{Family: demoFamily(t), Rules: chart.WesternElectric}))
	for line := range strings.Lines(got) {
		assert.LessOrEqual(t, page.Width(strings.TrimRight(line, "\n")), 96)
	}
	assert.NotContains(t, got, "\n\n\n")
	assert.Contains(t, got, "Out of control since 2026-04-16, strip 14. First signal: 2026-04-30, strip 18,\nby the ")
	assert.Contains(t, got, "Development time to come back to the contrast of the aim: +2")
	assert.Contains(t, got, "Speed at that time: -0.1")
	assert.Contains(t, got, "Speed is told at the speed point, net density 0.10")
	assert.Contains(t, got, "too little development: exhausted or oxidised")
	assert.Contains(t, got, "2026-05-11  topped up with working solution\n")
	assert.Contains(t, got, " Western Electric 1, 2, 3, 4\n")
	assert.Contains(t, got, "Western Electric 1956.")
	assert.NotContains(t, got, "NaN")

	for rule, want := range map[string]string{
		"beyond_limit": "beyond three sigma", "nelson_3": "Nelson 3: six in a row rising or falling",
		"western_electric_4": "Western Electric 4: eight in a row on one side of the centre",
	} {
		assert.Equal(t, want, ruleName(rule, chart.MeaningOf(rule)))
	}
	assert.Equal(t, "patch middle", control.Spoken("middle"))
}
