package development_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/notebook"
)

// A development in a thinner bath takes longer than any that was tested, and is not
// outside the tested times for that.
func TestLoggedInAnotherBath(t *testing.T) {
	trial, err := notebook.ReadFile("../../cmd/sensito/demo/larkfield-brinewater.toml") // 4:00 to 10:00 at 1+19
	require.NoError(t, err)
	spec := trial.Spec()
	spec.Done = []sensito.Done{
		{Date: "2026-03-01", Minutes: 12},
		{Date: "2026-03-02", Minutes: 12, Dilution: "1+39"},
		{Date: "2026-03-03", Minutes: 60, Dilution: "1+39"},
		{Date: "2026-03-04", Minutes: 12, Dilution: "stock"}, // how it compares nobody says
		{Date: "2026-03-05", Minutes: 10.5, TemperatureC: 19},
		{Date: "2026-03-06", Minutes: 3.5, TemperatureC: 24},
	}
	trial, err = sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	l := f.Logged()
	assert.Equal(t, 6, l.Count)
	var outside []string
	for _, d := range l.Outside {
		outside = append(outside, d.Date)
	}
	assert.Equal(t, []string{"2026-03-01", "2026-03-03"}, outside)
}
