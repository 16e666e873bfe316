package report

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/development"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

func compared(t *testing.T, o compare.Options, trials ...*sensito.Trial) *compare.Comparison {
	t.Helper()
	var fs []*development.Family
	for _, trial := range trials {
		fs = append(fs, familyOf(t, trial))
	}
	c, err := compare.Compare(fs, o)
	require.NoError(t, err)
	return c
}

func TestCompareKeys(t *testing.T) {
	got := written(t, NewCompare(compared(t, compare.Options{}, demoTrial(t, "tern-ashlar"), demoTrial(t, "larkfield-ashlar"))))
	assert.Equal(t, "sensito/compare/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"": {"confidence", "differences", "film_log_range", "gradient", "scene_range_stops", "schema", "today", "trials", "warnings"},
		"trials[]": {"base_fog", "conditions", "delivered_density_range", "extrapolated", "max_net_density", "minutes", "minutes_as_tested", "reach_log_range", "reading", "reason", "shadow_gradient",
			"shoulder_log_range", "speed", "speed_point_log_h_lxs", "straightness", "toe_log_range", "tones", "trial", "uncorrected", "usable_log_range"},
		"trials[].reading":                 readingKeys,
		"trials[].base_fog":                quantityKeys,
		"trials[].delivered_density_range": quantityKeys,
		"trials[].max_net_density":         quantityKeys,
		"trials[].minutes":                 quantityKeys,
		"trials[].shadow_gradient":         quantityKeys,
		"trials[].shoulder_log_range":      quantityKeys,
		"trials[].speed":                   quantityKeys,
		"trials[].speed_point_log_h_lxs":   quantityKeys,
		"trials[].straightness":            quantityKeys,
		"trials[].toe_log_range":           quantityKeys,
		"trials[].usable_log_range":        quantityKeys,
		"trials[].tones[]":                 {"net_density", "stops_from_meter"},
		"trials[].tones[].net_density":     quantityKeys,
		"differences[]":                    {"a", "b", "difference", "p", "quantity", "significant", "stops_from_meter"},
		"differences[].difference":         quantityKeys,
		"warnings[]":                       warningKeys,
	}, keys(t, "", got, map[string][]string{}))

	var quantities []string
	for _, d := range got["differences"].([]any) {
		quantities = append(quantities, d.(map[string]any)["quantity"].(string))
	}
	assert.Equal(t, append([]string{"speed_stops", "base_fog", "minutes", "toe_log_range", "shadow_gradient", "straightness",
		"shoulder_log_range", "usable_log_range", "max_net_density"}, strings.Fields(strings.Repeat("net_density ", 11))...), quantities)
}

func TestCompareValues(t *testing.T) {
	c := compared(t, compare.Options{Level: 0.9, Gradient: 0.55}, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "larkfield-ashlar"))
	r := NewCompare(c)
	got := written(t, r)
	assert.Equal(t, 0.9, got["confidence"])
	assert.InDelta(t, 0.55, got["gradient"], 1e-12)
	var trials []struct {
		Trial string   `json:"trial"`
		Speed Quantity `json:"speed"`
	}
	require.NoError(t, json.Unmarshal([]byte(raw(t, r, "trials")), &trials))
	require.Len(t, trials, len(c.Trials))
	for i, x := range c.Trials {
		low, high := x.Speed.Interval(0.9)
		assert.Equal(t, Quantity{Value: float64(x.Speed.Value), SD: float64(x.Speed.StdErr), Low: float64(low), High: float64(high), Unit: "1"}, trials[i].Speed)
		assert.Equal(t, x.Name, trials[i].Trial)
	}
	var differences []struct {
		A           string    `json:"a"`
		B           string    `json:"b"`
		Quantity    string    `json:"quantity"`
		Difference  *Quantity `json:"difference"`
		P           *float64  `json:"p"`
		Significant *bool     `json:"significant"`
	}
	require.NoError(t, json.Unmarshal([]byte(raw(t, r, "differences")), &differences))
	require.Len(t, differences, len(c.Differences))
	for i, d := range c.Differences {
		got := differences[i]
		assert.Equal(t, []string{c.Trials[0].Name, c.Trials[1].Name, d.Quantity}, []string{got.A, got.B, got.Quantity})
		if d.Value == nil {
			assert.Nil(t, got.Difference)
			assert.Nil(t, got.P)
			assert.Nil(t, got.Significant)
			continue
		}
		low, high := d.Value.Interval(0.9)
		unit := "1"
		switch d.Quantity {
		case "speed_stops":
			unit = "stop"
		case "minutes":
			unit = "min"
		}
		assert.Equal(t, &Quantity{Value: d.Value.Value, SD: d.Value.StdErr, Low: float64(low), High: float64(high), Unit: unit}, got.Difference)
		require.NotNil(t, got.P)
		assert.Equal(t, d.P, *got.P)
		require.NotNil(t, got.Significant)
		assert.Equal(t, d.Real, *got.Significant)
	}
}

// The demo's film is 0.4 stop slower in Ashlar, and foggier, and has
// the same form; the trial in the camera is the film of the wedge.
func TestCompareText(t *testing.T) {
	out := text(t, NewCompare(compared(t, compare.Options{}, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "larkfield-ashlar"))))
	assert.Contains(t, out, "the aim of a scene of 7 stops")
	assert.Regexp(t, `(?m)^speed, stops +-0\.(3[6-9]|4\d) ±0\.05 .* real$`, out)
	assert.Regexp(t, `(?m)^base plus fog +\+0\.0\d+ ±\S+ .* real$`, out)
	assert.Regexp(t, `(?m)^gradient of shadows .* not proven$`, out)
	assert.Regexp(t, `(?m)^usable range, log H +> 2\.\d\d +> 2\.\d\d$`, out)
	assert.Regexp(t, `(?m)^  -4 stops +0\.2[78]\d ±0\.00\d +0\.2[78]\d ±0\.00\d$`, out)
	assert.Contains(t, out, "without a difference: shoulder begins, usable range, maximum net density")
	assert.Contains(t, oneLine(out), "exposures written alike")
	assert.NotContains(t, out, "the wedge does not show", "the table shows that")
	assert.Contains(t, oneLine(out), "of 100 pairs of equal trials no more than 5")
	assert.Contains(t, oneLine(out), oneLine(page.StartingPoint))

	out = text(t, NewCompare(compared(t, compare.Options{Gradient: 0.5, Level: 0.99}, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "larkfield-camera"))))
	assert.NotRegexp(t, `(?m) real$`, out)
	assert.Contains(t, oneLine(out), "an average gradient of 0.500")
	assert.Contains(t, oneLine(out), "no more than 1 have")
	const exactly = "leaves out how well the time of today is known"
	assert.NotContains(t, oneLine(out), exactly)
	warm := scene.Today{Conditions: development.Conditions{TemperatureC: new(23.0)}}
	out = text(t, NewCompare(compared(t, compare.Options{Scene: scene.Scene{Today: warm}}, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "larkfield-ashlar"))))
	assert.Contains(t, oneLine(out), exactly)
}

// Many trials are written three side by side, and held against the first.
func TestCompareManyTrials(t *testing.T) {
	var trials []*sensito.Trial
	for range 2 {
		trials = append(trials, demoTrial(t, "larkfield-brinewater"), relativeTrial(t), demoTrial(t, "tern-ashlar"), demoTrial(t, "larkfield-ashlar"))
	}
	trials = append(trials, one(t))
	r := NewCompare(compared(t, compare.Options{}, trials...))
	got := written(t, r)
	require.Len(t, got["differences"], 8*7/2*20)
	assert.Contains(t, raw(t, r, "trials", 8, "reason"), "strips exposed to")
	for key, value := range got["trials"].([]any)[8].(map[string]any) {
		switch key {
		case "trial", "reason", "tones":
		case "extrapolated":
			assert.Equal(t, false, value)
		default:
			assert.Nil(t, value, key)
		}
	}
	assert.Equal(t, "[]", raw(t, r, "trials", 8, "tones"))
	assert.Equal(t, "null", raw(t, r, "trials", 1, "speed"))
	assert.Equal(t, `"log10 relative"`, raw(t, r, "trials", 1, "speed_point_log_h_lxs", "unit"))
	assert.NotEqual(t, raw(t, r, "trials", 0, "trial"), raw(t, r, "trials", 4, "trial"), "trials of one title are numbered")
	out := text(t, r)
	for k := 2; k <= 8; k++ {
		assert.Contains(t, out, fmt.Sprintf("\n%d less 1 ", k))
	}
	assert.NotContains(t, out, "3 less 2")
	assert.Contains(t, out, "held against the first")
	assert.Contains(t, out, ": not compared")
	for line := range strings.Lines(out) {
		assert.LessOrEqual(t, page.Width(strings.TrimSuffix(line, "\n")), 80, line)
		assert.Equal(t, strings.TrimRight(line, " \n"), strings.TrimSuffix(line, "\n"))
	}
	for _, bad := range []string{"NaN", "Inf", "%!"} {
		assert.NotContains(t, out, bad)
	}
	assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull)
}

// one is a trial of one strip, which does not reach over a scene.
func one(t *testing.T) *sensito.Trial {
	t.Helper()
	trial := demoTrial(t, "larkfield-brinewater")
	s := trial.Strips()[0]
	strip := sensito.StripSpec{Minutes: s.Minutes(), BaseFog: s.BaseFog()}
	for i, step := range s.Steps() {
		if i < 6 { // so that it does not reach over a scene
			step.Density = sensito.Density(math.NaN())
		}
		strip.Density = append(strip.Density, step.Density)
	}
	out, err := sensito.NewTrial(sensito.TrialSpec{Title: "One strip", Film: trial.Film(), Process: trial.Process(), Exposures: trial.Exposures(), Strips: []sensito.StripSpec{strip}})
	require.NoError(t, err)
	return out
}
