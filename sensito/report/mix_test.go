package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/report/internal/page"
)

func mixOf(t *testing.T, spec darkroom.MixSpec) *Mix {
	t.Helper()
	m, err := darkroom.NewMix(spec)
	require.NoError(t, err)
	return NewMix(m)
}

// Mixtures of every kind.
func mixtures(t *testing.T) map[string]*Mix {
	films, err := sensito.ParseFilms("4x 4x5in, 120")
	require.NoError(t, err)
	d := sensito.Dilution{Concentrate: 1, Water: 31, Colon: true}
	return map[string]*Mix{
		"dilution": mixOf(t, darkroom.MixSpec{Dilution: d, Tank: 1000, Films: films, Least: darkroom.Least{Concentrate: 6}}),
		"water":    mixOf(t, darkroom.MixSpec{Concentrate: 5, Water: 1000}),
		"instead":  mixOf(t, darkroom.MixSpec{Dilution: sensito.Dilution{Concentrate: 1, Water: 200}, Total: 100}),
		"stock":    mixOf(t, darkroom.MixSpec{Dilution: d, Stock: d, Total: 1000}),
		"as it is": mixOf(t, darkroom.MixSpec{Dilution: sensito.Undiluted, Total: 1000}),
		"percent":  mixOf(t, darkroom.MixSpec{Percent: 2, StockPercent: 10, Total: 500}),
		"dry":      mixOf(t, darkroom.MixSpec{Percent: 10, Total: 500}),
	}
}

func TestMixKeys(t *testing.T) {
	all := map[string][]string{
		"": {"cautions", "concentrate_ml", "films", "instead", "measure", "percent", "ratio", "schema", "stock_ml", "stock_percent", "stock_ratio",
			"substance_g", "tank_ml", "total_ml", "volumes", "warnings", "water_ml"},
		"volumes[]":       {"imperial_floz", "l", "ml", "name", "us_floz"},
		"warnings[]":      warningKeys,
		"films":           {"area_cm2", "area_sq_in", "concentrate_ml_per_80_sq_in", "formats", "least_ml", "most_films"},
		"films.formats[]": {"area_sq_in", "count", "name", "note"},
	}
	for _, way := range []string{"measure", "instead"} {
		all[way] = []string{"left_ml", "pours", "ratio", "reading_percent", "strength_percent"}
		all[way+".pours[]"] = []string{"added_water", "liquid", "top_up_to"}
		for _, reading := range []string{"added_water", "liquid", "top_up_to"} {
			all[way+".pours[]."+reading] = []string{"fills", "graduate_ml", "mark_ml", "ml"}
		}
	}
	found := map[string][]string{}
	for name, r := range mixtures(t) {
		got := written(t, r)
		assert.Equal(t, "sensito/mix/1", got["schema"], name)
		assert.Len(t, got["cautions"], 2, name)
		keys(t, "", got, found)
	}
	delete(all, "instead.pours[].added_water") // nothing so small needs more than one fill
	assert.Equal(t, all, found)
}

// Whoever is told to mix or pour is told to take care.
func TestMixCautions(t *testing.T) {
	for name, r := range mixtures(t) {
		var text bytes.Buffer
		require.NoError(t, r.Text(&text, Layout{Full: true}))
		words := oneLine(text.String())
		for _, caution := range []string{"gloves", "eye protection", "ventilation", "never mix acids or bleach with fixer", "safety sheet",
			"dispose by local rules", "Pour acid, and any concentrate, into water, never water into it", "Do not breathe dust"} {
			assert.Contains(t, words, caution, name)
			assert.Contains(t, Cautions()[0]+Cautions()[1], caution, name)
		}
	}
}

func TestMixText(t *testing.T) {
	for name, want := range map[string][]string{
		"dilution": {"1+31, 1000 ml", "4x 4x5in and 1x 120: 160 sq in (1032 cm2), 15.6", "of concentrate for 80 sq in; the least for all of it is 30 ml (6 ml a film).",
			"! 1:31 is read as 1+31, 31.25 ml in 1000 ml; who reads it as 1 in 31 takes 32.26 ml: write 1+31 or 1+30"},
		"water":    {"1+200, 1005 ml", "Pour it into 1000 ml of water, measured in the graduate of 1000 ml, marks of 10 ml."},
		"instead":  {"Surer, over a stock", "Measure 5 ml of the stock", "Of the stock 95 ml are left"},
		"stock":    {"Stock 1+31, of which 1+31, 1000 ml: 1+1023 in all", "Pour all of the stock into most of the water"},
		"as it is": {"stock, 1000 ml"},
		"percent":  {"2 % solution of 10 %, 500 ml: 1+4", "Measure 100 ml of 10 % solution in the graduate of 100 ml"},
		"dry":      {"10 % solution, 500 ml", "Weigh 50 g, dissolve it in about 400 ml of water, and top up to 500 ml once it is cool."},
	} {
		var text bytes.Buffer
		require.NoError(t, mixtures(t)[name].Text(&text, Layout{Full: true}))
		for _, line := range want {
			assert.Contains(t, strings.Join(strings.Fields(text.String()), " "), line, name)
		}
		for line := range bytes.Lines(text.Bytes()) {
			assert.LessOrEqual(t, page.Width(string(bytes.TrimRight(line, "\n"))), page.TextWidth, "%s: %s", name, line)
		}
	}
}
