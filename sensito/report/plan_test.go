package report

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

func planOf(t *testing.T, trial *sensito.Trial, stops float64, o testplan.Options) *Plan {
	t.Helper()
	p, err := testplan.Propose(familyOf(t, trial), scene.Scene{Stops: stops}, o)
	require.NoError(t, err)
	return NewPlan(p, Solution{MLPerRoll: 250, StripCm2: 50})
}

func firstTestOf(t *testing.T, way sensito.Kind) *Plan {
	t.Helper()
	p, err := testplan.FirstTest(testplan.FirstTestSpec{Film: sensito.Film{Name: "Tern 400", RatedSpeed: 400}, Minutes: 9, Way: way,
		Process: sensito.Process{Developer: "Ashlar", Dilution: "1+4", TemperatureC: 20, Agitation: sensito.AgitationContinuous}})
	require.NoError(t, err)
	return NewFirstTest(p, Solution{})
}

var (
	candidateKeys = []string{"action", "after", "again", "far", "gain", "minutes", "text", "within_percent"}
	exposureKeys  = []string{"illuminance_lx", "kind", "lux_seconds", "meter_index", "seconds", "stops", "wedge_count", "wedge_first", "wedge_step"}
	planKeys      = []string{"before", "bench", "candidates", "conditions", "minutes_as_tested", "proposal", "schema", "today", "trial", "uncorrected", "wanted", "warnings"}
	proposedKeys  = []string{"after", "likely_percent", "met", "minutes", "steps", "within_percent"}
	benchKeys     = []string{"expose", "exposure", "read", "steps", "strips", "write_down"}
)

func TestPlanKeys(t *testing.T) {
	got := written(t, planOf(t, demoTrial(t, "larkfield-brinewater"), 6, testplan.Options{Within: 0.01}))
	assert.Equal(t, "sensito/plan/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"":                               planKeys,
		"wanted":                         {"aim", "confidence", "delivered_density_range", "density_range", "quantity", "scene_range_stops", "within_percent"},
		"wanted.delivered_density_range": quantityKeys,
		"before":                         quantityKeys,
		"candidates[]":                   candidateKeys,
		"candidates[].after":             quantityKeys,
		"proposal":                       proposedKeys,
		"proposal.after":                 quantityKeys,
		"proposal.steps[]":               candidateKeys,
		"proposal.steps[].after":         quantityKeys,
		"bench":                          benchKeys,
		"bench.strips[]":                 {"developer_ml", "minutes"},
		"warnings[]":                     warningKeys,
	}, keys(t, "", got, map[string][]string{}))
}

func TestFirstTestKeys(t *testing.T) {
	for _, way := range []sensito.Kind{sensito.Contact, sensito.Camera} {
		r := firstTestOf(t, way)
		assert.Equal(t, map[string][]string{
			"":               planKeys,
			"proposal":       proposedKeys,
			"bench":          benchKeys,
			"bench.exposure": exposureKeys,
			"bench.strips[]": {"developer_ml", "minutes"},
		}, keys(t, "", written(t, r), map[string][]string{}))
		for _, key := range []string{"wanted", "before"} {
			assert.Equal(t, "null", raw(t, r, key))
		}
		assert.Equal(t, "[]", raw(t, r, "candidates"))
		assert.Equal(t, "[]", raw(t, r, "warnings"))
		assert.Equal(t, "[5.75,7,9,11.5,14.5]", raw(t, r, "proposal", "minutes"))
	}
	r := firstTestOf(t, sensito.Camera)
	assert.Equal(t, "null", raw(t, r, "bench", "exposure", "lux_seconds"))
	assert.Equal(t, "400", raw(t, r, "bench", "exposure", "meter_index"))
	r = firstTestOf(t, sensito.Contact)
	assert.Equal(t, "0.794", raw(t, r, "bench", "exposure", "lux_seconds"))
	assert.Equal(t, "null", raw(t, r, "bench", "exposure", "stops"))
}

// allPlans are plans of every kind.
func allPlans(t *testing.T) map[string]*Plan {
	larkfield, camera := demoTrial(t, "larkfield-brinewater"), demoTrial(t, "larkfield-camera")
	index := testplan.Options{Wanted: testplan.WantedIndex, Within: 0.07}
	return map[string]*Plan{
		"next":           planOf(t, larkfield, 6, testplan.Options{Within: 0.01}),
		"sharp enough":   planOf(t, larkfield, 7, testplan.Options{}),
		"near the limit": planOf(t, stripsOf(t, larkfield, 0, 1, 2), 4.8, testplan.Options{MaxStrips: 1}),
		"index":          planOf(t, camera, 7, index),
		"relative":       planOf(t, relativeTrial(t), 7, testplan.Options{Within: 0.02}),
		"one strip":      planOf(t, stripsOf(t, larkfield, 2), 7, testplan.Options{}),
		"no rate":        planOf(t, blind.ExactFamily(t, "", simulated.WedgeOf(t, 0, 0), "", []float64{4, 6}, asTime).Trial, 7, testplan.Options{}),
		"first, contact": firstTestOf(t, sensito.Contact),
		"first, camera":  firstTestOf(t, sensito.Camera),
	}
}

// stripsOf returns a trial with some of its strips, counted from 0.
func stripsOf(t *testing.T, trial *sensito.Trial, which ...int) *sensito.Trial {
	t.Helper()
	spec := sensito.TrialSpec{Film: trial.Film(), Process: trial.Process(), Exposures: trial.Exposures()}
	for _, i := range which {
		strip := trial.Strips()[i]
		s := sensito.StripSpec{Minutes: strip.Minutes(), BaseFog: strip.BaseFog()}
		for _, step := range strip.Steps() {
			s.Density = append(s.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, s)
	}
	out, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return out
}

func TestPlanText(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	for name, r := range allPlans(t) {
		out := text(t, r)
		for line := range strings.Lines(out) {
			line = strings.TrimSuffix(line, "\n")
			assert.LessOrEqual(t, len([]rune(line)), 80, "%s: %s", name, line)
			assert.Equal(t, strings.TrimRight(line, " "), line, "%s: blanks at the end", name)
		}
		for _, never := range []string{"%!", "NaN", "Inf", "333333"} {
			assert.NotContains(t, out, never, name)
		}
		for _, caution := range []string{"gloves", "eye protection", "ventilation", "never mix acids", "safety sheet", "dispose by local rules"} {
			assert.Contains(t, out, caution, name)
		}
		assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull, name)
		written(t, r)
	}
	plans := allPlans(t)
	assert.Contains(t, text(t, plans["sharp enough"]), "nothing needs to be tested")
	assert.NotContains(t, text(t, plans["sharp enough"]), "At the bench")
	assert.Contains(t, text(t, plans["no rate"]), "none yet")
	assert.Contains(t, text(t, plans["next"]), "developer, ml")
	assert.Contains(t, text(t, plans["near the limit"]), "or more")
	assert.Equal(t, "null", raw(t, plans["near the limit"], "before", "high"))
	assert.Equal(t, "null", raw(t, plans["no rate"], "before"))
	assert.Equal(t, "null", raw(t, plans["no rate"], "proposal", "likely_percent"))
}

// asTime is a film whose contrast grows as the time, which shows no limit.
func asTime(minutes float64) simulated.Film { return simulated.ModelFilm(0.1 * minutes) }

// A tested time that is proposed again says what it is good for, and how to develop it;
// nothing of the kind is said where the trial states how well its process repeats.
func TestPlanOfStripsAlike(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	const alike, apart = "again: strips developed alike tell how well your process repeats", "Develop each strip in a run of its own"
	trial := demoTrial(t, "larkfield-brinewater")
	spec := trial.Spec()
	spec.Repeating = sensito.Repeating{TemperatureSDC: 0.1, TimeSD: 2}
	stated, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		trial *sensito.Trial
		want  bool
	}{"not stated": {trial, true}, "stated": {stated, false}} {
		r := planOf(t, c.trial, 6, testplan.Options{Within: 0.01})
		out := oneLine(text(t, r))
		for _, sentence := range []string{"8:00 " + alike, apart, "develop another strip for 8:00", "state temperature_sd_c and time_sd_s"} {
			assert.Equal(t, c.want, strings.Contains(out, sentence), "%s: %s\n%s", name, sentence, out)
		}
		assert.Equal(t, c.want, strings.Contains(string(raw(t, r, "candidates")), `"again":true`), name)
		assert.NotEmpty(t, r.times(), name)
	}
	assert.Equal(t, "6:00", answers.Clocks([]sensito.Minutes{6}))
	assert.Equal(t, "6:00, 7:30 and 9:00", answers.Clocks([]sensito.Minutes{6, 7.5, 9}))
}

// A plan of today tells the answer as tested and uncorrected as well, and that the
// strips are developed as those of the trial.
func TestPlanOfToday(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	log, err := notebook.ReadControlFile("../../cmd/sensito/demo/control.toml")
	require.NoError(t, err)
	f := familyOf(t, demoTrial(t, "larkfield-brinewater"))
	const strips = "Develop the strips as those of the trial, at the times given for them, which are not those of today: Brinewater 1+19, 20 °C, continuous agitation."
	for _, c := range []struct {
		name                  string
		today                 scene.Today
		wanted                testplan.Wanted
		asTested, uncorrected bool
		strips                bool
	}{
		{name: "as in the trial"},
		{"warm", scene.Today{Conditions: development.Conditions{TemperatureC: new(23.0)}}, testplan.WantedMinutes, true, false, true},
		{"warm, index", scene.Today{Conditions: development.Conditions{TemperatureC: new(23.0)}}, testplan.WantedIndex, false, false, true},
		{"uncorrected", scene.Today{Control: log}, testplan.WantedMinutes, false, false, false},
		{"corrected", scene.Today{Control: log, Correct: true}, testplan.WantedMinutes, false, true, true},
		{"corrected, index", scene.Today{Control: log, Correct: true}, testplan.WantedIndex, false, true, true},
	} {
		p, err := testplan.Propose(f, scene.Scene{Stops: 7, Today: c.today}, testplan.Options{Wanted: c.wanted, Within: 0.01})
		require.NoError(t, err)
		r := NewPlan(p, Solution{})
		out := text(t, r)
		assert.Equal(t, c.strips, strings.Contains(oneLine(out), strips), "%s\n%s", c.name, out)
		assert.Equal(t, c.asTested, strings.Contains(out, "\n  as tested "), c.name)
		assert.Equal(t, c.asTested, r.asTested() != nil, c.name)
		assert.Equal(t, c.uncorrected, p.Answer.Uncorrected != nil, c.name)
		assert.Equal(t, c.uncorrected, strings.Contains(oneLine(out), "Uncorrected: 5:55 (5.96 ±0.04 min), EI "), c.name)
		if c.asTested {
			i := slices.IndexFunc(r.warnings, func(w sensito.Warning) bool { return w.Code == "common_error" })
			if assert.GreaterOrEqual(t, i, 0) {
				assert.Equal(t, "however many strips are developed as in the trial, the answer stays uncertain by 12.8 %, because of what the conditions of today do to the time; "+
					"strips developed under the conditions of today would measure what those do", r.warnings[i].Message())
			}
		}
	}
}

// What is to be written down is of the instrument that reads, and nobody measures a light
// that the trial does not know.
func TestBenchOfTheInstrument(t *testing.T) {
	const densitometer = "densitometer: zero on air or base, and the same patch before and after"
	assert.Contains(t, writeDown(sensito.Reading{}), densitometer)
	assert.Contains(t, writeDown(sensito.Reading{Unit: sensito.UnitStep}), "by eye: which tablet, and the match of the same patch before and after")
	assert.NotContains(t, writeDown(sensito.Reading{Unit: sensito.UnitStep}), densitometer)

	p := planOf(t, demoTrial(t, "larkfield-meter"), 7, testplan.Options{Within: 0.01})
	assert.Contains(t, p.Bench.WriteDown, "light meter: the bare light of the table before and after each strip")
	assert.NotContains(t, p.Bench.WriteDown, densitometer)
	assert.Contains(t, p.Bench.Expose, "Expose as the strips before: the same lamp at the same distance, the same time and wedge.")
	assert.NotContains(t, text(t, p), "illuminance")
}
