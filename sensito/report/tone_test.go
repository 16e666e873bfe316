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
	"sensito/sensito/scene"
)

func reproduced(t *testing.T, film, on *sensito.Trial, grade string, aimed scene.Scene) *scene.Reproduction {
	t.Helper()
	p, err := paper.Measure(on, curve.FitOptions{})
	require.NoError(t, err)
	aimed.Paper, err = p.Grade(grade)
	require.NoError(t, err)
	answer, err := scene.For(familyOf(t, film), aimed)
	require.NoError(t, err)
	r, err := answer.Reproduce()
	require.NoError(t, err)
	return r
}

func reproductionOf(t *testing.T, film, on *sensito.Trial, grade string, scene scene.Scene) *Reproduction {
	t.Helper()
	return NewReproduction(reproduced(t, film, on, grade, scene), DefaultConfidence)
}

func TestReproductionText(t *testing.T) {
	p := reproduced(t, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "slate"), "2", scene.Scene{Stops: 7})
	r := NewReproduction(p, DefaultConfidence)
	got := text(t, r)
	for _, want := range []string{"A scene of 7 stops (N) in the print, for ", "Slate\ngrade 2", "at the metered tone; 1 is equal tone",
		"of the highlights, as an even veil", "set aside; read it again", page.StartingPoint[:40]} {
		assert.Contains(t, got, want)
	}
	assert.Contains(t, got, clock(float64(p.Answer.Minutes.Value), 5))
	for line := range strings.Lines(got) {
		assert.LessOrEqual(t, page.Width(strings.TrimSuffix(line, "\n")), 80, line)
	}
	// A row of the table is the tone.
	metered := p.Tones[4]
	require.Zero(t, metered.Stops)
	row := ""
	for line := range strings.Lines(got) {
		if strings.HasPrefix(line, "0 ") {
			row = line
		}
	}
	assert.Equal(t, []string{"0", "0.00", page.Fixed(float64(metered.Film), 2), page.Fixed(float64(metered.Net), 2), page.Fixed(float64(metered.NetDensity.StdErr), 3),
		page.Fixed(float64(metered.PaperLogH), 2), page.Fixed(float64(metered.Printed), 2), page.Fixed(float64(metered.Tone.Print.StdErr), 3),
		page.Fixed(metered.Gradient, 2)}, strings.Fields(row))
}

// Without flare nothing is said of it; a condenser is named; a scene below the
// metered tone has its middle in its middle.
func TestReproductionTextOfOtherScenes(t *testing.T) {
	none := sensito.Flare{Kind: sensito.FlareNone}
	got := text(t, reproductionOf(t, demoTrial(t, "tern-ashlar"), demoTrial(t, "slate"), "1", scene.Scene{Stops: 7, Callier: 1.4, Flare: none, ShadowStops: 3.34}))
	assert.NotContains(t, got, "veil")
	assert.NotContains(t, got, "Flare lifts")
	assert.Contains(t, got, "Callier coefficient 1.4")
	assert.Contains(t, got, "\n-3.34 ")
	assert.Contains(t, got, "\n+3.66 ")

	got = text(t, reproductionOf(t, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "slate"), "5", scene.Scene{Stops: 3, Flare: none}))
	assert.Contains(t, got, "in the middle of the scene")
}

// Relative exposures are told as such, and give no index.
func TestReproductionOfRelativeExposures(t *testing.T) {
	r := reproductionOf(t, relativeTrial(t), demoTrial(t, "slate"), "2", scene.Scene{Stops: 7})
	assert.Equal(t, "null", raw(t, r, "exposure_index"))
	assert.Equal(t, `"log10 relative"`, raw(t, r, "film_log_h_unit"))
	assert.Equal(t, `"log10 lx s"`, raw(t, r, "paper_log_h_unit"))
	got := text(t, r)
	assert.NotContains(t, got, "exposure index  ")
	assert.Contains(t, got, "relative units")
}

func TestReproductionJSON(t *testing.T) {
	p := reproduced(t, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "foxglove"), "", scene.Scene{Stops: 9, Flare: sensito.Flare{Kind: sensito.FlareVeil, Value: 0.003}})
	got := written(t, NewReproduction(p, DefaultConfidence))
	assert.InDelta(t, 0.003, got["flare_veil"], 1e-12)
	assert.InDelta(t, p.Mid.Gradient, got["mid_gradient"], 1e-12)
	tones := got["tones"].([]any)
	require.Len(t, tones, len(p.Tones))
	for i, tone := range p.Tones {
		row := tones[i].(map[string]any)
		assert.InDelta(t, tone.Stops, row["stops_from_meter"], 1e-12)
		assert.InDelta(t, 0.30103*tone.Stops, row["scene_log_luminance"], 1e-5)
		assert.InDelta(t, float64(tone.Film), row["film_log_h_lxs"], 1e-12)
		assert.InDelta(t, float64(tone.PaperLogH), row["paper_log_h_lxs"], 1e-12)
		assert.InDelta(t, float64(tone.Printed), row["print_density"].(map[string]any)["value"], 1e-12)
		assert.InDelta(t, float64(tone.NetDensity.StdErr), row["net_density"].(map[string]any)["sd"], 1e-12)
	}
	line := got["reproduction"].([]any)
	require.Len(t, line, len(p.Line))
	last := line[len(line)-1].(map[string]any)
	assert.InDelta(t, float64(p.Tones[len(p.Tones)-1].Printed), last["print_density"], 1e-9)
}

// A time may be open above and outside the tested times at once: both are said.
func TestReproductionSaysBothOfATime(t *testing.T) {
	r := reproductionOf(t, demoTrial(t, "larkfield-brinewater"), demoTrial(t, "slate"), "2", scene.Scene{Stops: 7})
	for _, c := range []struct {
		open, outside bool
		want          string
	}{
		{false, false, `develop, min:s\s+\d+:\d\d\n`},
		{true, false, `develop, min:s\s+\d+:\d\d  or longer\n`},
		{false, true, `develop, min:s\s+\d+:\d\d  outside the tested times\n`},
		{true, true, `develop, min:s\s+\d+:\d\d  or longer; outside the tested times\n`},
	} {
		r.of.Answer.Minutes.AtLeast, r.of.Answer.Extrapolated = c.open, c.outside
		assert.Regexp(t, c.want, text(t, r))
	}
}
