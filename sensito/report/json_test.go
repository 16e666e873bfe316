package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/cameratest"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// keys returns the sorted keys of the objects of a JSON value by their place:
// "" for the value itself, "strips[]" for what a list holds. Objects that share
// a place must share their keys.
func keys(t *testing.T, at string, value any, found map[string][]string) map[string][]string {
	t.Helper()
	switch v := value.(type) {
	case map[string]any:
		names := slices.Sorted(maps.Keys(v))
		if known, seen := found[at]; seen {
			assert.Equal(t, known, names, "keys of %s", at)
		}
		found[at] = names
		for name, part := range v {
			below := name
			if at != "" {
				below = at + "." + name
			}
			keys(t, below, part, found)
		}
	case []any:
		for _, part := range v {
			keys(t, at+"[]", part, found)
		}
	}
	return found
}

var (
	quantityKeys = []string{"high", "low", "sd", "unit", "value"}
	readingKeys  = []string{"channel", "pictured_strips", "unit"}
	warningKeys  = []string{"code", "message", "step", "strip"}
)

func TestCurveKeys(t *testing.T) {
	got := written(t, curveOf(t, demoTrial(t, "larkfield-brinewater"), curve.MeasureOptions{}))
	assert.Equal(t, "sensito/curve/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"":        {"reading", "schema", "strips", "trial"},
		"reading": readingKeys,
		"strips[]": {"average_gradient", "base_fog", "contrast_index", "exposed_s", "fractional_gradient_speed", "gamma",
			"iso_conditions_met", "iso_density_difference", "max_density", "minutes", "model", "residual_sd",
			"reversed_steps", "set_aside", "speed", "speed_point_log_h_lxs", "warnings"},
		"strips[].average_gradient":          quantityKeys,
		"strips[].base_fog":                  quantityKeys,
		"strips[].contrast_index":            quantityKeys,
		"strips[].fractional_gradient_speed": quantityKeys,
		"strips[].gamma":                     quantityKeys,
		"strips[].iso_density_difference":    quantityKeys,
		"strips[].max_density":               quantityKeys,
		"strips[].speed":                     quantityKeys,
		"strips[].speed_point_log_h_lxs":     quantityKeys,
		"strips[].set_aside[]":               {"density", "expected", "step"},
		"strips[].warnings[]":                warningKeys,
	}, keys(t, "", got, map[string][]string{}))
}

// A strip that was exposed a third of a stop more than the others is shown by itself as
// well, in JSON and below the table; the others are not.
func TestCurveBothWays(t *testing.T) {
	demo := demoTrial(t, "larkfield-brinewater")
	logH := demo.Exposures().LogH()
	trial := simulated.EditedTrial(t, demo, func(i int, s *sensito.StripSpec) {
		if i != 2 {
			return
		}
		was := slices.Clone(s.Density)
		for k := range len(was) - 1 { // what a step 0.1 log H further on had
			share := 0.1 / float64(logH[k]-logH[k+1])
			s.Density[k+1] += sensito.Density(share) * (was[k] - was[k+1])
		}
		s.Density[0] += s.Density[1] - was[1]
	})
	r := curveOf(t, trial, curve.MeasureOptions{})
	strips := written(t, r)["strips"].([]any)
	require.Len(t, strips, 5)
	for i, s := range strips {
		s := s.(map[string]any)
		if i != 2 {
			assert.NotContains(t, s, "apart", "strip %d", i+1)
			continue
		}
		assert.Equal(t, map[string][]string{
			"":                      {"contrast_index", "speed", "speed_point_log_h_lxs"},
			"contrast_index":        quantityKeys,
			"speed":                 quantityKeys,
			"speed_point_log_h_lxs": quantityKeys,
		}, keys(t, "", s["apart"], map[string][]string{}))
		assert.Equal(t, float64(r.strips[2].ByItself.SpeedPoint.Value), s["apart"].(map[string]any)["speed_point_log_h_lxs"].(map[string]any)["value"])
	}
	var text strings.Builder
	require.NoError(t, r.Text(&text, Layout{Full: true}))
	assert.Regexp(t, `(?s)\n\n6:20 \(strip 3\) by itself: speed point -2\.\d+ ±0\.\d+ log lx s, speed 1\d\d ±\d+,\s+contrast index 0\.\d+ ±0\.\d+\.\nA strip is shown by itself where`, text.String())
	assert.Equal(t, 1, strings.Count(text.String(), "by itself:"))
}

func TestFamilyKeys(t *testing.T) {
	got := written(t, familyReport(t, demoTrial(t, "larkfield-brinewater")))
	assert.Equal(t, "sensito/family/1", got["schema"])
	want := map[string][]string{
		"":                          {"conditions", "contrast", "iso", "logged", "marked", "points", "reciprocity", "schema", "temperature", "time_factors", "today", "trial", "warnings"},
		"contrast":                  {"induction_min", "limit", "model", "quantity", "rate_per_min"},
		"contrast.limit":            quantityKeys,
		"contrast.induction_min":    quantityKeys,
		"contrast.rate_per_min":     quantityKeys,
		"points[]":                  {"average_gradient", "base_fog", "contrast_index", "equivalent_min", "minutes", "speed", "temperature_c"},
		"points[].average_gradient": quantityKeys,
		"points[].base_fog":         quantityKeys,
		"points[].contrast_index":   quantityKeys,
		"points[].speed":            quantityKeys,
		"iso":                       {"minutes", "minutes_as_tested", "speed", "uncorrected"},
		"iso.minutes":               quantityKeys,
		"iso.speed":                 quantityKeys,
		"warnings[]":                warningKeys,
	}
	assert.Equal(t, want, keys(t, "", got, map[string][]string{}))
}

func TestSpeedKeys(t *testing.T) {
	m, err := cameratest.IndexByFirstFrame(cameratest.FirstFrame{MeterIndex: 400, Stops: -4.5, Step: 0.5, ShadowStops: 4})
	require.NoError(t, err)
	assert.Equal(t, map[string][]string{
		"":                  {"error_parts_stops", "exposure_index", "first_frame_stops", "meter_index", "schema", "shadow_stops", "speed_point_stops", "step_stops", "warnings"},
		"error_parts_stops": {"eye", "frames", "step"},
		"exposure_index":    quantityKeys,
		"speed_point_stops": quantityKeys,
	}, keys(t, "", written(t, NewSpeed(m, DefaultConfidence)), map[string][]string{}))
}

var sceneKeys = []string{"aim", "aperture", "at_index", "average_gradient", "base_fog", "conditions", "contrast_index", "delivered_density_range", "density_range", "ev",
	"exposure_index", "extrapolated", "film_log_range", "last_time", "metering", "minutes", "minutes_as_tested", "minutes_error_parts", "n", "paper_black_stops", "paper_white_stops", "process", "reading",
	"scene_range_stops", "schema", "shutter", "today", "tones", "trial", "uncorrected", "veil", "warnings"}

func TestSceneKeys(t *testing.T) {
	got := written(t, sceneOf(t, demoTrial(t, "larkfield-brinewater"), scene.Scene{Stops: 7}))
	assert.Equal(t, "sensito/scene/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"":                        sceneKeys,
		"base_fog":                quantityKeys,
		"contrast_index":          quantityKeys,
		"delivered_density_range": quantityKeys,
		"exposure_index":          quantityKeys,
		"minutes":                 quantityKeys,
		"minutes_error_parts[]":   {"part", "share"},
		"reading":                 readingKeys,
		"tones[]":                 {"film_log_h_lxs", "net_density", "print_density", "stops_from_meter"},
		"tones[].net_density":     quantityKeys,
		"warnings[]":              warningKeys,
	}, keys(t, "", got, map[string][]string{}))
}

func TestCardKeys(t *testing.T) {
	got := written(t, cardOf(t, demoTrial(t, "larkfield-brinewater"), scene.Scene{DensityRange: 1.5}))
	assert.Equal(t, "sensito/card/1", got["schema"])
	row := []string{"contrast_index", "delivered_density_range", "exposure_index", "extrapolated", "minutes", "minutes_as_tested", "n", "scene_range_stops", "uncorrected", "veil"}
	rows := got["rows"].([]any)
	require.Len(t, rows, 9)
	for _, r := range rows {
		r := r.(map[string]any)
		want := row
		if r["minutes"] == nil { // says why
			want = slices.Sorted(slices.Values(append([]string{"reason"}, row...)))
			assert.Nil(t, r["exposure_index"])
			assert.Nil(t, r["delivered_density_range"])
			assert.Nil(t, r["veil"])
			assert.Nil(t, r["contrast_index"])
			assert.Equal(t, false, r["extrapolated"])
			assert.NotEmpty(t, r["reason"])
		}
		assert.Equal(t, want, slices.Sorted(maps.Keys(r)))
	}
	assert.Nil(t, rows[8].(map[string]any)["minutes"], "one row without a time")
	got["rows"] = rows[:3]
	assert.Equal(t, map[string][]string{
		"":                               {"aim", "conditions", "density_range", "rows", "schema", "today", "trial", "warnings"},
		"rows[]":                         row,
		"rows[].minutes":                 quantityKeys,
		"rows[].exposure_index":          quantityKeys,
		"rows[].contrast_index":          quantityKeys,
		"rows[].delivered_density_range": quantityKeys,
		"warnings[]":                     warningKeys,
	}, keys(t, "", got, map[string][]string{}))
}

// A condenser needs less density than the paper's range; a scan takes another
// range in every row.
func TestCardDensityRange(t *testing.T) {
	trial := demoTrial(t, "larkfield-brinewater")
	condenser := scene.Scene{DensityRange: 1.05, Grade: "2", Callier: 1.25}
	assert.InDelta(t, 0.84, written(t, cardOf(t, trial, condenser))["density_range"], 1e-12)
	scan := cardOf(t, trial, scene.Scene{ScanMax: 1.4})
	assert.Equal(t, "null", raw(t, scan, "density_range"))
	assert.Equal(t, `"`+scene.Scene{ScanMax: 1.4}.AimText()+`"`, raw(t, scan, "aim"))
}

// raw returns the JSON text of a value of a report.
func raw(t *testing.T, r Report, path ...any) string {
	t.Helper()
	var value any = written(t, r)
	for _, p := range path {
		switch p := p.(type) {
		case string:
			object := value.(map[string]any)
			require.Contains(t, object, p)
			value = object[p]
		case int:
			value = value.([]any)[p]
		}
	}
	out, err := json.Marshal(value)
	require.NoError(t, err)
	return string(out)
}

func TestUnknownIsNull(t *testing.T) {
	relative := relativeTrial(t)
	c := curveOf(t, relative, curve.MeasureOptions{Gradient: curve.Gradient{From: 0.10, Span: 4}})
	for _, key := range []string{"speed", "fractional_gradient_speed", "average_gradient"} {
		assert.Equal(t, "null", raw(t, c, "strips", 0, key), key)
	}
	assert.Equal(t, `"log10 relative"`, raw(t, c, "strips", 0, "speed_point_log_h_lxs", "unit"))
	assert.Contains(t, raw(t, c, "strips", 0, "warnings"), "relative_exposure")
	assert.Contains(t, raw(t, c, "strips", 0, "warnings"), "wedge_too_short")

	f := familyReport(t, relative)
	assert.Equal(t, "null", raw(t, f, "iso", "speed"))
	assert.Equal(t, "null", raw(t, f, "points", 0, "speed"))

	s := sceneOf(t, relative, scene.Scene{Stops: 7})
	assert.Equal(t, "null", raw(t, s, "exposure_index"))
	assert.Contains(t, raw(t, s, "warnings"), "relative_exposure")

	k := cardOf(t, relative, scene.Scene{})
	assert.Equal(t, "null", raw(t, k, "rows", 4, "exposure_index"))
	assert.NotEqual(t, "null", raw(t, k, "rows", 4, "minutes"))

	s = sceneOf(t, demoTrial(t, "larkfield-brinewater"), scene.Scene{Stops: 7, ShadowStops: 6})
	assert.Equal(t, "null", raw(t, s, "tones", 10, "net_density"), "more than 2 stops beyond the wedge")
	for i := range 11 {
		assert.Equal(t, "null", raw(t, s, "tones", i, "print_density"), "no paper")
	}
}

func TestUnmeasuredStripIsNull(t *testing.T) {
	trial := demoTrial(t, "larkfield-camera")
	m := &curve.Measured{Strip: trial.Strips()[0], Warnings: sensito.Warnings{sensito.Warn("no_curve", "no curve could be fitted")}}
	r := NewCurve(trial, []*curve.Measured{m}, DefaultConfidence)
	strip := written(t, r)["strips"].([]any)[0].(map[string]any)
	for key, value := range strip {
		switch key {
		case "minutes":
			assert.InDelta(t, 5, value, 0)
		case "set_aside", "reversed_steps":
			assert.Equal(t, []any{}, value)
		case "warnings":
			assert.Len(t, value, 1)
		default:
			assert.Nil(t, value, key)
		}
	}
	assert.Contains(t, text(t, r), "no curve could be fitted")
}

func TestEmptyLists(t *testing.T) {
	tern := demoTrial(t, "tern-ashlar")
	camera := demoTrial(t, "larkfield-camera")
	c := curveOf(t, camera, curve.MeasureOptions{})
	assert.Equal(t, "[]", raw(t, c, "strips", 0, "warnings"))
	assert.Equal(t, "[]", raw(t, c, "strips", 0, "set_aside"))
	assert.Equal(t, "[]", raw(t, familyReport(t, tern), "warnings"))
	assert.Equal(t, "[]", raw(t, sceneOf(t, tern, scene.Scene{Stops: 6, DensityRange: 0.9}), "warnings"))
	empty := NewCard(&scene.Card{Family: familyOf(t, camera)}, DefaultConfidence, "")
	assert.Equal(t, "[]", raw(t, empty, "warnings"))
	assert.Equal(t, "[]", raw(t, empty, "rows"))
	assert.Equal(t, "[]", raw(t, NewCurve(camera, nil, DefaultConfidence), "strips"))
}

func TestFullDigits(t *testing.T) {
	trial := demoTrial(t, "larkfield-camera")
	ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	var got struct {
		Strips []struct {
			Speed Quantity `json:"speed"`
		} `json:"strips"`
	}
	for _, level := range []float64{0.5, 0.95, 0.999} {
		var out bytes.Buffer
		require.NoError(t, JSON(&out, NewCurve(trial, ms, level)))
		require.NoError(t, json.Unmarshal(out.Bytes(), &got))
		for i, m := range ms {
			low, high := m.Speed.Interval(level)
			assert.Equal(t, Quantity{Value: float64(m.Speed.Value), SD: float64(m.Speed.StdErr),
				Low: float64(low), High: float64(high), Unit: "1"}, got.Strips[i].Speed)
		}
	}
}

// TestOpenInterval writes an end that an interval does not have as null.
func TestOpenInterval(t *testing.T) {
	e := sensito.Estimate[float64]{Value: 8, StdErr: 1, DoF: 5, Limits: func(float64) (float64, float64) { return 6, math.Inf(1) }}
	out, err := json.Marshal(quantity(&e, 0.95, "min"))
	require.NoError(t, err)
	assert.JSONEq(t, `{"value": 8, "sd": 1, "low": 6, "high": null, "unit": "min"}`, string(out))
}

// TestNotFinite keeps from the encoder what JSON cannot carry.
func TestNotFinite(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	nan, inf := math.NaN(), math.Inf(1)
	for _, e := range []sensito.Estimate[float64]{
		{Value: nan, StdErr: 1, DoF: 5},
		{Value: inf, StdErr: 1, DoF: 5},
		{Value: -inf, StdErr: 1, DoF: 5},
		{Value: 1, StdErr: nan, DoF: 5},
		{Value: 1, StdErr: inf, DoF: 5},
		{Value: 1, StdErr: 0.1, DoF: nan},
		{Value: 0, StdErr: 0.1, DoF: 5, Log: true},
		{Value: 1, StdErr: 1e3, DoF: 5, Log: true},
		{Value: 1e308, StdErr: 1e308, DoF: 5},
	} {
		q := quantity(&e, 0.95, unitOne)
		assert.Nil(t, q, "%+v", e)
		var out bytes.Buffer
		require.NoError(t, json.NewEncoder(&out).Encode(q))
		assert.Equal(t, "null\n", out.String())
	}
	assert.Nil(t, quantity[float64](nil, 0.95, unitOne))
	assert.NotNil(t, quantity(&sensito.Estimate[float64]{Value: 1, StdErr: 0.1, DoF: inf}, 0.95, unitOne), "a known error")
	assert.NotNil(t, quantity(&sensito.Estimate[float64]{Value: 0, StdErr: 0, DoF: 3}, 0.95, unitOne))

	for name, r := range allReports(t) {
		var out bytes.Buffer
		assert.NoError(t, JSON(&out, r), name)
	}
}

// TestWriteFails reports the error of the writer.
func TestWriteFails(t *testing.T) {
	for name, r := range allReports(t) {
		assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull, name)
		assert.ErrorIs(t, JSON(full{}, r), errFull, name)
	}
}

var errFull = fmt.Errorf("no space left")

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestReproductionKeys(t *testing.T) {
	got := written(t, reproductionOf(t, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "slate"), "2", scene.Scene{Stops: 7}))
	assert.Equal(t, "sensito/tone/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"": {"callier", "conditions", "delivered_density_range", "exposure_index", "extrapolated", "film_log_h_unit", "flare_lift_log_h", "flare_veil", "grade",
			"mid_gradient", "mid_stops_from_meter", "minutes", "minutes_as_tested", "paper", "paper_log_h_unit", "reproduction", "scene_range_stops", "schema", "today", "tones",
			"trial", "uncorrected", "warnings"},
		"delivered_density_range": quantityKeys,
		"exposure_index":          quantityKeys,
		"minutes":                 quantityKeys,
		"reproduction[]":          {"print_density", "scene_log_luminance"},
		"tones[]": {"film_log_h_lxs", "gradient", "net_density", "paper_log_h_lxs", "print_density", "scene_log_luminance",
			"stops_from_meter"},
		"tones[].net_density":   quantityKeys,
		"tones[].print_density": quantityKeys,
		"warnings[]":            warningKeys,
	}, keys(t, "", got, map[string][]string{}))
}

// The process of today is pinned for a corrected scene.
func TestTodayKeys(t *testing.T) {
	log, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	f := familyOf(t, demoTrial(t, "larkfield-brinewater"))
	p, err := scene.For(f, scene.Scene{Stops: 7, Today: scene.Today{Control: log, Correct: true}})
	require.NoError(t, err)
	r, err := NewScene(p, nil, DefaultConfidence)
	require.NoError(t, err)
	found := keys(t, "", written(t, r), map[string][]string{})
	assert.Equal(t, []string{"as_of", "corrected", "first_signal", "fog", "in_control", "log", "since", "speed_stops", "speed_unchanged_time_stops", "time_percent"}, found["today"])
	assert.Equal(t, []string{"minutes", "speed"}, found["uncorrected"])
}

// What a log beside the trial says is pinned, and told in a sentence that corrects nothing.
func TestBesideKeys(t *testing.T) {
	log, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	f := familyOf(t, demoTrial(t, "larkfield-brinewater"))
	p, err := scene.For(f, scene.Scene{Stops: 7})
	require.NoError(t, err)
	tell := func(log *control.Log, more func(bool) string) *Scene {
		r, err := NewScene(p, nil, DefaultConfidence)
		require.NoError(t, err)
		r.Beside(listing.NewBeside(f, "control.toml", log, nil), more)
		return r
	}
	r := tell(log, func(corrects bool) string { return fmt.Sprint("corrects: ", corrects) })
	got := written(t, r)
	assert.Equal(t, []string{"as_of", "first_signal", "in_control", "log", "since", "speed_stops", "text", "time_percent"}, keys(t, "", got, map[string][]string{})["process"])
	assert.Equal(t, `"2026-04-16"`, raw(t, r, "process", "since"))
	assert.Equal(t, "null", raw(t, r, "today"))
	const sentence = "The tank of Brinewater has been out of control since 16 April (first signal 30\nApril): about 23 % longer for the same contrast"
	assert.Contains(t, text(t, r), "\n\n"+sentence+"; corrects: true.\n\n")
	assert.Contains(t, text(t, r), "Develop 5:55 (", "not corrected")
	assert.Contains(t, text(t, tell(log, nil)), sentence+".\n")

	steady, err := control.NewLog(control.LogSpec{Film: log.Film(), Strips: log.Strips()[:12]})
	require.NoError(t, err)
	r = tell(steady, nil)
	var brief strings.Builder
	require.NoError(t, r.Text(&brief, Layout{}))
	assert.NotContains(t, brief.String(), "control.toml")
	assert.Contains(t, text(t, r), "\nIn control by control.toml: no chart signals in 12 strips.\n")
	assert.Equal(t, "true", raw(t, r, "process", "in_control"))
	assert.Equal(t, "null", raw(t, r, "process", "since"))
	assert.Equal(t, "null", raw(t, tell(nil, nil), "process"))
}

// What a library's user gets by json.Marshal of an estimate is what a report says
// of it at 95 %, but for the unit.
func TestEstimateAsInReport(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, e := range []sensito.Estimate[sensito.Speed]{
		{Value: 128, StdErr: 7, DoF: 12, Log: true}, {Value: 128, StdErr: 7, DoF: inf},
		{Value: 128, StdErr: 7, DoF: 12, AtLeast: true}, {Value: 128, StdErr: 7, DoF: 12, AtMost: true},
		{Value: 128, StdErr: 7, Limits: func(float64) (low, high sensito.Speed) { return 90, sensito.Speed(inf) }},
		{Value: 128, StdErr: sensito.Speed(nan)}, {Value: sensito.Speed(inf), StdErr: 7},
	} {
		ours, err := json.Marshal(quantity(&e, 0.95, unitOne))
		require.NoError(t, err)
		theirs, err := json.Marshal(e)
		require.NoError(t, err)
		var want, got map[string]any
		require.NoError(t, json.Unmarshal(ours, &want))
		require.NoError(t, json.Unmarshal(theirs, &got))
		delete(want, "unit")
		assert.Equal(t, want, got, "%+v", e.Value)
	}
}
