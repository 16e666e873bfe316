package report

import (
	"bytes"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

func sampledOf(t *testing.T, trial *sensito.Trial, n int) *Sampled {
	ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return NewSampled(trial, ms, n)
}

func TestSampledKeys(t *testing.T) {
	got := written(t, sampledOf(t, demoTrial(t, "larkfield-brinewater"), 5))
	assert.Equal(t, "sensito/curves/1", got["schema"])
	assert.Equal(t, map[string][]string{
		"":                  {"log_h_unit", "schema", "strips", "trial", "warnings"},
		"strips[]":          {"minutes", "model", "points", "strip"},
		"strips[].points[]": {"density", "log_h", "net_density", "slope"},
		"warnings[]":        warningKeys,
	}, keys(t, "", got, map[string][]string{}))
}

// The grades of a paper are sampled alike, with their grade beside their number.
func TestSampledPaper(t *testing.T) {
	p, err := paper.Measure(demoTrial(t, "slate"), curve.FitOptions{})
	require.NoError(t, err)
	r := NewSampledPaper(p, 5)
	headings, rows := r.Table()
	assert.Equal(t, []string{"strip", "grade", "minutes", "log_h_lxs", "density", "net_density", "slope"}, headings)
	require.Len(t, rows, 7*5)
	assert.Equal(t, []string{"1", "00"}, rows[0][:2])
	for i, m := range p.Strips {
		assert.Equal(t, m.Grade, r.strips[i].strip.Grade())
		lo, hi := m.Fit.Curve.Domain()
		for k, at := range r.strips[i].points {
			assert.InDelta(t, float64(lo.Add(hi.Sub(lo)*sensito.LogRange(k)/4)), float64(at.LogH), 1e-12)
			assert.Equal(t, m.Fit.Curve.Density(at.LogH), at.Density)
			assert.InDelta(t, float64(at.Density-m.MinDensity.Value), float64(at.Net), 1e-12)
			assert.Equal(t, m.Fit.Curve.Slope(at.LogH), at.Slope)
		}
	}
}

// The tables hold what the JSON of the same report does, every digit of it.
func TestTables(t *testing.T) {
	trial := demoTrial(t, "larkfield-brinewater")
	sampled := sampledOf(t, trial, 5)
	headings, rows := sampled.Table()
	assert.Equal(t, []string{"strip", "minutes", "log_h_lxs", "density", "net_density", "slope"}, headings)
	require.Len(t, rows, 25)
	last := sampled.strips[4].points[4]
	assert.Equal(t, []float64{5, 10, float64(last.LogH), float64(last.Density), float64(last.Net), last.Slope}, parsed(t, rows[24]))
	var text bytes.Buffer
	require.NoError(t, sampled.Text(&text, Layout{Full: true}))
	assert.Contains(t, text.String(), "net_density")

	f := familyOf(t, trial)
	family, err := NewFamily(f, nil, DefaultConfidence)
	require.NoError(t, err)
	headings, rows = family.Table()
	require.Len(t, rows, len(f.Strips))
	assert.Len(t, headings, len(rows[0]))
	assert.Equal(t, []string{"minutes", "contrast_index", "contrast_index_sd", "contrast_index_low", "contrast_index_high"}, headings[:5])
	m := f.Strips[2]
	low, high := m.ContrastIndex.Interval(DefaultConfidence)
	assert.Equal(t, []float64{float64(m.Strip.Minutes()), m.ContrastIndex.Value, m.ContrastIndex.StdErr, low, high},
		parsed(t, rows[2][:5]))

	c, err := scene.NewCard(familyOf(t, trial), scene.Scene{DensityRange: 1.5})
	require.NoError(t, err)
	card := NewCard(c, DefaultConfidence, "")
	headings, rows = card.Table()
	require.Len(t, rows, 9)
	assert.Len(t, headings, len(rows[8]))
	assert.Equal(t, append([]string{"2", "5"}, make([]string, 16)...), rows[8][:18]) // no time can serve
	assert.Equal(t, c.Rows[8].Reason, rows[8][19])
	assert.NotEmpty(t, rows[8][19])
	assert.Equal(t, c.Warnings(), card.Notices())
}

func parsed(t *testing.T, cells []string) []float64 {
	out := make([]float64, len(cells))
	for i, c := range cells {
		var err error
		out[i], err = strconv.ParseFloat(c, 64)
		require.NoError(t, err)
	}
	return out
}
