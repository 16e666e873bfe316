package report

import (
	"errors"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/darkroom"
	"sensito/sensito/development"
	"sensito/sensito/logbook"
	"sensito/sensito/notebook"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

func logOf(t *testing.T) *Log {
	t.Helper()
	spec := demoTrial(t, "larkfield-brinewater").Spec()
	films, err := sensito.ParseFilms("6x 4x5in")
	require.NoError(t, err)
	spec.Done = []sensito.Done{
		{Date: "2026-03-12", Minutes: 6, Planned: 5.5, TemperatureC: 20.5, EndedC: 21.1, Index: 80, For: "a scene of 7 stops (N)", Films: films, Baths: []string{"stop", "fixer, second"}},
		{Date: "2026-04-02", Minutes: 5},
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	control, err := notebook.ReadControlFile(filepath.Join(demoFolder, "control.toml"))
	require.NoError(t, err)
	r := NewLog(logbook.New([]logbook.Entry{{File: "larkfield.toml", Trial: trial}, {File: "ashlar.toml", Trial: demoTrial(t, "larkfield-ashlar")}}, []logbook.Control{{File: "control.toml", Log: control}}))
	r.AddBroken("torn.toml", errors.New("torn.toml:2: a quote that closes the text is missing"))
	return r
}

func TestLogKeys(t *testing.T) {
	found := keys(t, "", written(t, logOf(t)), map[string][]string{})
	development := []string{"agitation", "area_cm2", "batch", "baths", "date", "developer", "dilution", "ended_c", "exposure_index", "file", "film", "films", "for",
		"meant_c", "minutes", "note", "planned_minutes", "strip", "temperature_c", "trial"}
	last := append([]string{"least_minutes", "most_minutes", "strips"}, development...)
	assert.Equal(t, []string{"broken", "control_logs", "developments", "last", "schema", "undated_strips"}, found[""])
	assert.Equal(t, development, found["developments[]"])
	assert.ElementsMatch(t, last, found["last[]"])
	assert.Equal(t, []string{"file", "first_date", "last_date", "log", "minutes", "strips"}, found["control_logs[]"])
	assert.Equal(t, []string{"fault", "file", "line", "more"}, found["broken[]"])
	made := logOf(t)
	bathed := slices.IndexFunc(made.log.Developments, func(d logbook.Development) bool { return d.Date == "2026-03-12" })
	assert.Equal(t, `["stop","fixer, second"]`, raw(t, made, "developments", bathed, "baths"))
	assert.Equal(t, "null", raw(t, made, "developments", 0, "baths"), "not stated")
	headings, rows := made.Table()
	assert.Equal(t, "stop; fixer, second", rows[bathed][slices.Index(headings, "baths")])
	trial := made.log.Developments[bathed].Trial
	assert.Equal(t, `["stop","fixer, second"]`, raw(t, NewDone(trial, "larkfield.toml", trial.Done()[0], 2), "baths"))
	empty := written(t, NewLog(logbook.New(nil, nil)))
	for _, list := range []string{"last", "developments", "control_logs", "broken"} {
		assert.Equal(t, []any{}, empty[list], list)
	}
}

func TestLogText(t *testing.T) {
	var b strings.Builder
	require.NoError(t, logOf(t).Text(&b, Layout{}))
	assert.True(t, strings.HasPrefix(b.String(), "Larkfield 125 in Brinewater 1+19: 2026-04-02, 5:00, 20 °C meant.\n"+
		"Larkfield 125 in Ashlar 1+9: 2026-03-16, 5 test strips, 4:00 to 12:00 at 20 °C.\n\n"+
		"Larkfield 125 in Brinewater 1+19, batch 0417\n\n"+
		"  date         time  planned  temperature\n"+
		"  2026-04-02   5:00        -  20 °C meant\n"+
		"  2026-03-12   6:00     5:30  20.5 to 21.1 °C  6x 4x5in; EI 80; for a scene of 7\n"+
		"                                               stops (N)\n"), b.String())
	assert.Contains(t, b.String(), "\n  control.toml: 28 strips, 2026-03-02 to 2026-06-04, developed 7:00; A tank of\n")
	assert.Contains(t, b.String(), "! left out, cannot be read: torn.toml:2: a quote that closes the text is missing\n")
	for line := range strings.Lines(b.String()) {
		assert.LessOrEqual(t, page.Width(strings.TrimSuffix(line, "\n")), page.TextWidth, line)
	}
	b.Reset()
	require.NoError(t, logOf(t).Text(&b, Layout{Width: 48, Bold: true}))
	assert.Contains(t, b.String(), "\x1b[1mLarkfield 125 in Brinewater 1+19: 2026-04-02,\n5:00, 20 °C meant.\x1b[0m\n")
	assert.Contains(t, b.String(), "\n  2026-03-12   6:00     5:30  20.5 to 21.1 °C\n      6x 4x5in; EI 80; for a scene of 7 stops\n      (N)\n")
	b.Reset()
	require.NoError(t, logOf(t).Text(&b, Layout{Width: 120}))
	assert.Contains(t, b.String(), "20.5 to 21.1 °C  6x 4x5in; EI 80; for a scene of 7 stops (N)\n")
	b.Reset()
	require.NoError(t, NewLog(logbook.New(nil, nil)).Text(&b, Layout{}))
	assert.Contains(t, b.String(), "No development is recorded.")
}

// The table has every number of the report, and names no column twice.
func TestLogTable(t *testing.T) {
	headings, rows := logOf(t).Table()
	require.Len(t, rows, 12)
	cell := map[string]string{}
	for i, h := range headings {
		assert.NotContains(t, cell, h)
		cell[h] = rows[6][i] // after a film and the five strips of another trial
	}
	assert.Equal(t, "2026-03-12", cell["date"])
	for h, want := range map[string]string{"minutes": "6", "planned_minutes": "5.5", "meant_c": "20", "temperature_c": "20.5", "ended_c": "21.1", "exposure_index": "80",
		"for": "a scene of 7 stops (N)", "films": "6x 4x5in", "strip": "", "film": "Larkfield 125", "developer": "Brinewater", "dilution": "1+19", "batch": "0417", "file": "larkfield.toml"} {
		assert.Equal(t, want, cell[h], h)
	}
}

// What was done the last time stands beside an answer and a sheet, for people and for
// programs, and changes neither.
func TestLastTimeBeside(t *testing.T) {
	spec := demoTrial(t, "larkfield-brinewater").Spec()
	before, err := scene.For(family(t, spec), scene.Scene{Stops: 7})
	require.NoError(t, err)
	spec.Done = []sensito.Done{{Date: "2026-03-12", Minutes: 11, TemperatureC: 23, EndedC: 22.5, Index: 40, For: "a scene of 5 stops (N+2)"}}
	after, err := scene.For(family(t, spec), scene.Scene{Stops: 7})
	require.NoError(t, err)
	assert.Equal(t, before.Minutes.Value, after.Minutes.Value)
	assert.Equal(t, before.Minutes.StdErr, after.Minutes.StdErr)
	const told = "Last time with this film and developer: 2026-03-12, 11:00 at 23 to 22.5 °C, EI\n40, for a scene of 5 stops (N+2).\n"
	r, err := NewScene(after, nil, DefaultConfidence)
	require.NoError(t, err)
	procedure, err := notebook.ReadProcedureFile(filepath.Join(demoFolder, "procedure.toml"))
	require.NoError(t, err)
	sheet, err := darkroom.NewSheet(darkroom.SheetSpec{Procedure: procedure}.ForAnswer(after))
	require.NoError(t, err)
	for _, r := range []Report{r, NewSheet(sheet, DefaultConfidence)} {
		var b strings.Builder
		require.NoError(t, r.Text(&b, Layout{}))
		assert.Contains(t, b.String(), told)
		last := written(t, r)["last_time"].(map[string]any)
		assert.Equal(t, []string{"agitation", "area_cm2", "baths", "date", "developer", "dilution", "ended_c", "exposure_index", "films", "for", "meant_c", "minutes", "note",
			"planned_minutes", "temperature_c"}, slices.Sorted(maps.Keys(last)))
		assert.Equal(t, 11.0, last["minutes"])
	}
	none, err := NewScene(before, nil, DefaultConfidence)
	require.NoError(t, err)
	assert.Nil(t, written(t, none)["last_time"])
}

func family(t *testing.T, spec sensito.TrialSpec) *development.Family {
	t.Helper()
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}
