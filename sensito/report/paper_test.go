package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/paper"
	"sensito/sensito/report/internal/page"
)

func paperOf(t *testing.T, trial *sensito.Trial, callier float64) *Paper {
	t.Helper()
	p, err := paper.Measure(trial, curve.FitOptions{})
	require.NoError(t, err)
	return NewPaper(p, callier, DefaultConfidence)
}

// relativePaper is a demo paper with relative exposures and without a title.
func relativePaper(t *testing.T, name string) *sensito.Trial {
	t.Helper()
	trial := demoTrial(t, name)
	e, err := sensito.NewRelative(trial.Exposures().LogH())
	require.NoError(t, err)
	spec := sensito.TrialSpec{Material: trial.Material(), Film: trial.Film(), Exposures: e}
	for _, s := range trial.Strips() {
		strip := sensito.StripSpec{Grade: s.Grade(), BaseFog: s.BaseFog()}
		for _, step := range s.Steps() {
			strip.Density = append(strip.Density, step.Density)
		}
		spec.Strips = append(spec.Strips, strip)
	}
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

func TestPaperKeys(t *testing.T) {
	got := written(t, paperOf(t, demoTrial(t, "slate"), 0))
	assert.Equal(t, "sensito/paper/1", got["schema"])
	assert.Len(t, got["strips"], 7)
	assert.Equal(t, map[string][]string{
		"": {"callier", "schema", "strips", "trial", "warnings"},
		"strips[]": {"average_gradient", "black_log_h_lxs", "black_reached", "density_range", "grade", "iso_range",
			"iso_range_rounded", "iso_speed", "log_range", "max_density", "min_density", "minutes", "model", "numbered_grade",
			"residual_sd", "set_aside", "speed", "speed_point_log_h_lxs", "warnings", "white_log_h_lxs", "white_reached"},
		"strips[].average_gradient":      quantityKeys,
		"strips[].black_log_h_lxs":       quantityKeys,
		"strips[].density_range":         quantityKeys,
		"strips[].iso_range":             quantityKeys,
		"strips[].iso_speed":             quantityKeys,
		"strips[].log_range":             quantityKeys,
		"strips[].max_density":           quantityKeys,
		"strips[].min_density":           quantityKeys,
		"strips[].speed":                 quantityKeys,
		"strips[].speed_point_log_h_lxs": quantityKeys,
		"strips[].white_log_h_lxs":       quantityKeys,
	}, keys(t, "", got, map[string][]string{}))
}

func TestPaperValues(t *testing.T) {
	p, err := paper.Measure(demoTrial(t, "slate"), curve.FitOptions{})
	require.NoError(t, err)
	for _, callier := range []float64{0, 1, 1.25} {
		r := NewPaper(p, callier, 0.9)
		q := max(callier, 1)
		got := written(t, r)
		assert.Equal(t, q, got["callier"])
		strips := got["strips"].([]any)
		for i, m := range p.Strips {
			s := strips[i].(map[string]any)
			value := func(key string) any { return s[key].(map[string]any)["value"] }
			assert.Equal(t, m.Grade, s["grade"])
			assert.InDelta(t, 1.5, s["minutes"], 0)
			assert.InDelta(t, 100*float64(m.LogRange.Value), value("iso_range"), 1e-9)
			low, high := m.LogRange.Interval(0.9)
			needed := s["density_range"].(map[string]any)
			assert.InDelta(t, float64(low)/q, needed["low"], 1e-9)
			assert.InDelta(t, float64(high)/q, needed["high"], 1e-9)
			assert.InDelta(t, m.RoundedRange(), s["iso_range_rounded"], 0)
			assert.InDelta(t, float64(m.Speed.Value), value("iso_speed"), 1e-9)
		}
		assert.Equal(t, "null", raw(t, r, "strips", 0, "numbered_grade"), "softer than grade 0")
		assert.Equal(t, `"2"`, raw(t, r, "strips", 3, "numbered_grade"))
	}
}

func TestPaperText(t *testing.T) {
	for name, trial := range map[string]*sensito.Trial{"slate": demoTrial(t, "slate"), "foxglove": demoTrial(t, "foxglove"),
		"relative slate": relativePaper(t, "slate"), "relative foxglove": relativePaper(t, "foxglove")} {
		for _, callier := range []float64{1, 1.45} {
			r := paperOf(t, trial, callier)
			out := text(t, r)
			for line := range strings.Lines(out) {
				line = strings.TrimSuffix(line, "\n")
				assert.LessOrEqual(t, page.Width(line), 80, "%s: %s", name, line)
				assert.Equal(t, strings.TrimRight(line, " "), line, "%s: blanks at the end", name)
			}
			assert.NotRegexp(t, "NaN|Inf|%!", out, name)
			assert.Contains(t, out, "Chemicals are hazardous", name)
			assert.Contains(t, out, "starting point", name)
			assert.NotContains(t, out, "computed time", name)
			if callier == 1 {
				assert.Contains(t, out, "condenser, Q 1.3", name)
				assert.Contains(t, out, "rule of thumb", name)
			} else {
				assert.Contains(t, out, "condenser, Q 1.45", name)
				assert.NotContains(t, out, "rule of thumb", name)
			}
			assert.ErrorIs(t, r.Text(full{}, Layout{}), errFull)
			assert.ErrorIs(t, JSON(full{}, r), errFull)
		}
	}
}

// picturedPaper is a demo paper of which strips from the first to one were read in pictures.
func picturedPaper(t *testing.T, name string, strips int) *sensito.Trial {
	t.Helper()
	spec := demoTrial(t, name).Spec()
	spec.Calibrations = []sensito.Calibration{{Name: "grey scale", Repeatability: 0.006, Covariance: [3][3]float64{{1e-4}, {0, 1e-4}}}}
	for i := range spec.Strips[:strips] {
		spec.Strips[i].Calibration = "grey scale"
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return trial
}

// What was read in pictures is called ISO nowhere, and a warning says why, once; the numbers are
// told all the same.
func TestPaperPictured(t *testing.T) {
	for name, strips := range map[string]int{"slate": 7, "foxglove": 1} {
		r := paperOf(t, picturedPaper(t, name, strips), 1)
		out := text(t, r)
		answers, warning, found := strings.Cut(out, "read in pictures")
		require.True(t, found, name)
		assert.NotContains(t, answers, "ISO", name)
		assert.NotContains(t, answers, "R 1", name)
		assert.Contains(t, answers, "log range", name)
		assert.NotContains(t, warning, "read in pictures", name)
		assert.Contains(t, warning, "ISO 5-4", name)
		assert.Contains(t, out, " log H ", name)
		for line := range strings.Lines(out) {
			assert.LessOrEqual(t, page.Width(strings.TrimSuffix(line, "\n")), 80, "%s: %s", name, line)
		}
		assert.Equal(t, 1, strings.Count(raw(t, r, "warnings"), "reflection_pictured"))
		for i := range strips {
			for _, key := range []string{"iso_range", "iso_range_rounded", "iso_speed"} {
				assert.Equal(t, "null", raw(t, r, "strips", i, key), "%s %s", name, key)
			}
			for _, key := range []string{"log_range", "speed", "density_range", "white_log_h_lxs"} {
				assert.NotEqual(t, "null", raw(t, r, "strips", i, key), "%s %s", name, key)
			}
		}
	}
	some := paperOf(t, picturedPaper(t, "slate", 2), 1)
	assert.Equal(t, "null", raw(t, some, "strips", 1, "iso_range"))
	assert.NotEqual(t, "null", raw(t, some, "strips", 2, "iso_range"))
	assert.Contains(t, text(t, some), "read in pictures (00, 0): ")
}

func TestPaperUnknownIsNull(t *testing.T) {
	relative := paperOf(t, relativePaper(t, "foxglove"), 1)
	assert.Equal(t, "null", raw(t, relative, "strips", 0, "iso_speed"))
	assert.Equal(t, "null", raw(t, relative, "strips", 0, "minutes"))
	assert.Equal(t, `""`, raw(t, relative, "strips", 0, "grade"))
	assert.Equal(t, `"log10 relative"`, raw(t, relative, "strips", 0, "white_log_h_lxs", "unit"))
	assert.Contains(t, raw(t, relative, "warnings"), "relative_exposure")
	assert.Contains(t, text(t, relative), "no speed")

	trial := demoTrial(t, "foxglove")
	p := &paper.Paper{Trial: trial, Warnings: sensito.Warnings{},
		Strips: []*paper.Strip{{Strip: trial.Strips()[0], Warnings: sensito.Warnings{sensito.Warn("no_curve", "no curve could be fitted")}}}}
	r := NewPaper(p, 1, DefaultConfidence)
	for key, value := range written(t, r)["strips"].([]any)[0].(map[string]any) {
		switch key {
		case "grade":
			assert.Empty(t, value)
		case "minutes":
			assert.InDelta(t, 2, value, 0)
		case "black_reached", "white_reached":
			assert.Equal(t, false, value)
		case "set_aside":
			assert.Equal(t, []any{}, value)
		case "warnings":
			assert.Len(t, value, 1)
		default:
			assert.Nil(t, value, key)
		}
	}
	assert.Contains(t, text(t, r), "strip 1: no curve could be fitted")
}
