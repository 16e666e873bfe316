package report

import (
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/notebook"
	"sensito/sensito/paper"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

var slatePaper = sync.OnceValues(func() (*paper.Paper, error) {
	trial, err := notebook.ReadFile("../../cmd/sensito/demo/slate.toml")
	if err != nil {
		return nil, err
	}
	return paper.Measure(trial, curve.FitOptions{})
})

// slate is a grade of the paper of the demo.
func slate(t *testing.T, grade string) *paper.Strip {
	t.Helper()
	p, err := slatePaper()
	require.NoError(t, err)
	strip, err := p.Grade(grade)
	require.NoError(t, err)
	return strip
}

// aims are what a negative may be made for, with the words that make the
// longest lines.
func aims(t *testing.T) map[string]scene.Scene {
	t.Helper()
	return map[string]scene.Scene{
		"grade":     {Stops: 7, Grade: "2", DensityRange: 1.05},
		"condenser": {Stops: 7, Grade: "2", DensityRange: 1.05, Callier: 1.25},
		"scan":      {Stops: 7, ScanMax: 1.35},
		"paper":     {Stops: 7, Paper: slate(t, "3"), Callier: 1.1},
	}
}

// spots are readings of a scene of 7 stops.
func spots() *camera.Metering {
	return &camera.Metering{Shadow: camera.SpotReading{EV: 3 + 1./3, Zone: 3.5}, Highlight: camera.SpotReading{EV: 8 + 1./3, Zone: 8.5}}
}

func rollOf(t *testing.T, trial *sensito.Trial, s scene.Scene) *Roll {
	t.Helper()
	frames := []scene.Frame{
		{Name: "Lamp room", Stops: 7.5}, {Name: "Harbour in fog, with the landing stage and the keeper's boat", Stops: 5.5},
		{Name: "Gallery", Stops: 7, Metering: spots()},
	}
	r, err := scene.ForRoll(familyOf(t, trial), s, frames)
	require.NoError(t, err)
	return NewRoll(r, DefaultConfidence)
}

func markedOf(t *testing.T, trial *sensito.Trial, s scene.Scene) *Family {
	t.Helper()
	f := familyOf(t, trial)
	r, err := NewFamily(f, nil, DefaultConfidence)
	require.NoError(t, err)
	p, err := scene.For(f, s)
	require.NoError(t, err)
	r.Mark(p)
	return r
}

// exposed returns the report of a spot-metered scene on a film that loses speed
// in dim light.
func exposed(t *testing.T, shot camera.Shot) *Scene {
	t.Helper()
	trial := demoTrial(t, "larkfield-brinewater")
	law := &sensito.StatedReciprocity{Pairs: []sensito.ReciprocityPair{{Metered: 1, Corrected: 1.25}, {Metered: 10, Corrected: 20}, {Metered: 100, Corrected: 480}}}
	spec := sensito.TrialSpec{Title: trial.Title(), Film: trial.Film(), Process: trial.Process(), Exposures: trial.Exposures(), Reading: trial.Reading(), Reciprocity: law}
	for _, s := range trial.Strips() {
		strip := sensito.StripSpec{Minutes: s.Minutes(), BaseFog: s.BaseFog()}
		for _, step := range s.Steps() {
			strip.Density = append(strip.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, strip)
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	p, err := scene.For(familyOf(t, trial), scene.Scene{Stops: 7, Metering: spots()})
	require.NoError(t, err)
	s, err := p.Setting(shot)
	require.NoError(t, err)
	r, err := NewScene(p, s, DefaultConfidence)
	require.NoError(t, err)
	return r
}

func TestExposedSceneKeys(t *testing.T) {
	got := written(t, exposed(t, camera.Shot{Aperture: 16, Filters: []camera.Factor{2}, Bellows: 1.3}))
	found := keys(t, "", got, map[string][]string{})
	assert.Equal(t, sceneKeys, found[""])
	assert.Equal(t, quantityKeys, found["ev"])
	assert.Equal(t, []string{"highlight_ev", "highlight_falls_zone", "highlight_wanted_zone", "meter_index", "shadow_ev", "shadow_zone"}, found["metering"])
	assert.Equal(t, []string{"corrected_s", "factored_s", "metered_s", "reciprocity", "set_s"}, found["shutter"])
	assert.InDelta(t, 16, got["aperture"], 0)
	shutter := got["shutter"].(map[string]any)
	assert.InEpsilon(t, 2.6, shutter["factored_s"].(float64)/shutter["metered_s"].(float64), 1e-12)
	assert.Greater(t, shutter["corrected_s"], shutter["factored_s"])
	assert.Equal(t, "table of 3 pairs", shutter["reciprocity"])
	assert.InDelta(t, 100, got["metering"].(map[string]any)["meter_index"], 0)
	assert.InDelta(t, 8.5, got["metering"].(map[string]any)["highlight_falls_zone"], 1e-12)
}

func TestPrintedSceneKeys(t *testing.T) {
	r := sceneOf(t, demoTrial(t, "larkfield-brinewater"), scene.Scene{Stops: 7, Paper: slate(t, "2")})
	got := written(t, r)
	found := keys(t, "", got, map[string][]string{})
	assert.Equal(t, sceneKeys, found[""])
	assert.Equal(t, quantityKeys, found["tones[].print_density"])
	assert.Equal(t, quantityKeys, found["paper_black_stops"])
	assert.Equal(t, quantityKeys, found["paper_white_stops"])
	assert.Equal(t, `"stop"`, raw(t, r, "paper_white_stops", "unit"))
	assert.Equal(t, "null", raw(t, r, "ev"))
	assert.Equal(t, "null", raw(t, r, "shutter"))
	assert.Equal(t, "null", raw(t, r, "aperture"))
	assert.Equal(t, "null", raw(t, r, "metering"))
	assert.Regexp(t, `^a density range of 1\.\d\d to suit Slate grade 2 \(ISO range 1\d\d\)$`, got["aim"])
	r = sceneOf(t, demoTrial(t, "larkfield-brinewater"), scene.Scene{Stops: 7, ShadowStops: 6, Paper: slate(t, "2")})
	assert.Equal(t, "null", raw(t, r, "tones", 10, "print_density"), "where the film is not known")
}

func TestRollKeys(t *testing.T) {
	trial := demoTrial(t, "larkfield-brinewater")
	r := rollOf(t, trial, scene.Scene{})
	got := written(t, r)
	assert.Equal(t, "sensito/roll/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"": {"aim", "conditions", "density_range", "exposure_index", "extrapolated", "frames", "minutes", "minutes_as_tested", "schema", "today", "trial", "uncorrected", "warnings", "worst_frame"},
		"frames[]": {"delivered_density_range", "ev", "film_log_range", "fits", "mismatch_log_range", "name", "paper_log_range", "print",
			"rest_log_range", "scene_range_stops"},
		"frames[].delivered_density_range": quantityKeys,
		"minutes":                          quantityKeys,
		"exposure_index":                   quantityKeys,
		"warnings[]":                       warningKeys,
	}, keys(t, "", got, map[string][]string{}))
	assert.Contains(t, got["worst_frame"], "Lamp room")
	assert.Equal(t, "null", raw(t, r, "frames", 0, "ev"))
	assert.NotEqual(t, "null", raw(t, r, "frames", 2, "ev"))
	assert.Regexp(t, `^"grade [0-5]"$`, raw(t, r, "frames", 0, "print"))

	r = rollOf(t, trial, scene.Scene{ScanMax: 1.5})
	assert.Equal(t, "null", raw(t, r, "frames", 0, "print"))
	assert.Equal(t, "null", raw(t, r, "frames", 0, "rest_log_range"))
	assert.Equal(t, "true", raw(t, r, "frames", 0, "fits"))
	assert.Equal(t, "null", raw(t, rollOf(t, relativeTrial(t), scene.Scene{}), "exposure_index"))
}

func TestMarkedFamily(t *testing.T) {
	r := markedOf(t, demoTrial(t, "larkfield-brinewater"), scene.Scene{Stops: 7})
	found := keys(t, "", written(t, r), map[string][]string{})
	assert.Equal(t, []string{"aim", "extrapolated", "minutes", "minutes_as_tested", "scene_range_stops", "uncorrected"}, found["marked"])
	out := text(t, r)
	assert.Contains(t, oneLine(out), "for a scene of 7 stops and a density range of 1.05.")
	assert.Contains(t, oneLine(out), oneLine(page.StartingPoint))
	plain := familyReport(t, demoTrial(t, "larkfield-brinewater"))
	assert.Equal(t, "null", raw(t, plain, "marked"))
	assert.Contains(t, oneLine(text(t, plain)), oneLine(page.StartingPoint))
}

// oneLine joins the lines of a text, which may be broken anywhere.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func TestExposureText(t *testing.T) {
	out := oneLine(text(t, exposed(t, camera.Shot{Aperture: 16, Filters: []camera.Factor{2}, Bellows: 1.3})))
	assert.Contains(t, out, "Shadow: EV 3 1/3, placed on zone III.5. Highlight: EV 8 1/3, falls on zone VIII.5, wanted on zone VIII.5. The meter read at index 100.")
	assert.Regexp(t, `f/16: metered [\d.]+ s; filter 2x, bellows 1\.3x: [\d.]+ s; for reciprocity: [\dmins. ]+, set [\dmins ]+\. Reciprocity: table of 3 pairs\.`, out)
	assert.Contains(t, out, "expose at EV")
	assert.Contains(t, out, "contrast rises")

	out = oneLine(text(t, exposed(t, camera.Shot{Time: 30})))
	assert.Regexp(t, `f/\d+ \(f/\d+ [12]/3\): metered [\d.]+ s; for reciprocity: 30 s, set 30 s\.`, out)
	assert.NotContains(t, out, "filter")

	bright := &camera.Setting{Shot: camera.Shot{Aperture: 16}, Aperture: 16, Shutter: camera.Shutter{Metered: 1. / 58, Factored: 1. / 58, Corrected: 1. / 58}}
	assert.Equal(t, "f/16: metered 1/58 s, set 1/60 s", settingText(bright))

	unknown := sceneOf(t, demoTrial(t, "larkfield-brinewater"), scene.Scene{Stops: 7, Metering: spots()})
	out = text(t, unknown)
	assert.Contains(t, out, "placed on zone III.5")
	assert.NotContains(t, out, "f/")
}

func TestAimInWords(t *testing.T) {
	trial := demoTrial(t, "larkfield-brinewater")
	for aim, want := range map[string]string{
		"grade":     "for a density range of 1.05 to suit grade 2 (ISO range 105)",
		"condenser": "for a density range of 0.84 to suit grade 2 (ISO range 105), condenser enlarger, Callier coefficient 1.25",
		"scan":      "for a scan, the lightest tone at density 1.35",
		"paper":     " to suit Slate grade 3 (ISO range 9",
	} {
		s := aims(t)[aim]
		assert.Contains(t, oneLine(text(t, sceneOf(t, trial, s))), want)
		out := oneLine(text(t, rollOf(t, trial, s)))
		assert.Contains(t, out, want)
		assert.Contains(t, out, page.StartingPoint[:40])
	}
	out := text(t, sceneOf(t, trial, aims(t)["paper"]))
	assert.Contains(t, out, "\nprint density  ")
	assert.Contains(t, oneLine(out), "black is reached at -4.00 ±")
	assert.NotContains(t, text(t, sceneOf(t, trial, aims(t)["grade"])), "print density")
}

func TestRollText(t *testing.T) {
	trial := demoTrial(t, "larkfield-brinewater")
	out := text(t, rollOf(t, trial, scene.Scene{}))
	assert.Contains(t, out, "A roll of 3 scenes of 5.5 to 7.5 stops, for a density range of 1.05.")
	assert.Contains(t, oneLine(out), "suffers most: its negative asks for a paper of ISO range")
	assert.Regexp(t, `(?m)^Gallery +7 +\S+ ±\S+ +grade \d +\S+ +\d\.\d$`, out)
	assert.Regexp(t, `(?m)^Lamp room +7\.5 .* -$`, out)

	out = text(t, rollOf(t, trial, scene.Scene{ScanMax: 1.5}))
	assert.Contains(t, out, "below the aim")
	assert.NotContains(t, out, "print on")
	assert.NotContains(t, out, "suffers most")

	f := familyOf(t, trial)
	one, err := scene.ForRoll(f, scene.Scene{}, []scene.Frame{{Name: "Lamp room", Stops: 7}})
	require.NoError(t, err)
	out = text(t, NewRoll(one, DefaultConfidence))
	assert.Contains(t, out, "A roll of one scene of 7 stops")
	assert.NotContains(t, out, "suffers")
	alike, err := scene.ForRoll(f, scene.Scene{}, []scene.Frame{{Name: "a", Stops: 7}, {Name: "b", Stops: 7}})
	require.NoError(t, err)
	out = text(t, NewRoll(alike, DefaultConfidence))
	assert.Contains(t, out, "A roll of 2 scenes of 7 stops each")
	uneven, err := scene.ForRoll(f, scene.Scene{}, []scene.Frame{{Name: "a", Stops: 31. / 6}, {Name: "b", Stops: 7}})
	require.NoError(t, err)
	out = text(t, NewRoll(uneven, DefaultConfidence))
	assert.Contains(t, out, "A roll of 2 scenes of 5.17 to 7 stops")
	assert.Regexp(t, `(?m)^a +5\.17 `, out)
	assert.Contains(t, text(t, NewRoll(alike, DefaultConfidence)), "Every scene meets the aim.")
	// A range that no grade prints is marked, and told.
	far, err := scene.ForRoll(f, scene.Scene{DensityRange: 0.55}, []scene.Frame{{Name: "a", Stops: 8}, {Name: "b", Stops: 4}})
	require.NoError(t, err)
	out = text(t, NewRoll(far, DefaultConfidence))
	assert.Regexp(t, `(?m)^b +4 .* grade 5 +!-0\.\d\d$`, out)
	assert.Contains(t, out, "! b: a negative of density range")
}

func TestGivenIndexKeys(t *testing.T) {
	f := familyOf(t, demoTrial(t, "larkfield-brinewater"))
	p, err := scene.ForIndex(f, scene.Scene{Stops: 7, Paper: slate(t, "2")}, scene.Given{Index: 160, Exposed: true, Keep: scene.KeepMetered})
	require.NoError(t, err)
	r, err := NewScene(p, nil, DefaultConfidence)
	require.NoError(t, err)
	found := keys(t, "", written(t, r), map[string][]string{})
	assert.Equal(t, sceneKeys, found[""])
	assert.Equal(t, []string{"exposed", "index", "keep", "keep_others", "kept_density", "kept_stops_from_meter", "normal", "paper_log_range", "print", "push_stops",
		"rest_log_range", "scene_left_stops", "scene_lost_stops", "speed_point_stops"}, found["at_index"])
	assert.Equal(t, []string{"keep", "minutes"}, found["at_index.keep_others[]"])
	assert.Equal(t, []string{"delivered_density_range", "exposure_index", "minutes"}, found["at_index.normal"])
	assert.Equal(t, quantityKeys, found["at_index.push_stops"])
	assert.Equal(t, quantityKeys, found["at_index.normal.minutes"])
	assert.Equal(t, "160", raw(t, r, "exposure_index", "value"))
	assert.Equal(t, "true", raw(t, r, "at_index", "exposed"))
}
