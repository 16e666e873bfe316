package listing_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/listing"
)

// A log tells of a trial that is older than the change: a later one was developed in the
// process as it is.
func TestBeside(t *testing.T) {
	of := func(change func(*sensito.TrialSpec)) *development.Family {
		s, _ := surveyed(t, "larkfield-brinewater", change)
		f, err := development.NewFamily(s.Trial, curve.MeasureOptions{})
		require.NoError(t, err)
		return f
	}
	dated := func(date string) func(*sensito.TrialSpec) {
		return func(s *sensito.TrialSpec) { s.Strips[3].Date = date }
	}
	log := demoLog(t, nil).Log
	b := listing.NewBeside(of(nil), "control.toml", log, []error{errors.New("torn.toml:3: no number\nand more")})
	require.NotNil(t, b.Drift)
	assert.Equal(t, "2026-04-16", b.Drift.Since)
	assert.InDelta(t, 23, b.Drift.TimePercent.Value, 1)
	require.Len(t, b.Warnings, 1)
	assert.Equal(t, "log_unread: a control log beside the trial cannot be read: torn.toml:3: no number", b.Warnings[0].String())
	assert.NotNil(t, listing.NewBeside(of(dated("2026-04-15")), "control.toml", log, nil).Drift)
	assert.Nil(t, listing.NewBeside(of(dated("2026-04-16")), "control.toml", log, nil).Drift)
	assert.Nil(t, listing.NewBeside(of(nil), "", nil, nil).Drift)

	steady := demoLog(t, func(s *control.LogSpec) { s.Strips = s.Strips[:12] }).Log
	b = listing.NewBeside(of(dated("2026-04-16")), "control.toml", steady, nil)
	require.NotNil(t, b.Drift)
	assert.True(t, b.Drift.InControl)
	short := demoLog(t, func(s *control.LogSpec) { s.Strips, s.Aim, s.AimStrips = s.Strips[:3], nil, 0 }).Log
	assert.Nil(t, listing.NewBeside(of(nil), "control.toml", short, nil).Drift)
}
