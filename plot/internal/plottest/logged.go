package plottest

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/logbook"
)

// Logged returns a log of two films, one of them in three developers.
func Logged(t testing.TB) *logbook.Log {
	spec := Demo(t, "larkfield-brinewater").Spec()
	spec.Done = []sensito.Done{
		{Date: "2026-03-12", Minutes: 6, Planned: 5 + 55./60, TemperatureC: 20.5, EndedC: 21.1},
		{Date: "2026-04-02", Minutes: 4 + 50./60, Planned: 4 + 5./60},
		{Date: "2026-05-21", Minutes: 6.5, Planned: 6.5, PlannedC: 22.5, TemperatureC: 22.5, EndedC: 22},
		{Date: "2026-06-02", Minutes: 14, Dilution: "1+39"},
	}
	larkfield, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	spec = Demo(t, "tern-ashlar").Spec()
	spec.Done = []sensito.Done{{Date: "2026-04-20", Minutes: 9, EndedC: 20}}
	tern, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	return logbook.New([]logbook.Entry{{File: "larkfield.toml", Trial: larkfield}, {File: "ashlar.toml", Trial: Demo(t, "larkfield-ashlar")}, {File: "tern.toml", Trial: tern}}, nil)
}
