package scene

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
)

// dated returns a card whose strips were developed on these dates.
func dated(t *testing.T, dates ...string) *Card {
	c := &Card{Family: &development.Family{}}
	spec := simulated.TrialOf(t, sensito.Process{}).Spec()
	for _, d := range dates {
		spec.Strips[0].Date = d
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		c.Family.Strips = append(c.Family.Strips, &curve.Measured{Strip: trial.Strips()[0]})
	}
	return c
}

func TestCardDates(t *testing.T) {
	for _, c := range []struct {
		made  string
		dates []string
		want  string
	}{
		{"", nil, ""},
		{"", []string{"", ""}, ""},
		{"2026-03-05", []string{"", ""}, "made 2026-03-05"},
		{"2026-03-05", []string{"2026-03-02", "2026-03-02"}, "made 2026-03-05; strips developed 2026-03-02"},
		{"2026-03-05", []string{"2026-03-02", "", "2025-12-31", "2026-01-04"}, "made 2026-03-05; strips developed 2025-12-31 to 2026-03-02"},
		{"", []string{"2026-03-02", ""}, "strips developed 2026-03-02"},
	} {
		assert.Equal(t, c.want, dated(t, c.dates...).Dates(c.made))
	}
}

// A warning of one kind is told once, with the rows that it holds for; what
// else would serve differs by row.
func TestCardWarnings(t *testing.T) {
	row := func(stops float64, ws ...sensito.Warning) CardRow {
		return CardRow{Stops: stops, Answer: &Answer{Warnings: ws}}
	}
	all := sensito.Warn("no_curve", "strip 4")
	c := &Card{Family: &development.Family{Warnings: sensito.Warnings{all}}, Rows: []CardRow{
		row(9, all, sensito.Warn("no_limit")),
		row(8.5, all, sensito.Warn("no_limit")),
		{Stops: 8},
		row(6, sensito.Warn("extrapolated/6", "marked"), sensito.Warn("other_paper", "grade 3 would serve at 8:15")),
		row(5.5, sensito.Warn("other_paper", "grade 3 would serve at 9:45")),
		row(5, sensito.Warn("other_paper", "grade 3 would serve at 9:45")),
	}}
	got := c.Warnings()
	var messages []string
	for _, w := range got {
		messages = append(messages, w.Message())
	}
	require.Equal(t, strings.Join([]string{
		"strip 4",
		"for 9, 8.5 stops: contrast still grows in proportion to time: these strips do not show where it ends; develop one for longer",
		"for 6 stops: within the tested times grade 3 would serve at 8:15",
		"for 5.5, 5 stops: within the tested times grade 3 would serve at 9:45",
	}, "\n"), strings.Join(messages, "\n"))
}
