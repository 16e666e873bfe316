package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

var (
	conditionKeys = []string{"agitation", "dilution", "ends_at_c", "q10", "q10_source", "steady_c", "temperature_c", "time_factor"}
	factorKeys    = []string{"condition", "factor", "in_place_of", "measured", "source"}
)

// Other conditions are pinned for a scene, a card and a roll of the demo.
func TestConditionsKeys(t *testing.T) {
	f := familyOf(t, demoTrial(t, "larkfield-brinewater"))
	conditions := development.Conditions{TemperatureC: new(21.0), EndC: new(24.0), Agitation: sensito.AgitationIntermittent, Dilution: "1+24"}
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	today, err := scene.For(f, scene.Scene{Stops: 7, Today: scene.Today{Conditions: conditions}})
	require.NoError(t, err)
	r, err := NewScene(today, nil, DefaultConfidence)
	require.NoError(t, err)
	got := written(t, r)
	found := keys(t, "", got, map[string][]string{})
	assert.Equal(t, sceneKeys, found[""])
	assert.Equal(t, conditionKeys, found["conditions"])
	for _, at := range []string{"conditions.agitation", "conditions.dilution"} {
		assert.Equal(t, factorKeys, found[at])
		assert.Equal(t, quantityKeys, found[at+".factor"])
	}
	for _, at := range []string{"conditions.q10", "conditions.time_factor", "minutes_as_tested", "minutes"} {
		assert.Equal(t, quantityKeys, found[at], at)
	}
	assert.InEpsilon(t, float64(p.Minutes.Value), got["minutes_as_tested"].(map[string]any)["value"], 1e-12)
	assert.InEpsilon(t, float64(today.Minutes.Value), got["minutes"].(map[string]any)["value"], 1e-12)
	var out bytes.Buffer
	require.NoError(t, r.Text(&out, Layout{Full: true}))
	assert.Contains(t, out.String(), "The time is for development at 21 °C (69.8 °F) drifting to 24 °C (75.2 °F),\ndiluted 1+24, with intermittent agitation; the trial was developed at 20 °C,\n")

	c, err := scene.NewCard(f, scene.Scene{Today: scene.Today{Conditions: conditions}})
	require.NoError(t, err)
	card := NewCard(c, DefaultConfidence, "")
	got = written(t, card)
	assert.Equal(t, conditionKeys, keys(t, "", got["conditions"], map[string][]string{})[""])
	row := got["rows"].([]any)[4].(map[string]any)
	assert.InEpsilon(t, float64(p.Minutes.Value), row["minutes_as_tested"].(map[string]any)["value"], 1e-12)
	assert.InEpsilon(t, float64(today.Minutes.Value), row["minutes"].(map[string]any)["value"], 1e-12)
	assert.Contains(t, text(t, card), "\n* as tested outside the tested times: ")
}

// What holds for every row because it holds for the bath is said once.
func TestCardSaysOnceWhatHoldsForTheBath(t *testing.T) {
	f := familyOf(t, demoTrial(t, "larkfield-brinewater"))
	c, err := scene.NewCard(f, scene.Scene{Today: scene.Today{Conditions: development.Conditions{TemperatureC: new(14.0)}}})
	require.NoError(t, err)
	card := NewCard(c, DefaultConfidence, "")
	said := strings.Join(strings.Fields(text(t, card)), " ")
	assert.Equal(t, 1, strings.Count(said, "14 °C is outside the 18 to 24 °C"))
	assert.Contains(t, said, "! 14 °C is outside")
}

func TestTemperaturesKeys(t *testing.T) {
	f := familyOf(t, demoTrial(t, "larkfield-brinewater"))
	c, err := scene.NewCard(f, scene.Scene{Today: scene.Today{Conditions: development.Conditions{Q10: new(2.0)}}})
	require.NoError(t, err)
	table, err := c.Temperatures()
	require.NoError(t, err)
	got := written(t, NewTemperatures(table, DefaultConfidence))
	assert.Equal(t, "sensito/temperatures/1", got["schema"])
	found := keys(t, "", got, map[string][]string{})
	assert.Equal(t, map[string][]string{
		"":                       {"agitation", "aim", "dilution", "q10", "q10_source", "rows", "schema", "today", "trial", "trial_temperature_c", "warnings"},
		"q10":                    quantityKeys,
		"rows[]":                 {"temperature_c", "times"},
		"rows[].times[]":         {"minutes", "n", "scene_range_stops", "short"},
		"rows[].times[].minutes": quantityKeys,
		"warnings[]":             warningKeys,
	}, found)
	require.Len(t, table.Celsius, 7)
	normal := func(row int) float64 { return float64(table.Minutes[row][4].Value) }
	assert.InEpsilon(t, float64(c.Rows[4].Answer.Minutes.Value), normal(2), 1e-12, "20 degrees is the trial's")
	assert.InEpsilon(t, 0.7536274, normal(6)/normal(2), 1e-6, "q10 2 from 20 to 24 degrees: equivalent time checks")
}
